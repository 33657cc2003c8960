import { cpSync, mkdirSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { dirname, join, relative } from "node:path";
import type { Mutant } from "./mutants.js";
import { type Numbered, withSwitches } from "./switches.js";

const parts = ["lib", "tests", "datasets", "docs", "package.json", "tsconfig.json", "vitest.config.ts"];

/** What the reading of logs keeps by text. */
const keptByText =
  /((?:const (?:beginnings|found|heard)|readonly #answers) = new )Map(?=<string, (?:WordM|Promise<Heard|Answer>))/g;

/**
 * A copy of the project in which the mutants sleep, what the library keeps by object is forgotten from mutant to
 * mutant, and test files register their tests with `vitestStandIn.ts`. The number of a mutant is its place in the list.
 */
export function copyWith(root: string, copy: string, mutants: readonly Mutant[], asleep = false): void {
  mkdirSync(copy, { recursive: true });
  for (const name of parts) {
    rmSync(join(copy, name), { recursive: true, force: true });
    cpSync(join(root, name), join(copy, name), { recursive: true });
  }
  rmSync(join(copy, "node_modules"), { recursive: true, force: true });
  symlinkSync(join(root, "node_modules"), join(copy, "node_modules"));
  const byFile = new Map<string, Numbered[]>();
  for (const [id, mutant] of mutants.entries())
    byFile.set(mutant.file, [...(byFile.get(mutant.file) ?? []), { id, mutant }]);
  for (const [file, numbered] of byFile)
    writeFileSync(join(copy, file), withSwitches(readFileSync(join(root, file), "utf8"), numbered, asleep));
  for (const name of sources(join(copy, "lib"))) {
    const text = readFileSync(name, "utf8");
    const fresh = text
      .replaceAll("= new WeakMap", "= new (globalThis as any).FreshMap")
      .replaceAll(keptByText, "$1(globalThis as any).FreshTextMap");
    if (fresh !== text) writeFileSync(name, fresh);
  }
  const standIn = join(copy, "tests/mutation/vitestStandIn.js");
  for (const name of sources(join(copy, "tests"))) {
    const text = readFileSync(name, "utf8");
    const path = relative(dirname(name), standIn);
    if (text.includes('from "vitest"'))
      writeFileSync(
        name,
        text.replaceAll('from "vitest"', `from "${path.startsWith(".") ? path : `./${path}`}"`),
      );
  }
}

function sources(folder: string): string[] {
  return readdirSync(folder, { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".ts"))
    .map((name) => join(folder, name));
}
