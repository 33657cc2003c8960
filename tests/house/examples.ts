import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import ts from "typescript";

const root = join(import.meta.dirname, "../..");

/** One `@example` of a public function, with the line it stands on. */
export interface Example {
  readonly name: string;
  readonly file: string;
  readonly line: number;
  readonly code: string;
}

/** A public function (or class) with its comment. */
export interface Documented {
  readonly name: string;
  readonly file: string;
  readonly comment: string;
  /** Names of the parameters that take numbers, whether one or many. */
  readonly numeric: readonly string[];
  readonly examples: readonly Example[];
}

/** Names of the functions and classes on record as public, and those of `shaftwise/danfo`. */
export function publicFunctions(): Set<string> {
  const record = readFileSync(join(root, "docs/public-surface.txt"), "utf8");
  const names = [...record.matchAll(/^(?:function|class) (\w+)/gm)].map((match) => match[1]);
  return new Set([...names, "toFrame", "fromFrame"]);
}

/** The files from which the rooms' barrels, and `shaftwise/danfo`, export values. */
function exportingFiles(): Map<string, Set<string>> {
  const lib = join(root, "lib");
  const files = new Map([["danfo.ts", new Set(["toFrame", "fromFrame"])]]);
  for (const room of readdirSync(lib)) {
    const barrel = join(lib, room, "index.ts");
    if (!existsSync(barrel)) continue;
    const source = ts.createSourceFile(barrel, readFileSync(barrel, "utf8"), ts.ScriptTarget.ES2022, true);
    for (const statement of source.statements) {
      if (!ts.isExportDeclaration(statement) || statement.isTypeOnly) continue;
      const { exportClause, moduleSpecifier } = statement;
      if (!exportClause || !ts.isNamedExports(exportClause) || !moduleSpecifier) continue;
      const path = join(room, (moduleSpecifier as ts.StringLiteral).text.replace(/\.js$/, ".ts"));
      const names = exportClause.elements.filter((one) => !one.isTypeOnly).map((one) => one.name.text);
      files.set(path, new Set([...(files.get(path) ?? []), ...names]));
    }
  }
  return files;
}

/** Every public function of the library with its comment and examples, by name. */
export function documentedFunctions(): Map<string, Documented> {
  const found = new Map<string, Documented>();
  for (const [path, wanted] of exportingFiles()) {
    const text = readFileSync(join(root, "lib", path), "utf8");
    const source = ts.createSourceFile(path, text, ts.ScriptTarget.ES2022, true);
    for (const statement of source.statements) {
      if (!ts.isFunctionDeclaration(statement) && !ts.isClassDeclaration(statement)) continue;
      const name = statement.name?.text;
      if (name === undefined || !wanted.has(name)) continue;
      const comments = ts.getJSDocCommentsAndTags(statement).filter(ts.isJSDoc);
      const numbers = /^(readonly )?(number|Float64Array|ArrayLike<number>)/;
      const takesNumbers = (one: ts.ParameterDeclaration) => numbers.test(one.type?.getText() ?? "");
      found.set(name, {
        name,
        file: `lib/${path}`,
        comment: comments.map((one) => one.getText()).join("\n"),
        numeric: ts.isFunctionDeclaration(statement)
          ? statement.parameters.filter(takesNumbers).map((one) => one.name.getText())
          : [],
        examples: comments.flatMap((comment) => examplesIn(comment, name, `lib/${path}`, source)),
      });
    }
  }
  return found;
}

/** The text of each `@example` of a comment, without the stars. */
function examplesIn(comment: ts.JSDoc, name: string, file: string, source: ts.SourceFile): Example[] {
  const first = source.getLineAndCharacterOfPosition(comment.getStart()).line + 1;
  const lines = comment
    .getText()
    .replace(/\*\/$/, "")
    .split("\n")
    .map((line) => line.replace(/^\s*\/?\*+ ?/, ""));
  const starts = lines.flatMap((line, i) => (/^@\w/.test(line) ? [i] : [])).concat(lines.length);
  return starts.slice(0, -1).flatMap((start, i) => {
    if (!lines[start].startsWith("@example")) return [];
    const body = lines.slice(start + 1, starts[i + 1]);
    return [{ name, file, line: first + start + 1, code: body.join("\n").trimEnd() }];
  });
}

/** All examples as one TypeScript file of `tests/house`, each in a function of its own, and where each of its lines
 * comes from. */
export function examplesTogether(examples: readonly Example[]): { text: string; from: readonly string[] } {
  const scope = readFileSync(join(import.meta.dirname, "exampleScope.ts"), "utf8");
  const source = ts.createSourceFile("exampleScope.ts", scope, ts.ScriptTarget.ES2022, true);
  const members = source.statements.find(ts.isInterfaceDeclaration)?.members ?? [];
  const record = readFileSync(join(root, "docs/public-surface.txt"), "utf8");
  const names = [...record.matchAll(/^(?:function|class|const) (\w+)/gm)].map((match) => match[1]);
  const lines = [
    `import { ${names.join(", ")} } from "../../lib/index.js";`,
    'import { fromFrame, toFrame } from "../../lib/danfo.js";',
    'import type { ExampleScope } from "./exampleScope.js";',
    "declare const scope: ExampleScope;",
    `const { ${members.map((one) => one.name?.getText()).join(", ")} } = scope;`,
  ];
  const from: string[] = lines.map(() => "the lines above the examples");
  for (const { name, file, line, code } of examples) {
    lines.push("async () => {", ...code.split("\n"), "};");
    from.push(name, ...code.split("\n").map((_, i) => `${file}:${line + i} ${name}`), name);
  }
  return { text: lines.join("\n"), from };
}

/** An example made ready to run: each value that a comment `// => ...` states is handed to `see`. */
export interface Runnable {
  readonly code: string;
  readonly stated: readonly Stated[];
}

/** A value stated in an example. */
export interface Stated {
  /** The expression, or the name that was given the value. */
  readonly of: string;
  readonly value: unknown;
}

/** The value of an object or list of which the example shows only the beginning (`...`). */
export const andMore = Symbol("and more");

/** Number as it was written: its value and half a unit of its last digit. */
export class Written {
  constructor(
    readonly value: number,
    readonly within: number,
  ) {}
}

/** Hands the values stated in an example (`median([3, 1, 2]); // => 2`, on the same line or the next) to `see(index,
 * value)`. */
export function runnable(code: string): Runnable {
  const source = ts.createSourceFile("example.ts", code, ts.ScriptTarget.ES2022, true);
  const stated: Stated[] = [];
  let out = "";
  let at = 0;
  for (const statement of source.statements) {
    const comment = /^[ \t]*(?:\n[ \t]*)?\/\/ => (.*)/.exec(code.slice(statement.end));
    if (comment === null) continue;
    const index = stated.length;
    out += code.slice(at, statement.getStart());
    if (ts.isExpressionStatement(statement)) {
      const of = statement.expression.getText();
      stated.push({ of, value: statedValue(comment[1]) });
      out += `see(${index}, await (${of}));`;
    } else if (ts.isVariableStatement(statement)) {
      const of = statement.declarationList.declarations[0].name.getText();
      stated.push({ of, value: statedValue(comment[1]) });
      out += `${statement.getText()} see(${index}, ${of});`;
    } else throw new Error(`a value is stated beside what has none: ${statement.getText()}`);
    at = statement.end;
  }
  return { code: out + code.slice(at), stated };
}

/** The value written in a comment; words may follow it after a comma or in round brackets. */
export function statedValue(text: string): unknown {
  const source = ts.createSourceFile("value.ts", `x = ${text}`, ts.ScriptTarget.ES2022, true);
  const [statement] = source.statements;
  if (!ts.isExpressionStatement(statement)) throw new Error(`not a value: ${text}`);
  let node: ts.Expression = statement.expression;
  while (ts.isBinaryExpression(node) && node.operatorToken.kind === ts.SyntaxKind.CommaToken)
    node = node.left;
  if (!ts.isBinaryExpression(node)) throw new Error(`not a value: ${text}`);
  return literal(node.right);
}

function literal(node: ts.Expression): unknown {
  if (ts.isCallExpression(node)) return literal(node.expression);
  if (ts.isNumericLiteral(node)) {
    const [, decimals = "", exponent = "0"] = /^\d*\.?(\d*)(?:e([+-]?\d+))?$/i.exec(node.getText()) ?? [];
    const whole = !/[.e]/i.test(node.getText());
    return new Written(Number(node.text), whole ? 0 : 0.5 * 10 ** (Number(exponent) - decimals.length));
  }
  if (ts.isStringLiteral(node)) return node.text;
  if (ts.isPrefixUnaryExpression(node)) {
    const of = literal(node.operand);
    if (!(of instanceof Written)) return Number.NEGATIVE_INFINITY;
    return new Written(node.operator === ts.SyntaxKind.MinusToken ? -of.value : of.value, of.within);
  }
  if (ts.isArrayLiteralExpression(node)) {
    return node.elements.map((one) => (ts.isSpreadElement(one) ? andMore : literal(one)));
  }
  if (ts.isObjectLiteralExpression(node)) {
    return Object.fromEntries(
      node.properties
        .filter(ts.isPropertyAssignment)
        .map((one) => [one.name.getText(), literal(one.initializer)]),
    );
  }
  const words: Record<string, unknown> = {
    true: true,
    false: false,
    null: null,
    undefined: undefined,
    NaN: Number.NaN,
    Infinity: Number.POSITIVE_INFINITY,
  };
  if (node.getText() in words) return words[node.getText()];
  throw new Error(`not a value: ${node.getText()}`);
}

/** What differs between a stated value and the one that came, or undefined. Objects are compared by the members
 * stated. */
export function difference(stated: unknown, came: unknown, path = "value"): string | undefined {
  if (stated instanceof Written) {
    const fits = typeof came === "number" && Math.abs(came - stated.value) <= stated.within * (1 + 1e-9);
    return fits ? undefined : `${path}: ${stated.value} is stated, ${String(came)} came`;
  }
  if (Array.isArray(stated)) {
    if (!Array.isArray(came) && !ArrayBuffer.isView(came))
      return `${path}: a list is stated, ${String(came)} came`;
    const list = came as ArrayLike<unknown>;
    const open = stated.at(-1) === andMore;
    const shown = open ? stated.slice(0, -1) : stated;
    if (open ? list.length < shown.length : list.length !== shown.length)
      return `${path}: ${shown.length} members are stated, ${list.length} came`;
    return shown.map((one, i) => difference(one, list[i], `${path}[${i}]`)).find((one) => one !== undefined);
  }
  if (typeof stated === "object" && stated !== null) {
    if (typeof came !== "object" || came === null)
      return `${path}: an object is stated, ${String(came)} came`;
    return Object.entries(stated)
      .map(([key, one]) => difference(one, (came as Record<string, unknown>)[key], `${path}.${key}`))
      .find((one) => one !== undefined);
  }
  return Object.is(stated, came) ? undefined : `${path}: ${String(stated)} is stated, ${String(came)} came`;
}
