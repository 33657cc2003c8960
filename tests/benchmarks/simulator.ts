/**
 * Inner steps a second of the bench simulator: `npx tsx tests/benchmarks/simulator.ts`. Medians of repeated runs in one
 * process, after a warm-up, in wall time and in processor time (which other work on the machine disturbs less).
 */

import type { Segment } from "../../lib/motor/index.js";
import { fleet, randomBench, simulate } from "../../lib/simulation/index.js";
import { goodBench as bench } from "../recording/bench.js";
import { type Measurement, median } from "./table.js";

const program: readonly Segment[] = [
  { kind: "torque", from: 1.2, duration: 5 },
  { kind: "torque", from: -1.2, duration: 5 },
];

function measure(what: string, repeats: number, run: (k: number) => number): Measurement {
  for (let k = 0; k < 5; k += 1) run(k);
  const wall: number[] = [];
  const cpu: number[] = [];
  const runs: number[] = [];
  for (let k = 0; k < repeats; k += 1) {
    const [cpuStart, start] = [process.cpuUsage(), performance.now()];
    const steps = run(k);
    const ms = performance.now() - start;
    const used = process.cpuUsage(cpuStart);
    wall.push(steps / ms / 1000);
    cpu.push(steps / ((used.user + used.system) / 1000) / 1000);
    runs.push(ms);
  }
  return {
    what: `simulator, ${what}`,
    value: median(cpu),
    unit: "million steps a processor second",
    detail: `${median(wall).toFixed(2)} a second of wall time, ${median(runs).toFixed(0)} ms a run`,
  };
}

/** Inner steps a second. */
export function simulatorSpeed(): Measurement[] {
  const made = fleet(1);
  return [
    measure("one motor, 10 s, without noise", 15, () => simulate(bench, program).steps),
    measure(
      "one motor, 10 s, with current noise",
      15,
      (k) => simulate(bench, program, { currentNoise: 0.02, seed: k }).steps,
    ),
    measure("synthetic benches, a different one each time", 60, (k) => {
      const other = randomBench(7000 + k);
      return simulate(other.bench, other.torqueProgram, other.simulation).steps;
    }),
    measure("recordings of the fleet, 2.6 s each", 40, (k) => {
      const run = made.runs[k];
      return simulate(run.bench, made.program, run.simulation).steps;
    }),
  ];
}

if (process.argv[1]?.endsWith("simulator.ts"))
  for (const m of simulatorSpeed()) console.log(`${m.what}: ${m.value.toFixed(2)} ${m.unit} (${m.detail})`);
