import { diagnose } from "../../lib/diagnosis/index.js";
import type { VerdictWord } from "../../lib/diagnosis/types.js";
import { type BenchFault, positionTrial, randomBench, type Segment, simulate } from "../../lib/index.js";
import { recordingFromTrace } from "../../lib/recording/fromBench.js";
import { cutTrials } from "../../lib/recording/segments/cutTrials.js";
import { type ChannelRole, type Recording, siUnits } from "../../lib/recording/types.js";
import { seeded } from "../diagnosis/secondBench.js";
import { type DcTruth, runDc } from "../identify/dcBench.js";
import { randomJoint, runJoint } from "../identify/jointBench.js";
import { channelFaults } from "./channelFaults.js";

/** What one recording was and what was said of it. */
export interface KindOutcome {
  readonly seed: number;
  readonly kind: string;
  readonly fault: string;
  readonly truth: VerdictWord;
  readonly said: VerdictWord | "no trial";
  readonly saidKind: string;
  readonly confidence: number;
  readonly hidden: boolean;
}

interface Made {
  readonly recording: Recording;
  readonly truth: VerdictWord;
}

type Random = () => number;

const pick = <T>(random: Random, list: readonly T[]): T => list[Math.floor(random() * list.length)];

/** A recording from columns in SI. */
function recordingOf(columns: Partial<Record<ChannelRole, Float64Array>>, time: Float64Array): Recording {
  return {
    path: "made.csv",
    time,
    channels: Object.fromEntries(
      (Object.entries(columns) as [ChannelRole, Float64Array][]).map(([role, data]) => [
        role,
        { role, name: role, sourceUnit: siUnits[role], recognisedBy: "simulated", data },
      ]),
    ),
    machine: {},
    drive: {},
    encoder: {},
    findings: [],
  };
}

const bare = (recording: Recording, roles: readonly ChannelRole[]): Recording => ({
  ...recording,
  path: "made.csv",
  ordering: undefined,
  machine: {},
  drive: {},
  encoder: {},
  channels: Object.fromEntries(
    Object.entries(recording.channels).filter(([role]) => roles.includes(role as ChannelRole)),
  ),
});

/** Field-oriented benches: sound, with the torque against its command, or locked at a rest angle. */
function fieldOriented(seed: number, random: Random, kind: string): Made | undefined {
  const fault = pick<BenchFault>(random, [
    "none",
    "none",
    "offset-half-turn",
    "stale-offset",
    "leads-exchanged",
    "jam",
  ]);
  const made = randomBench(seed, { fault });
  const { bench, truth, ratedCurrent } = made;
  const against = truth.mismatch === 0 && truth.torqueGain < -0.2;
  const locked = truth.mismatch !== 0 || bench.motor.jammed === true;
  let program: readonly Segment[] = made.torqueProgram;
  const length = made.torqueProgram.reduce((s, x) => s + x.duration, 0);
  if (kind === "speed step") program = made.speedProgram;
  if (kind === "position step") program = positionTrial({ angle: 3 + 6 * random() });
  if (kind === "torque PRBS")
    program = Array.from({ length: 24 }, () => ({
      kind: "torque" as const,
      from: (random() < 0.5 ? -1 : 1) * 0.6 * ratedCurrent,
      duration: (length / 24) * (0.5 + random()),
    }));
  if (kind === "torque chirp")
    program = Array.from({ length: 160 }, (_, k) => ({
      kind: "torque" as const,
      from: 0.7 * ratedCurrent * Math.sin(2 * Math.PI * (1 + k / 40) * (k / 40)),
      duration: length / 160,
    }));
  if (kind === "torque staircase")
    program = [0, 0.3, 0.5, 0.7, 0.9].map((part) => ({
      kind: "torque" as const,
      from: part * ratedCurrent,
      duration: length / 5,
    }));
  const trace = simulate(bench, program, {
    logRate: made.logRate,
    currentNoise: made.currentNoise,
    seed,
    startAngle: made.startAngle,
  });
  const roles: ChannelRole[] = ["currentCommand", "current", "speedCommand", "positionCommand"];
  const motion = random();
  if (motion < 0.75) roles.push("position");
  if (motion > 0.25) roles.push("speed");
  const closed = kind === "speed step" || kind === "position step";
  const word: VerdictWord = locked ? "blocked" : against ? (closed ? "runaway" : "reversed") : "tracking";
  if (!locked && !against && truth.fault !== "none") return undefined;
  if (!shows(word, trace.truth.speed, trace.truth.angle, kind)) return undefined;
  return { recording: bare(recordingFromTrace(trace, bench), roles), truth: word };
}

/** The true motion is what the word says: a locked shaft may need whole turns to rest, a weak order may not break
 * away. */
function shows(word: VerdictWord, speed: Float64Array, angle: Float64Array, kind: string): boolean {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const v of angle) {
    low = Math.min(low, v);
    high = Math.max(high, v);
  }
  if (word === "blocked") return high - low < 2 && Math.abs(speed[speed.length - 1]) < 5;
  return high - low > (kind === "position step" ? 1 : 4);
}

function dcTruth(random: Random): DcTruth {
  const between = (a: number, b: number): number => a * (b / a) ** random();
  const constant = between(0.01, 0.3);
  const stall = between(1, 20);
  const coulomb = constant * stall * between(0.01, 0.05);
  const top = 24 / constant;
  return {
    resistance: 24 / stall,
    inductance: (24 / stall) * between(2e-4, 3e-3),
    constant,
    inertia: (between(0.02, 0.4) * constant * stall) / top,
    viscous: (coulomb / top) * between(0.2, 2),
    coulomb,
    currentNoise: 0.005 * stall,
    disturbance: 0.1 * coulomb,
    disturbanceTime: 0.05,
    counts: random() < 0.7 ? pick(random, [48, 400, 2000, 4096]) : 0,
  };
}

/** Brushed motors on a voltage or duty: sound, connected the other way round, or held fast. */
function direct(seed: number, random: Random, kind: string): Made {
  const state = pick(random, ["sound", "sound", "turned", "held"] as const);
  const motor = dcTruth(random);
  const n = 1500;
  const interval = pick(random, [0.001, 0.002, 0.005]);
  const u = new Float64Array(n);
  const volts = 6 + 18 * random();
  if (kind.endsWith("step"))
    for (let i = 0; i < n; i += 1) u[i] = i < 150 ? 0 : i < 800 ? volts : i < 1400 ? -volts : 0;
  if (kind.endsWith("staircase")) for (let i = 0; i < n; i += 1) u[i] = (volts * Math.floor((5 * i) / n)) / 4;
  if (kind.endsWith("chirp"))
    for (let i = 0; i < n; i += 1) u[i] = volts * Math.sin(2 * Math.PI * (1 + (6 * i) / n) * (i / n) * 3);
  if (kind.endsWith("PRBS")) {
    let level = volts;
    for (let i = 0; i < n; i += 1) {
      if (i % 60 === 0) level = random() < 0.5 ? volts : 0.3 * volts;
      u[i] = i < 100 ? 0 : level;
    }
  }
  const log = runDc({ ...motor, coulomb: state === "held" ? 1e3 : motor.coulomb }, u, interval, seed);
  const side = state === "turned" ? -1 : 1;
  const duty = kind.startsWith("duty");
  const columns: Partial<Record<ChannelRole, Float64Array>> = {
    ...(duty ? { duty: u.map((v) => v / 24) } : { voltageCommand: u }),
    ...(random() < 0.6 ? { current: log.current } : {}),
  };
  const motion = random();
  if (motion < 0.7) columns.speed = log.speed.map((v) => side * v);
  if (motion > 0.3) columns.position = log.position.map((v) => side * v);
  const truth = state === "held" ? "blocked" : state === "turned" ? "reversed" : "tracking";
  return { recording: recordingOf(columns, log.time), truth };
}

function joint(seed: number): Made {
  const log = runJoint(randomJoint(seed), 8, seed);
  return {
    recording: recordingOf({ position: log.angle, speed: log.speed, torque: log.effort }, log.time),
    truth: "undetermined",
  };
}

function heldShaft(random: Random): Made {
  const n = 1200;
  const interval = 0.002;
  const time = Float64Array.from({ length: n }, (_, i) => i * interval);
  const asked = time.map((_, i) => (i < 100 ? 0 : Math.floor(i / 200) - 3));
  const normal = (): number => random() + random() + random() - 1.5;
  const current = asked.map((v) => v + 0.02 * normal());
  const kt = 0.02 + random();
  const torque = current.map((v) => kt * v + 0.01 * kt * normal() + 0.004);
  const columns: Partial<Record<ChannelRole, Float64Array>> = { current, torque };
  if (random() < 0.7) columns.currentCommand = asked;
  if (random() < 0.5) columns.speed = time.map(() => 0);
  else columns.position = time.map((_, i) => 1e-3 * Math.round(torque[i]));
  return { recording: recordingOf(columns, time), truth: "tracking" };
}

function coast(seed: number, random: Random): Made {
  const motor = dcTruth(random);
  const u = new Float64Array(1600);
  const log = runDc(
    { ...motor, opens: true },
    u.map((_, i) => (i < 600 ? 20 : 0)),
    0.002,
    seed,
  );
  const part = (d: Float64Array): Float64Array => d.slice(600);
  return {
    recording: recordingOf({ speed: part(log.speed), current: part(log.current) }, part(log.time)),
    truth: "undetermined",
  };
}

/** Kinds of trials that are made. */
export const kinds = [
  "torque step",
  "speed step",
  "position step",
  "torque PRBS",
  "torque chirp",
  "torque staircase",
  "voltage step",
  "voltage staircase",
  "voltage chirp",
  "voltage PRBS",
  "duty step",
  "duty staircase",
  "duty chirp",
  "duty PRBS",
  "joint",
  "held shaft",
  "coast-down",
] as const;

function make(seed: number, kind: string, random: Random): Made | undefined {
  if (kind === "joint") return joint(seed);
  if (kind === "held shaft") return heldShaft(random);
  if (kind === "coast-down") return coast(seed, random);
  return kind.startsWith("voltage") || kind.startsWith("duty")
    ? direct(seed, random, kind)
    : fieldOriented(seed, random, kind);
}

const passive = new Set(["coast", "idle", "hand-turn", "driven"]);

/** Makes and judges one recording, found as in a log of unknown origin; undefined where the draw gave no clear truth or
 * the fault has no channel. */
export function judgeKind(seed: number): KindOutcome | undefined {
  const random = seeded(seed * 131 + 17);
  const kind = kinds[seed % kinds.length];
  const made = make(seed, kind, random);
  if (made === undefined) return undefined;
  const fault = random() < 0.25 ? channelFaults[0] : pick(random, channelFaults);
  const recording = fault.apply(made.recording, random);
  if (recording === undefined) return undefined;
  const { trials } = cutTrials(recording);
  const [judged] = diagnose([{ recording, trials }]).recordings;
  const asked = judged.trials.filter((t) => !passive.has(t.kind));
  // Without its outer command a runaway is what it is under torque: the shaft turns against its current.
  const inner = fault.hidesCommand === true && made.truth === "runaway";
  const decided = asked
    .map((t) => (inner && t.verdict === "reversed" ? { ...t, verdict: made.truth } : t))
    .filter(({ verdict }) => verdict !== "undetermined");
  const surest = (list: typeof asked): (typeof asked)[number] | undefined =>
    [...list].sort((a, b) => b.confidence - a.confidence)[0];
  const hidden = fault.hidesCommand === true;
  const shown =
    surest(decided.filter(({ verdict }) => verdict !== made.truth)) ?? surest(decided) ?? surest(asked);
  return {
    seed,
    kind,
    fault: fault.name,
    truth: made.truth,
    said: shown?.verdict ?? "no trial",
    saidKind: shown?.kind ?? "",
    confidence: shown?.confidence ?? 1,
    hidden,
  };
}
