import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import ts from "typescript";
import { expect, test } from "vitest";
import { documentedFunctions, examplesTogether } from "./examples.js";

const root = join(import.meta.dirname, "../..");
const record = join(root, "docs/public-surface.txt");

const face = join(root, "lib/index.ts");
const togetherFile = join(root, "tests/house/examplesTogether.ts");
const examples = [...documentedFunctions().values()].flatMap((one) => one.examples);
const together = examplesTogether(examples);

/** The public face and all examples, as one program. */
function publicProgram(): ts.Program {
  const options: ts.CompilerOptions = {
    module: ts.ModuleKind.NodeNext,
    moduleResolution: ts.ModuleResolutionKind.NodeNext,
    target: ts.ScriptTarget.ES2022,
    lib: ["lib.es2023.d.ts"],
    strict: true,
    skipLibCheck: true,
    types: ["node"],
    noEmit: true,
  };
  const host = ts.createCompilerHost(options);
  const { getSourceFile, fileExists } = host;
  host.fileExists = (name) => name === togetherFile || fileExists(name);
  host.getSourceFile = (name, ...rest) =>
    name === togetherFile
      ? ts.createSourceFile(name, together.text, ts.ScriptTarget.ES2022)
      : getSourceFile(name, ...rest);
  return ts.createProgram([face, togetherFile], options, host);
}
const program = publicProgram();

/** Every exported name with its kind and, for functions and constants, its type, one a line. */
function surface(): string {
  const checker = program.getTypeChecker();
  const source = program.getSourceFile(face);
  const module = source && checker.getSymbolAtLocation(source);
  if (!module) return "";
  const lines = checker.getExportsOfModule(module).map((symbol) => {
    const target = symbol.flags & ts.SymbolFlags.Alias ? checker.getAliasedSymbol(symbol) : symbol;
    if (target.flags & (ts.SymbolFlags.Interface | ts.SymbolFlags.TypeAlias)) {
      const members = checker
        .getPropertiesOfType(checker.getDeclaredTypeOfSymbol(target))
        .map((member) => (member.flags & ts.SymbolFlags.Optional ? `${member.name}?` : member.name))
        .filter((name) => !name.startsWith("__@"));
      const union = target.flags & ts.SymbolFlags.TypeAlias ? " = " : " ";
      const listed = target.flags & ts.SymbolFlags.Interface ? `{ ${members.sort().join(", ")} }` : "type";
      return `type ${symbol.name}${union}${listed}`;
    }
    const kind =
      target.flags & ts.SymbolFlags.Function
        ? "function"
        : target.flags & ts.SymbolFlags.Class
          ? "class"
          : "const";
    const type =
      source &&
      checker.typeToString(
        checker.getTypeOfSymbolAtLocation(target, source),
        undefined,
        ts.TypeFormatFlags.NoTruncation,
      );
    return `${kind} ${symbol.name}: ${kind === "class" ? "class" : type}`;
  });
  return `${lines.sort().join("\n")}\n`;
}

test("the public surface is the recorded one (UPDATE_SURFACE=1 records a wanted change; semver decides the version)", () => {
  const now = surface();
  expect(now.split("\n").length).toBeGreaterThan(10);
  if (process.env.UPDATE_SURFACE) writeFileSync(record, now);
  expect(now).toBe(readFileSync(record, "utf8"));
});

test("every example of a public function compiles", () => {
  expect(examples.length).toBeGreaterThan(150);
  const source = program.getSourceFile(togetherFile);
  const found = [...program.getSyntacticDiagnostics(source), ...program.getSemanticDiagnostics(source)];
  const faults = found.map((fault) => {
    const line = source?.getLineAndCharacterOfPosition(fault.start ?? 0).line ?? 0;
    return `${together.from[line]}: ${ts.flattenDiagnosticMessageText(fault.messageText, "\n")}`;
  });
  expect(faults).toEqual([]);
});
