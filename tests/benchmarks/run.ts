/**
 * All benchmarks, one after another, into `docs/benchmarks.md`: `npm run bench` (about half an hour on two cores), or
 * `npm run bench -- startUp simulator` for some, whose rows are then replaced. Needs python3 with SciPy and pandas (Debian's
 * python3-scipy and python3-pandas) for the comparisons with them.
 */

import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { cpus, loadavg, totalmem } from "node:os";
import { resolve } from "node:path";
import { reflowMarkdown } from "../house/reflow.js";
import type { Measurement } from "./table.js";

const benchmarks: Readonly<Record<string, () => Promise<Measurement[]>>> = {
  startUp: async () => (await import("./startUp.js")).startUp(),
  simulator: async () => (await import("./simulator.js")).simulatorSpeed(),
  pictures: async () => (await import("./pictures.js")).pictureTimes(),
  readCsv: async () => (await import("./readCsv.js")).readCsv(),
  csvToVerdict: async () => (await import("./csvToVerdict.js")).csvToVerdict(),
  largeFile: async () => (await import("./largeFile.js")).largeFile(),
  longLog: async () => (await import("./longLog.js")).longLog(),
  fitSpeed: async () => (await import("./fitSpeed.js")).fitSpeed(2000),
};

const page = resolve(import.meta.dirname, "../../docs/benchmarks.md");
const store = resolve(import.meta.dirname, "../../docs/benchmarks.json");

interface Stored {
  readonly machine: string;
  readonly measured: string;
  readonly load: string;
  readonly results: readonly Measurement[];
}

const chosen = process.argv.slice(2);
for (const name of chosen)
  if (benchmarks[name] === undefined)
    throw new Error(`there is no benchmark "${name}"; there are ${Object.keys(benchmarks).join(", ")}`);

const all: Record<string, Stored> = existsSync(store) ? JSON.parse(readFileSync(store, "utf8")) : {};
for (const name of chosen.length > 0 ? chosen : Object.keys(benchmarks)) {
  const before = loadavg()[0];
  const results = await benchmarks[name]();
  all[name] = {
    machine: `${cpus().length} x ${cpus()[0].model.trim()}, ${Math.round(totalmem() / 2 ** 30)} GiB, Node.js ${process.versions.node}`,
    measured: new Date().toISOString().slice(0, 10),
    load: `${before.toFixed(1)} before`,
    results,
  };
  for (const m of results) console.log(`${m.what}: ${m.value.toPrecision(3)} ${m.unit} (${m.detail ?? ""})`);
  writeFileSync(store, `${JSON.stringify(all, null, 2)}\n`);
}

const lines = [
  "# Benchmarks",
  "",
  "Ratios within one run on one machine, medians of repeated rounds; `npm run bench` measures again and rewrites this page. No test",
  "depends on a time. A target that is missed says so.",
  "",
];
for (const [name, { machine, measured, load, results }] of Object.entries(all)) {
  lines.push(`## ${name}`, "", `\`tests/benchmarks/${name}.ts\`, ${measured}, ${machine}, load ${load}.`, "");
  lines.push("| what | result | behind it | target |", "|---|---|---|---|");
  for (const { what, value, unit, detail, target } of results)
    lines.push(
      `| ${what} | ${value.toPrecision(3)} ${unit} | ${detail ?? ""} | ${targetText(value, target)} |`,
    );
  lines.push("");
}
// What was tried is written by hand and stays.
const [, notes] = (existsSync(page) ? readFileSync(page, "utf8") : "").split("\n## What was tried\n");
if (notes !== undefined) lines.push("## What was tried", notes.trimEnd(), "");
writeFileSync(page, reflowMarkdown(lines.join("\n")));
process.exit(0);

function targetText(value: number, target: string | undefined): string {
  if (target === undefined) return "";
  const limit = Number(/[\d.]+$/.exec(target)?.[0]);
  const met = target.startsWith("at most") ? value <= limit : value >= limit;
  return `${target}: ${met ? "met" : "**missed**"}`;
}
