/**
 * What is said of the shipped set when its logs are damaged in known ways, with its descriptor and without, and of one
 * order alone: `npx tsx tests/analysis/damageRun.ts [name of damage]... [--fit]`.
 */
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { run as diagnose } from "../../lib/cli/diagnose.js";
import { run as fit } from "../../lib/cli/fit.js";
import type { Diagnosis } from "../../lib/diagnosis/types.js";
import { capture } from "../house/capture.js";
import { damages, descriptor, shippedSet, written } from "./shippedDamages.js";

const asked = process.argv.slice(2).filter((word) => !word.startsWith("--"));
const withFit = process.argv.includes("--fit");
const home = mkdtempSync(join(tmpdir(), "shaftwise-damage-"));

/** Verdicts and how sure, an order a word. */
function verdictsOf({ recordings, orderings = [] }: Diagnosis): string {
  return recordings
    .map(({ ordering, trials }) => {
      const of = orderings.find((o) => o.ordering === ordering);
      const said = trials
        .filter(({ kind }) => kind !== "coast")
        .map(({ verdict, confidence }) => `${verdict}${Math.round(100 * confidence)}`);
      const usable = of === undefined ? "" : of.usable ? "+" : of.verdict === "undetermined" ? "?" : "-";
      return `${ordering ?? ""}${usable} ${said.join("/") || "no trial"}`;
    })
    .join(", ");
}

function attentionOf({ recordings, problems }: Diagnosis): string {
  const codes = recordings.flatMap(({ attention = [] }) => attention.map(({ code }) => code));
  const others = problems.filter(({ severity }) => severity === "error").map(({ code }) => `!${code}`);
  return [...new Set([...codes, ...others])].join(" ") || "nothing";
}

/** Constants of the first file for which there are any. */
async function constantsOf(paths: readonly string[]): Promise<string> {
  const { out } = await capture(fit, [...paths, "--json"]);
  const { recordings } = JSON.parse(out);
  const told: string[] = [];
  for (const { constants } of recordings)
    for (const part of ["electrical", "mechanical"])
      for (const [name, e] of Object.entries<{ value: number; low: number; high: number; unit: string }>(
        constants[part] ?? {},
      ))
        if (typeof e?.value === "number")
          told.push(
            `${name} ${[e.value, e.low, e.high].map((v) => Number(Number(v).toPrecision(3))).join("|")}`,
          );
  return told.join("; ");
}

for (const { name, change } of damages) {
  if (asked.length > 0 && !asked.some((word) => name.includes(word))) continue;
  const folder = mkdtempSync(join(home, "set-"));
  const set = shippedSet.map((log) => ({ ...log, rows: change(log.rows) }));
  const paths = set.map((log) => join(folder, log.file));
  for (const [k, log] of set.entries()) writeFileSync(paths[k], written(log));
  const alone = (file: string): string[] => paths.filter((path) => path.endsWith(file));
  const bare = mkdtempSync(join(home, "bare-"));
  for (const log of set) writeFileSync(join(bare, log.file), written(log));
  writeFileSync(join(folder, "datapackage.json"), JSON.stringify(descriptor));
  console.log(`\n# ${name}`);
  for (const [label, args] of [
    ["descriptor", [folder]],
    ["bare set", [bare]],
    ["UVW alone", [join(bare, "order-uvw.csv")]],
    ["VWU alone", [join(bare, "order-vwu.csv")]],
  ] as const) {
    const { status, out } = await capture(diagnose, [...args, "--json"]);
    const told = JSON.parse(out) as Diagnosis;
    console.log(`${label.padEnd(10)} ${status} | ${attentionOf(told)} | ${verdictsOf(told)}`);
    if (withFit && label !== "bare set")
      console.log(`           fit ${await constantsOf(label === "descriptor" ? alone("uvw.csv") : args)}`);
  }
}
rmSync(home, { recursive: true, force: true });
