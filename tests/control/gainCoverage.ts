/**
 * Calibration of `identifyGains` on synthetic benches: how often the true gains lie within their intervals (95 %
 * claimed), and how much of each speed trial the model explains. Run by hand: `npx tsx tests/loop/gainCoverage.ts FIRST
 * LAST [--rows]`. Results and the seeds they are for: docs/loops.md.
 */

import { compareStep, identifyGains, loopFromRun } from "../../lib/control/index.js";
import { cutTrials, recordingFromTrace } from "../../lib/recording/index.js";
import { runOf } from "../../lib/run/run.js";
import { randomBench, simulate } from "../../lib/simulation/index.js";

const [first, last] = [Number(process.argv[2] ?? 1), Number(process.argv[3] ?? 30)];
const rows = process.argv.includes("--rows");
const constants = !process.argv.includes("--no-comparison");
let [tried, seen, kpInside, kiInside] = [0, 0, 0, 0];
const widths: [number[], number[]] = [[], []];
const indices: number[] = [];
for (let seed = first; seed <= last; seed++) {
  const made = randomBench(seed, { fault: "none" });
  const trace = simulate(made.bench, [...made.torqueProgram, ...made.speedProgram], {
    logRate: made.logRate,
    currentNoise: made.currentNoise,
    startAngle: made.startAngle,
    seed,
  });
  const recording = recordingFromTrace(trace, made.bench);
  const { trials } = cutTrials(recording);
  const trial = trials.find((t) => t.kind === "speed");
  if (!trial) continue;
  const { kp, ki, missing, explained, lag, rows: used } = identifyGains(runOf(recording), trial);
  const truth = made.bench.drive.speedLoop;
  tried++;
  let index: number | undefined;
  if (constants) {
    const put = loopFromRun(runOf(recording, trials));
    if (put.loop) index = compareStep(runOf(recording), trial, put.loop).fitIndex;
    if (index !== undefined) indices.push(index);
  }
  if (kp && ki) {
    seen++;
    const inside = [kp, ki].map(
      (e, j) => e.low <= [truth.kp, truth.ki][j] && [truth.kp, truth.ki][j] <= e.high,
    );
    if (inside[0]) kpInside++;
    if (inside[1]) kiInside++;
    widths[0].push((kp.high - kp.low) / 2 / truth.kp);
    widths[1].push((ki.high - ki.low) / 2 / truth.ki);
    if (rows || !inside[0] || !inside[1])
      console.log(
        seed,
        `kp ${(kp.value / truth.kp).toFixed(4)} ±${(100 * widths[0].at(-1)!).toFixed(1)}% ${inside[0] ? "in" : "OUT"}`,
        `ki ${(ki.value / truth.ki).toFixed(4)} ±${(100 * widths[1].at(-1)!).toFixed(1)}% ${inside[1] ? "in" : "OUT"}`,
        `explained ${explained?.toFixed(3)} lag ${lag} rows ${used} log ${made.logRate.toFixed(0)} Hz loop ${(1 / (made.bench.drive.samplePeriod * (made.bench.drive.speedDivider ?? 1))).toFixed(0)} Hz lines ${made.bench.encoder.lines}`,
        `index ${index?.toFixed(3)}`,
      );
  } else if (rows) console.log(seed, missing, `index ${index?.toFixed(3)}`);
}
const median = (values: readonly number[]): number =>
  [...values].sort((a, b) => a - b)[values.length >> 1] ?? Number.NaN;
const share = (n: number): string => `${n} of ${seen} (${((100 * n) / seen).toFixed(1)} %)`;
console.log(`seeds ${first} to ${last}: ${tried} speed trials, gains seen in ${seen}`);
console.log(`kp inside ${share(kpInside)}, median half width ${(100 * median(widths[0])).toFixed(1)} %`);
console.log(`ki inside ${share(kiInside)}, median half width ${(100 * median(widths[1])).toFixed(1)} %`);
if (indices.length > 0) {
  const sorted = [...indices].sort((a, b) => a - b);
  const at = (q: number): string =>
    sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))].toFixed(3);
  console.log(
    `fit index of ${indices.length}: least ${at(0)}, 5 % ${at(0.05)}, 25 % ${at(0.25)}, median ${at(0.5)}`,
  );
}
