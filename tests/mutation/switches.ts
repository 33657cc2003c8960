import { transformSync } from "esbuild";
import ts from "typescript";
import { applied, type Mutant, operatorSwaps } from "./mutants.js";

/** A mutant under the number by which it is switched on. */
export interface Numbered {
  readonly id: number;
  readonly mutant: Mutant;
}

const compared = new Set(["boundary", "condition", "sign"]);

/** Whether the sleeping code tells if the value of the slip ever differed from that of the original. */
export const isCompared = ({ kind, before }: Pick<Mutant, "kind" | "before">): boolean =>
  compared.has(kind) || (kind === "arithmetic" && before.length === 1);

const keyOf = (kind: string, from: number, to: number, after: string): string =>
  `${kind} ${from} ${to} ${after}`;

/**
 * A source text in which every mutant sleeps: `globalThis.mutantOn(id)` decides at run time whether the code is the
 * original or the slip, so that one process tries many mutants. Where it can be told without running anything twice,
 * `globalThis.mutantShows(id, original, slip)` is told both values while the mutant sleeps, and gives the first. With
 * `asleep` none can be switched on, and every mutant of a source can be watched at once.
 */
export function withSwitches(text: string, mutants: readonly Numbered[], asleep = false): string {
  const source = ts.createSourceFile("source.ts", text, ts.ScriptTarget.ES2022, true);
  const ids = new Map(
    mutants.map(({ id, mutant: m }) => [keyOf(m.kind, m.from, m.to, m.after), id] as const),
  );
  const calls = new Map(
    mutants.flatMap((one) => (one.mutant.kind === "call" ? [[one.mutant.from, one] as const] : [])),
  );
  const { factory } = ts;
  const on = (id: number): ts.Expression =>
    factory.createCallChain(
      factory.createPropertyAccessExpression(factory.createIdentifier("globalThis"), "mutantOn"),
      factory.createToken(ts.SyntaxKind.QuestionDotToken),
      undefined,
      [factory.createNumericLiteral(id)],
    );
  const either = (id: number, slip: ts.Expression, sound: ts.Expression): ts.Expression => {
    const own = factory.createParenthesizedExpression(sound);
    return factory.createParenthesizedExpression(
      asleep
        ? factory.createComma(on(id), own)
        : factory.createConditionalExpression(
            on(id),
            undefined,
            factory.createParenthesizedExpression(slip),
            undefined,
            own,
          ),
    );
  };
  const shows = (id: number, sound: ts.Expression, slip: ts.Expression): ts.Expression =>
    factory.createCallExpression(
      factory.createPropertyAccessExpression(factory.createIdentifier("globalThis"), "mutantShows"),
      undefined,
      [factory.createNumericLiteral(id), sound, slip],
    );
  /** An expression of operands that are worked out once: `((a, b) => of(a, b))(x, y)`. */
  const once = (
    operands: readonly ts.Expression[],
    of: (names: readonly ts.Identifier[]) => ts.Expression,
  ): ts.Expression => {
    const names = operands.map((_, k) => factory.createIdentifier(`operand${k}`));
    const given = names.map((name) => factory.createParameterDeclaration(undefined, undefined, name));
    const arrow = factory.createArrowFunction(undefined, undefined, given, undefined, undefined, of(names));
    return factory.createCallExpression(factory.createParenthesizedExpression(arrow), undefined, operands);
  };
  const idOf = (node: ts.Node, kind: string, after: string): number | undefined =>
    ids.get(keyOf(kind, node.getStart(source), node.getEnd(), after));
  const fixed = (node: ts.Node, sound: ts.Expression): ts.Expression => {
    const [yes, no] = [idOf(node, "condition", "true"), idOf(node, "condition", "false")];
    const fix = (id: number | undefined, to: ts.Expression, value: ts.Expression): ts.Expression =>
      id === undefined ? value : either(id, to, shows(id, value, to));
    return fix(no, factory.createFalse(), fix(yes, factory.createTrue(), sound));
  };
  const conditions = new Set<ts.Node>();
  const switched = (node: ts.Node, made: ts.Node): ts.Node => {
    if (ts.isBinaryExpression(node) && ts.isBinaryExpression(made)) {
      const swap = operatorSwaps.get(node.operatorToken.kind);
      const id = swap && idOf(node.operatorToken, swap[0], swap[1]);
      if (swap === undefined || id === undefined) return made;
      const kind = [...operatorSwaps.keys()].find((one) => ts.tokenToString(one) === swap[1]);
      const joined = (of: readonly ts.Expression[], operator: ts.BinaryOperator): ts.Expression =>
        factory.createBinaryExpression(of[0], operator, of[1]);
      const sides = [made.left, made.right];
      const [own, other] = [made.operatorToken.kind, kind as ts.BinaryOperator];
      const sound = isCompared({ kind: swap[0], before: node.operatorToken.getText(source) })
        ? once(sides, (names) => shows(id, joined(names, own), joined(names, other)))
        : made;
      return either(id, joined(sides, other), sound);
    }
    if (node.kind === ts.SyntaxKind.TrueKeyword || node.kind === ts.SyntaxKind.FalseKeyword) {
      const turned = node.kind === ts.SyntaxKind.TrueKeyword ? "false" : "true";
      const id = idOf(node, "truth", turned);
      const slip = turned === "true" ? factory.createTrue() : factory.createFalse();
      return id === undefined ? made : either(id, slip, made as ts.Expression);
    }
    if (ts.isPrefixUnaryExpression(node) && ts.isPrefixUnaryExpression(made)) {
      const kind = node.operator === ts.SyntaxKind.MinusToken ? "sign" : "truth";
      const id = idOf(node, kind, node.operand.getText(source));
      if (id === undefined) return made;
      const minus = (of: ts.Expression): ts.Expression =>
        factory.createPrefixUnaryExpression(ts.SyntaxKind.MinusToken, of);
      const sound = kind === "sign" ? once([made.operand], ([x]) => shows(id, minus(x), x)) : made;
      return either(id, made.operand, sound);
    }
    return switchedCall(node, made);
  };
  const switchedCall = (node: ts.Node, made: ts.Node): ts.Node => {
    if (ts.isExpressionStatement(node)) {
      const id = idOf(node, "statement", ";");
      return id === undefined
        ? made
        : factory.createBlock([
            factory.createIfStatement(factory.createLogicalNot(on(id)), made as ts.Statement),
          ]);
    }
    if (!ts.isPropertyAccessExpression(node) || !ts.isPropertyAccessExpression(made)) return made;
    const mutant = calls.get(node.name.getStart(source));
    if (!mutant) return made;
    const name = factory.createConditionalExpression(
      on(mutant.id),
      undefined,
      factory.createStringLiteral(mutant.mutant.after),
      undefined,
      factory.createStringLiteral(mutant.mutant.before),
    );
    return node.flags & ts.NodeFlags.OptionalChain
      ? factory.createElementAccessChain(made.expression, node.questionDotToken, name)
      : factory.createElementAccessExpression(made.expression, name);
  };
  const { transformed } = ts.transform(source, [
    (context) => {
      const visit = (node: ts.Node): ts.Node => {
        if (ts.isTypeNode(node) || ts.isImportDeclaration(node) || ts.isInterfaceDeclaration(node))
          return node;
        if (ts.isIfStatement(node)) conditions.add(node.expression);
        if (ts.isConditionalExpression(node)) conditions.add(node.condition);
        const made = switched(node, ts.visitEachChild(node, visit, context));
        return conditions.has(node) ? fixed(node, made as ts.Expression) : made;
      };
      return (file) => ts.visitEachChild(file, visit, context);
    },
  ]);
  return ts.createPrinter().printFile(transformed[0]);
}

const compiled = (text: string): string => transformSync(text, { loader: "ts", minify: true }).code;

/** Whether the compiled code is the same with the mutant in it, so that nothing could notice it. */
export function changesNothing(text: string, mutant: Mutant, original = compiled(text)): boolean {
  try {
    return compiled(applied(text, mutant)) === original;
  } catch {
    return true;
  }
}
