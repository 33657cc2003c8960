/**
 * Compares a stored file of reference values with one that has just been remade: `npx tsx
 * tests/published/compareStored.ts stored.json fresh.json [relative]`. Numbers may differ by the relative size given
 * (1e-6), other values not at all; exit status 1 with the first differences when they do. Versions of a reference
 * library differ in their last digits, not in their answers.
 */
import { readFileSync } from "node:fs";

const [stored, fresh, tolerance = "1e-6"] = process.argv.slice(2);
const limit = Number(tolerance);
const found: string[] = [];
let numbers = 0;

function compare(a: unknown, b: unknown, path: string): void {
  if (typeof a === "number" && typeof b === "number") {
    numbers += 1;
    const scale = Math.max(Math.abs(a), Math.abs(b));
    if (!(Math.abs(a - b) <= limit * scale + 1e-12)) found.push(`${path}: stored ${a}, remade ${b}`);
  } else if (Array.isArray(a) && Array.isArray(b)) {
    if (a.length !== b.length) found.push(`${path}: stored ${a.length} values, remade ${b.length}`);
    else for (const [i, value] of a.entries()) compare(value, b[i], `${path}[${i}]`);
  } else if (a !== null && b !== null && typeof a === "object" && typeof b === "object") {
    for (const key of new Set([...Object.keys(a), ...Object.keys(b)])) {
      if (/version|made|date/i.test(key)) continue;
      compare((a as Record<string, unknown>)[key], (b as Record<string, unknown>)[key], `${path}.${key}`);
    }
  } else if (a !== b) found.push(`${path}: stored ${JSON.stringify(a)}, remade ${JSON.stringify(b)}`);
}

compare(JSON.parse(readFileSync(stored, "utf8")), JSON.parse(readFileSync(fresh, "utf8")), "");
console.log(`${stored}: ${numbers} numbers remade, ${found.length} differ by more than ${limit}`);
for (const line of found.slice(0, 20)) console.log(`  ${line}`);
process.exitCode = found.length === 0 && numbers > 0 ? 0 : 1;
