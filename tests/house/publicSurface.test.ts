import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import ts from "typescript";
import { expect, test } from "vitest";

const root = join(import.meta.dirname, "../..");
const record = join(root, "docs/public-surface.txt");

/** Every exported name with its kind and, for functions and constants, its type, one a line. */
function surface(): string {
  const file = join(root, "lib/index.ts");
  const program = ts.createProgram([file], {
    module: ts.ModuleKind.NodeNext,
    moduleResolution: ts.ModuleResolutionKind.NodeNext,
    target: ts.ScriptTarget.ES2022,
    strict: true,
    skipLibCheck: true,
    types: ["node"],
  });
  const checker = program.getTypeChecker();
  const source = program.getSourceFile(file);
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
