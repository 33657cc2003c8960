/**
 * How often the interval of a runaway's growth time holds the truth, over runaways of fresh seeds:
 *
 *     npx tsx tests/identify/study/growthStudy.ts <synthetic|second> <first seed> <count> [--misses]
 *
 * *Observed* is `growthFromTrial` on a speed trial, *foretold* `predictRunaway` on a torque trial of the same bench
 * with the gains stated, *rise* its acceleration at the current limit. Neither truth is a formula's: for the growth the
 * same bench is run without friction, noise, cogging and counting, with the current and the bus a thousandfold, and the
 * slope of the logarithm of its error is read where it has become a line; for the rise it is run at its current limit,
 * and the slope of its speed is read where the current has settled.
 */
import { predictRunaway } from "../../../lib/control/index.js";
import { growthFromTrial } from "../../../lib/identify/loop/growthFromTrial.js";
import type { Bench, Segment } from "../../../lib/motor/index.js";
import { recordingFromRandomBench } from "../../../lib/recording/index.js";
import type { ChannelRole, Recording } from "../../../lib/recording/types.js";
import { runOf } from "../../../lib/run/run.js";
import { randomBench, simulate } from "../../../lib/simulation/index.js";
import type { Estimate } from "../../../lib/units/estimate.js";
import { gaussian, type SecondBench, secondRun, seeded } from "../../diagnosis/secondBench.js";
import { drawnMachine } from "./cases.js";
import { wilson } from "./coverageStudy.js";

/** A runaway: its speed trial and a torque trial of the same bench, with what is true of it. */
interface Runaway {
  readonly speed: Recording;
  readonly torque: Recording;
  readonly growthTime: number;
  /** Rise of the speed at the current limit, rad/s2: under a positive reference, and under a negative one. */
  readonly rises: readonly number[];
}

/** Growth time of an error (speed less its reference) that has become one exponential: over the last three octaves of
 * its size. */
function growthOf(time: Float64Array, speed: Float64Array): number | undefined {
  const last = Math.abs(speed[speed.length - 1]);
  const from = speed.findIndex((w) => Math.abs(w) > last / 8);
  const middle = speed.findIndex((w) => Math.abs(w) > last / Math.sqrt(8));
  const over = (a: number, b: number): number =>
    (time[b] - time[a]) / Math.log(Math.abs(speed[b] / speed[a]));
  const [first, second] = [over(from, middle), over(middle, speed.length - 1)];
  if (!(Math.abs(first / second - 1) < 0.003)) return undefined;
  return over(from, speed.length - 1);
}

/**
 * Slope of a speed with the current at its limit, between a quarter and half of a speed: by then the current has
 * settled behind its command.
 */
function riseOf(time: Float64Array, speed: Float64Array, top: number): number | undefined {
  const at = (part: number): number => speed.findIndex((w) => Math.abs(w) > part * top);
  const [from, to] = [at(0.25), at(0.5)];
  return from > 0 && to > from + 20 ? Math.abs(speed[to] - speed[from]) / (time[to] - time[from]) : undefined;
}

const freely = 1e3;
const fineLines = 2 ** 30;
/** The reference of the true run, as a part of the one of the trial: speeds at which nothing but the loop counts. */
const smallStep = 3e-5;

/** Senses of the reference. */
const senses = [1, -1];

/** A runaway whose rises could both be read. */
function whole(
  one: Omit<Runaway, "rises"> & { readonly rises: readonly (number | undefined)[] },
): Runaway | undefined {
  const rises = one.rises.filter((rise) => rise !== undefined);
  return rises.length === one.rises.length ? { ...one, rises } : undefined;
}

export function syntheticRunaway(seed: number): Runaway | undefined {
  const made = randomBench(seed, { fault: seed % 2 === 0 ? "offset-half-turn" : "stale-offset" });
  if (!(made.truth.torqueGain < -0.1) || made.truth.mismatch !== 0) return undefined;
  const { bench } = made;
  const { motor, drive } = bench;
  const random = seeded(seed);
  // Half of them with a reference small enough that the current is not at its limit at once.
  const command =
    (drive.currentLimit / drive.speedLoop.kp) * (seed % 4 < 2 ? 0.02 * 25 ** random() : 0.5 + 2 * random());
  const program: Segment[] = [
    { kind: "speed", from: 0, duration: 0.2 },
    { kind: "speed", from: command, duration: 1 },
  ];
  const { recording: speed } = recordingFromRandomBench(made, program);
  const { recording: torque } = recordingFromRandomBench(made, made.torqueProgram);
  const ratio = bench.encoder.lines / drive.encoderLines;
  const { tripSpeed: _, hiddenCurrentLimit: __, ...open } = drive;
  const pure: Bench = {
    ...bench,
    motor: { ...motor, coulombFriction: 0, staticFriction: 0, brakingLoad: 0, load: 0, cogging: undefined },
    drive: {
      ...open,
      deadVoltage: 0,
      busResistance: 0,
      busVoltage: freely * drive.busVoltage,
      currentLimit: freely * drive.currentLimit,
      tripCurrent: Number.POSITIVE_INFINITY,
      encoderLines: fineLines,
    },
    encoder: { ...bench.encoder, lines: fineLines * ratio },
  } as Bench;
  const growthTime = longEnough(
    (length) => {
      const trace = simulate(pure, [{ kind: "speed", from: smallStep * command, duration: length }], {
        ...made.simulation,
        currentNoise: 0,
        currentOffset: 0,
        logRate: 400 / length,
      });
      return { time: trace.time, speed: trace.truth.speed.map((w) => w - smallStep * command) };
    },
    500 * smallStep * command,
  );
  if (growthTime === undefined) return undefined;
  // The same bench with a reference that keeps the current at its limit, and without viscous friction.
  const kt = 1.5 * motor.polePairs * motor.fluxLinkage;
  const friction = motor.coulombFriction + (motor.brakingLoad ?? 0);
  const still = (Math.abs(made.truth.torqueGain) * kt * drive.currentLimit - friction) / motor.inertia;
  const top = drive.busVoltage / Math.sqrt(3) / (motor.polePairs * motor.fluxLinkage);
  const length = (2 * top) / still;
  const limited: Bench = {
    ...pure,
    motor: { ...pure.motor, viscousFriction: 0, coulombFriction: friction },
    drive: { ...pure.drive, currentLimit: drive.currentLimit },
  };
  const rises = senses.map((sense) => {
    const trace = simulate(limited, [{ kind: "speed", from: sense * 100 * top, duration: length }], {
      ...made.simulation,
      currentNoise: 0,
      currentOffset: 0,
      logRate: 2000 / length,
    });
    return riseOf(trace.time, trace.truth.speed, top);
  });
  return whole({ speed, torque, growthTime, rises });
}

/** The growth of a run that is made as long as it takes for the speed to reach a size. */
function longEnough(
  run: (length: number) => { readonly time: Float64Array; readonly speed: Float64Array },
  size: number,
): number | undefined {
  for (let length = 0.05; length < 20; length *= 1.5) {
    const { time, speed } = run(length);
    const end = speed.findIndex((w) => Math.abs(w) > size);
    if (end > 60) return growthOf(time.subarray(0, end), speed.subarray(0, end));
  }
  return undefined;
}

export function secondRunaway(seed: number): Runaway | undefined {
  const random = seeded(seed);
  const { between, polePairs, fluxLinkage, kt, rated, inertia, coulomb } = drawnMachine(random);
  const resistance = between(0.1, 0.8);
  const lines = [500, 1000, 1024, 2048, 2500][Math.floor(5 * random())];
  const corner = between(15, 60);
  const currentLimit = 1.5 * rated;
  const kp = (inertia * corner) / kt;
  const offset = [Math.PI, (2 * Math.PI) / 3, (-2 * Math.PI) / 3][seed % 3] + 0.2 * (random() - 0.5);
  const bench: SecondBench = {
    polePairs,
    resistance,
    inductance: resistance * between(0.5e-3, 2e-3),
    fluxLinkage,
    inertia,
    coulomb,
    viscous: (kt * rated * between(0.005, 0.05)) / 200,
    stiction: coulomb * between(1.05, 1.6),
    busVoltage: polePairs * fluxLinkage * Math.sqrt(3) * between(200, 400),
    currentLimit,
    currentBandwidth: between(800, 2000),
    kp,
    ki: (kp * corner) / between(4, 10),
    lines,
    order: "UVW",
    encoderSense: 1,
    setPolePairs: polePairs,
    setLines: lines,
    offset,
    startAngle: 6 * random(),
    currentGain: 1 + 0.004 * gaussian(random),
  };
  const rate = between(1000, 4000);
  const command = (currentLimit / kp) * (seed % 2 === 0 ? between(0.02, 0.5) : 0.5 + 2 * random());
  const channels: ChannelRole[] = ["currentCommand", "current", "position", "speed", "speedCommand"];
  const log = { rate, currentNoise: rated * between(0.003, 0.02), channels, random, step: 5e-6 };
  const level = rated * between(0.2, 0.5);
  const steps = [0, command].map((value, k) => ({ time: 0.2 * k, value }));
  const made = secondRun(bench, { kind: "speed", steps, length: 1.2 }, log);
  const levels = [0, level, -level, level / 2, 0].map((value, k) => ({ time: 0.35 * k, value }));
  const torque = secondRun(bench, { kind: "torque", steps: levels, length: 1.75 }, log);
  const pure: SecondBench = {
    ...bench,
    coulomb: 0,
    stiction: 0,
    busVoltage: freely * bench.busVoltage,
    currentLimit: freely * currentLimit,
    lines: fineLines,
    setLines: fineLines,
  };
  const growthTime = longEnough(
    (length) => {
      const { recording, truthSpeed } = secondRun(
        pure,
        { kind: "speed", steps: [{ time: 0, value: smallStep * command }], length },
        { ...log, rate: 400 / length, currentNoise: 0, channels: ["currentCommand"] },
      );
      return { time: recording.time, speed: truthSpeed.map((w) => w - smallStep * command) };
    },
    500 * smallStep * command,
  );
  if (growthTime === undefined) return undefined;
  const still = (Math.abs(Math.cos(offset)) * kt * currentLimit - coulomb) / inertia;
  const top = bench.busVoltage / Math.sqrt(3) / (polePairs * fluxLinkage);
  const length = (2 * top) / still;
  const rises = senses.map((sense) => {
    const limited = secondRun(
      { ...pure, coulomb, viscous: 0, currentLimit },
      { kind: "speed", steps: [{ time: 0, value: sense * 100 * top }], length },
      { ...log, rate: 2000 / length, currentNoise: 0, channels: ["currentCommand"] },
    );
    return riseOf(limited.recording.time, limited.truthSpeed, top);
  });
  const stated = { ...made.recording.drive, speedLoop: { kp, ki: bench.ki }, currentLimit };
  return whole({
    speed: { ...made.recording, drive: { ...made.recording.drive, currentLimit } },
    torque: { ...torque.recording, drive: stated },
    growthTime,
    rises,
  });
}

interface Row {
  asked: number;
  held: number;
  open: number;
  readonly half: number[];
  readonly off: number[];
}

if (process.argv[1]?.endsWith("growthStudy.ts")) {
  const [, , source = "synthetic", first = "98300001", count = "40", ...rest] = process.argv;
  const make = source === "second" ? secondRunaway : syntheticRunaway;
  const rows = new Map<string, Row>();
  const enter = (name: string, seed: number, truth: number, e: Estimate | undefined, why = ""): void => {
    const row = rows.get(name) ?? { asked: 0, held: 0, open: 0, half: [], off: [] };
    rows.set(name, row);
    row.asked++;
    if (e === undefined) {
      if (rest.includes("--why")) console.error(`${name} ${seed}: ${why}`);
      return;
    }
    const inside = e.low <= truth && truth <= e.high;
    if (inside) row.held++;
    if (!Number.isFinite(e.high) || e.high > 20 * e.value) row.open++;
    row.half.push((e.high - e.low) / 2 / truth);
    row.off.push((e.value - truth) / truth);
    if ((!inside && rest.includes("--misses")) || rest.includes("--all"))
      console.error(
        `${name} ${seed}${inside ? "" : " MISS"}: truth ${truth.toPrecision(4)}, ${e.value.toPrecision(4)} (${e.low.toPrecision(4)} to ${e.high.toPrecision(4)}) ${e.method}`,
      );
  };
  for (let seed = Number(first); seed < Number(first) + Number(count); seed++) {
    const one = make(seed);
    if (one === undefined) continue;
    const run = runOf(one.speed);
    const trial = run.trials.find(({ kind }) => kind === "speed");
    const seen = trial === undefined ? undefined : growthFromTrial(run, trial);
    enter("observed", seed, one.growthTime, seen?.growthTime, seen?.missing ?? "no speed trial");
    const foretold = predictRunaway(runOf(one.torque));
    enter("foretold", seed, one.growthTime, foretold?.growthTime);
    one.rises.forEach((rise, k) => {
      enter(
        k === 0 ? "rise, reference > 0" : "rise, reference < 0",
        seed,
        rise,
        foretold?.limited?.acceleration,
      );
    });
  }
  const median = (v: readonly number[]): number => [...v].sort((a, b) => a - b)[v.length >> 1] ?? Number.NaN;
  console.log(`\n### ${source}: seeds ${first} on, ${count}\n`);
  console.log(
    "| | runaways | reported | coverage | Wilson's interval | open | median half width | median error |",
  );
  console.log("|---|---|---|---|---|---|---|---|");
  for (const [name, r] of rows) {
    const n = r.half.length;
    const [low, high] = wilson(r.held, n);
    console.log(
      `| ${name} | ${r.asked} | ${n} | ${((100 * r.held) / n).toFixed(1)} % | ${low.toFixed(1)} to ${high.toFixed(1)} % | ${r.open} | ${(100 * median(r.half)).toPrecision(2)} % | ${(100 * median(r.off)).toPrecision(2)} % |`,
    );
  }
}
