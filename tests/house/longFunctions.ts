/** Prints the functions of `lib` that are longer than so many lines (100), the longest first: `tsx
 * tests/house/longFunctions.ts [lines]`. */
import { readdirSync, readFileSync } from "node:fs";
import { join, relative } from "node:path";
import ts from "typescript";

const lib = join(import.meta.dirname, "../../lib");
const most = Number(process.argv[2] ?? 100);

interface Long {
  readonly lines: number;
  readonly where: string;
}

function nameOf(node: ts.Node): string {
  if ((ts.isFunctionDeclaration(node) || ts.isMethodDeclaration(node)) && node.name)
    return node.name.getText();
  const { parent } = node;
  return ts.isVariableDeclaration(parent) || ts.isPropertyAssignment(parent)
    ? parent.name.getText()
    : "(unnamed)";
}

function longIn(file: string): Long[] {
  const source = ts.createSourceFile(file, readFileSync(file, "utf8"), ts.ScriptTarget.ES2022, true);
  const found: Long[] = [];
  const visit = (node: ts.Node): void => {
    if (ts.isFunctionLike(node) && "body" in node && node.body) {
      const [from, to] = [node.getStart(), node.getEnd()].map(
        (at) => source.getLineAndCharacterOfPosition(at).line,
      );
      if (to - from + 1 > most)
        found.push({ lines: to - from + 1, where: `${relative(lib, file)}:${from + 1} ${nameOf(node)}` });
    }
    ts.forEachChild(node, visit);
  };
  visit(source);
  return found;
}

const files = readdirSync(lib, { recursive: true, encoding: "utf8" }).filter((name) => name.endsWith(".ts"));
const all = files.flatMap((name) => longIn(join(lib, name))).sort((a, b) => b.lines - a.lines);
for (const { lines, where } of all) console.log(`${String(lines).padStart(4)}  ${where}`);
console.log(`${all.length} functions of more than ${most} lines`);
