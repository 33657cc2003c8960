/**
 * Writes dist/report/vocabulary.json: every word that our own texts can hold, taken from the string literals of lib. A redacted report lets
 * through these words and numbers, and nothing else. Run by `npm run build`.
 */
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import ts from "typescript";

const root = join(import.meta.dirname, "..");
/** What holds words of other people's logs, not of our texts. */
const foreign = /recording[\\/]columns[\\/]|demo|simulation[\\/]fleet/;
const words = new Set();

function take(node) {
  const text =
    ts.isStringLiteralLike(node) || ts.isTemplateHead(node) || ts.isTemplateMiddleOrTemplateTail(node)
      ? node.text
      : "";
  for (const [word] of text.matchAll(/\p{L}[\p{L}\p{M}]*/gu)) words.add(word.toLowerCase());
  ts.forEachChild(node, take);
}

for (const name of readdirSync(join(root, "lib"), { recursive: true })) {
  if (!name.endsWith(".ts") || name.endsWith(".d.ts") || foreign.test(name)) continue;
  const file = ts.createSourceFile(name, readFileSync(join(root, "lib", name), "utf8"), ts.ScriptTarget.ES2022);
  for (const statement of file.statements) if (!ts.isImportDeclaration(statement)) take(statement);
}
mkdirSync(join(root, "dist/report"), { recursive: true });
writeFileSync(join(root, "dist/report/vocabulary.json"), JSON.stringify([...words].sort()));
