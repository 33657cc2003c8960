/**
 * Inner steps a second of the bench simulator: `npx tsx tests/benchmarks/simulator.bench.ts`. Medians of repeated runs in one
 * process, after a warm-up, in wall time and in processor time (which other work on the machine disturbs less).
 */
import { type Bench, fleet, randomBench, type Segment, simulate } from "../../lib/machine/index.js";

const bench: Bench = {
  motor: {
    polePairs: 4,
    resistance: 0.9,
    inductanceD: 1.1e-3,
    inductanceQ: 1.1e-3,
    fluxLinkage: 0.0155,
    inertia: 1.4e-4,
    coulombFriction: 0.025,
    viscousFriction: 8e-5,
    staticFriction: 0.032,
  },
  drive: {
    busVoltage: 48,
    modulation: "space-vector",
    currentLimit: 3,
    samplePeriod: 1e-4,
    currentBandwidth: 2500,
    polePairs: 4,
    encoderLines: 1024,
    speedLoop: { kp: 0.03, ki: 0.3 },
    speedDivider: 5,
    speedFilter: 1.5e-3,
    alignment: { kind: "aligned" },
  },
  encoder: { lines: 1024, sense: 1 },
  order: "UVW",
};
const program: readonly Segment[] = [
  { kind: "torque", from: 1.2, duration: 5 },
  { kind: "torque", from: -1.2, duration: 5 },
];

const median = (values: readonly number[]) =>
  [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];

function measure(name: string, repeats: number, run: (k: number) => number): void {
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
  console.log(
    `${name.padEnd(44)} ${median(wall).toFixed(2)} million steps/s wall, ${median(cpu).toFixed(2)} processor, ${median(runs).toFixed(0)} ms a run (median of ${repeats})`,
  );
}

measure("one motor, 10 s, without noise", 15, () => simulate(bench, program).steps);
measure(
  "one motor, 10 s, with current noise",
  15,
  (k) => simulate(bench, program, { currentNoise: 0.02, seed: k }).steps,
);
measure("made-up benches, a different one each time", 60, (k) => {
  const made = randomBench(7000 + k);
  return simulate(made.bench, made.torqueProgram, made.simulation).steps;
});
const made = fleet(1);
measure("recordings of the fleet, 2.6 s each", 40, (k) => {
  const run = made.runs[k];
  return simulate(run.bench, made.program, run.simulation).steps;
});
