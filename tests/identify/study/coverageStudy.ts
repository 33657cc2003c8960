/**
 * How often the 95 % intervals of `estimateConstants` and `identifyGains` hold the truth, each constant by itself, over
 * synthetic recordings of fresh seeds:
 *
 *     npx tsx tests/identify/study/coverageStudy.ts <source> <first seed> <count> [names of constants whose misses are listed] [--out=<file>]
 *     npx tsx tests/identify/study/coverageStudy.ts merge <files written by --out>
 *
 * Sources: `synthetic` (sound benches of `randomBench`), `second` (a bench that shares no code with it), `dc` (DC
 * motors on a voltage), `joint` (robot joints), `rig` (motors of the judging bench). Prints a Markdown table.
 */
import { readFileSync, writeFileSync } from "node:fs";
import type { Estimate } from "../../../lib/units/estimate.js";
import { type Case, reportedOf, sources, trueValue } from "./cases.js";

/** What was seen of one constant. */
interface Tally {
  held: number;
  limits: number;
  readonly half: number[];
  /** (value - truth) over the half width. */
  readonly bias: number[];
  asked: number;
}

/** Wilson's interval of a fraction (Wilson, 1927), in percent. */
export function wilson(held: number, count: number): readonly [number, number] {
  const z = 1.959964;
  const p = held / count;
  const middle = (p + (z * z) / (2 * count)) / (1 + (z * z) / count);
  const half = (z / (1 + (z * z) / count)) * Math.sqrt((p * (1 - p)) / count + (z * z) / (4 * count * count));
  return [100 * (middle - half), 100 * Math.min(1, middle + half)];
}

const median = (values: readonly number[]): number =>
  values.length === 0 ? Number.NaN : [...values].sort((a, b) => a - b)[values.length >> 1];

/** What no constant may be. */
const broken: string[] = [];
/** Constants that may be below zero: an angle, and friction of one sense of rotation that a load may outweigh. */
const signed = /^offsetError$|^torqueGain$|Positive$|Negative$/;

/** An end of an interval in the wrong order, or below zero for what cannot be, or a limit with a value. */
function isBroken(name: string, { value, low, high, limit }: Estimate): boolean {
  const ordered = low <= value && value <= high && Number.isFinite(high);
  return !ordered || (limit !== undefined && value !== 0) || (!signed.test(name) && low < 0);
}

/** Runs a source over seeds. */
export function study(
  source: string,
  first: number,
  count: number,
  onMiss: (name: string, seed: number, words: string) => void = () => {},
): Map<string, Tally> {
  const make = sources[source];
  if (make === undefined) throw new Error(`no source ${source}: ${Object.keys(sources).join(", ")}`);
  const tallies = new Map<string, Tally>();
  for (let seed = first; seed < first + count; seed++) {
    const one: Case = make(seed);
    const reported = reportedOf(one);
    for (const name of Object.keys(one.truth)) {
      const tally = tallies.get(name) ?? { held: 0, limits: 0, half: [], bias: [], asked: 0 };
      tallies.set(name, tally);
      tally.asked++;
      const e = reported[name];
      const truth = e && trueValue(one, name, e);
      if (e === undefined || truth === undefined) continue;
      if (isBroken(name, e)) broken.push(`${name} of seed ${seed}: ${e.value} (${e.low} to ${e.high})`);
      const half = (e.high - e.low) / 2;
      const inside = e.low <= truth && truth <= e.high;
      if (inside) tally.held++;
      if (e.limit !== undefined) tally.limits++;
      tally.half.push(half / Math.abs(truth));
      if (e.limit === undefined) tally.bias.push((e.value - truth) / half);
      if (!inside)
        onMiss(
          name,
          seed,
          `truth ${truth.toPrecision(4)}, ${e.value.toPrecision(4)} (${e.low.toPrecision(4)} to ${e.high.toPrecision(4)}) ${e.method}`,
        );
    }
  }
  return tallies;
}

/** The table of a source, one row a constant that was ever reported. */
export function tableOf(tallies: ReadonlyMap<string, Tally>): string {
  const lines = [
    "| constant | reported | withheld | upper limit only | coverage | Wilson's interval | median half width | bias in half widths |",
    "|---|---|---|---|---|---|---|---|",
  ];
  for (const [name, t] of [...tallies].sort(([a], [b]) => a.localeCompare(b))) {
    const n = t.half.length;
    if (n === 0) continue;
    const [low, high] = wilson(t.held, n);
    const mean = t.bias.reduce((s, v) => s + Math.max(-3, Math.min(3, v)), 0) / Math.max(1, t.bias.length);
    lines.push(
      `| ${name} | ${n} | ${(100 * (1 - n / t.asked)).toFixed(0)} % | ${t.limits} | ${((100 * t.held) / n).toFixed(1)} % | ${low.toFixed(1)} to ${high.toFixed(1)} % | ${(100 * median(t.half)).toPrecision(2)} % | ${mean.toFixed(2)} |`,
    );
  }
  return lines.join("\n");
}

/** Parts of one study as one. */
function merged(parts: readonly ReadonlyMap<string, Tally>[]): Map<string, Tally> {
  const all = new Map<string, Tally>();
  for (const part of parts)
    for (const [name, t] of part) {
      const sum = all.get(name) ?? { held: 0, limits: 0, half: [], bias: [], asked: 0 };
      sum.held += t.held;
      sum.limits += t.limits;
      sum.asked += t.asked;
      sum.half.push(...t.half);
      sum.bias.push(...t.bias);
      all.set(name, sum);
    }
  return all;
}

if (process.argv[1]?.endsWith("coverageStudy.ts") && process.argv[2] === "merge") {
  const parts = process.argv
    .slice(3)
    .map((file) => new Map(JSON.parse(readFileSync(file, "utf8")) as [string, Tally][]));
  console.log(tableOf(merged(parts)));
} else if (process.argv[1]?.endsWith("coverageStudy.ts")) {
  const [, , source = "synthetic", first = "30000001", count = "300", ...shown] = process.argv;
  const began = performance.now();
  const wanted = new Set(shown.flatMap((s) => s.split(",")));
  const tallies = study(source, Number(first), Number(count), (name, seed, words) => {
    if (wanted.has(name) || wanted.has("all")) console.error(`${name} ${seed}: ${words}`);
  });
  const seconds = ((performance.now() - began) / 1000).toFixed(0);
  const out = shown.find((s) => s.startsWith("--out="))?.slice(6);
  if (out !== undefined) writeFileSync(out, JSON.stringify([...tallies]));
  console.log(
    `\n### ${source}: ${count} recordings, seeds ${first} on (${seconds} s)\n\n${tableOf(tallies)}\n\nBeyond a physical bound: ${broken.length === 0 ? "none" : broken.join("; ")}`,
  );
}
