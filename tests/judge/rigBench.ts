/**
 * The judging bench: rigs of strangers (propellers, pumps, joints, springs, partners, belts, worm gears, flywheels,
 * steppers, six-step motors), logged as they come, with what is true of each trial.
 */
import { diagnose } from "../../lib/diagnosis/index.js";
import type { TrialVerdict } from "../../lib/diagnosis/types.js";
import { cutTrials } from "../../lib/recording/segments/cutTrials.js";
import type { Recording } from "../../lib/recording/types.js";
import { seeded } from "../diagnosis/secondBench.js";
import {
  type DrawnRig,
  drawRig,
  type LoadName,
  loadNames,
  pick,
  type Random,
  type Wiring,
} from "./rigDraw.js";
import { logTrial, recordingOf } from "./rigLog.js";
import { type Happened, type Loop, runTrial, type Shape } from "./rigTrials.js";

/** One trial, what is true of it and what was said. */
export interface RigOutcome {
  readonly seed: number;
  readonly loop: Loop;
  readonly shape: Shape;
  readonly load: LoadName;
  readonly wiring: Wiring;
  readonly commandLogged: boolean;
  /** Words that are right. */
  readonly truth: readonly string[];
  readonly said: string;
  readonly kind: string;
  readonly confidence: number;
  readonly text: string;
}

export interface MadeRig {
  readonly recording: Recording;
  readonly truth: readonly string[];
  readonly drawn: DrawnRig;
  readonly loop: Loop;
  readonly shape: Shape;
  readonly commandLogged: boolean;
}

const open = "undetermined";

function reach(values: Float64Array): number {
  let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const v of values) {
    low = Math.min(low, v);
    high = Math.max(high, v);
  }
  return high - low;
}

/** Share of the rows under a command other than zero at which the motion is within `near` of its command. */
function held(h: Happened, motion: Float64Array, near: number): number {
  const size = Math.max(...[reach(h.command), 1e-12]);
  let [asked, kept] = [0, 0];
  for (let i = Math.floor(0.3 * motion.length); i < motion.length; i += 1) {
    if (Math.abs(h.command[i]) < 0.1 * size) continue;
    asked += 1;
    if (Math.abs(motion[i] - h.command[i]) < near * size) kept += 1;
  }
  return asked > 0 ? kept / asked : 0;
}

/** What may be said, from the true motion alone. */
function truthOf(h: Happened, loop: Loop, rig: DrawnRig, step: number, rows: number): readonly string[] {
  if (loop === "coast" || loop === "driven") return [open];
  const turns = reach(h.angle) / (2 * Math.PI);
  const seen = turns * 2 * Math.PI > 24 * step && rows >= 60;
  const little = turns < 0.3 || !seen;
  const restrained = ["gravity joint", "spring"].includes(rig.load);
  const closed = loop === "speed" || loop === "position" || loop === "stepper";
  const stays = Math.abs(h.speed[h.speed.length - 1]) < 0.02 * rig.top;
  // A loop may hold a shaft between two angles of rest, where the torque still has its sense.
  if (
    rig.wiring === "locks" &&
    closed &&
    held(h, loop === "speed" ? h.speed : h.angle.map((a) => a - h.angle[0]), 0.2) > 0.4
  )
    return ["blocked", "tracking", open];
  // Nothing moved, and no log says what is much for its motor: friction may have held a free one as well.
  if (loop === "torque" && turns < 0.02) return ["blocked", open];
  if (rig.wiring === "held" || rig.wiring === "locks")
    return turns < 0.35 && stays && rows >= 60 ? ["blocked"] : ["blocked", open];
  if (turns < 0.02) return ["blocked", open];
  const follows =
    loop === "speed"
      ? held(h, h.speed, 0.15) > 0.6
      : closed
        ? held(
            h,
            h.angle.map((a) => a - h.angle[0]),
            0.15,
          ) > 0.6
        : true;
  if (rig.wiring === "sound")
    return !little && !restrained && follows
      ? ["tracking"]
      : ["tracking", open, ...(little || (closed && restrained) ? ["blocked"] : [])];
  if (loop === "stepper") return ["reversed", "runaway", ...(little ? [open] : [])];
  if (!closed) return little || restrained ? ["reversed", open] : ["reversed"];
  const last = h.command.length - 1;
  const motion = loop === "speed" ? h.speed[last] : h.angle[last] - h.angle[0];
  const away = Math.abs(motion - h.command[last]) > 1.3 * Math.max(reach(h.command), 1e-12);
  return away && !little && !restrained ? ["runaway"] : ["runaway", "reversed", open, "blocked"];
}

const shapesOf: Readonly<Record<Loop, readonly Shape[]>> = {
  torque: ["step", "reversal", "staircase", "chirp", "prbs"],
  voltage: ["step", "reversal", "staircase", "chirp", "prbs", "ramp"],
  duty: ["step", "reversal", "staircase", "chirp", "prbs", "ramp"],
  speed: ["step", "reversal", "staircase", "ramp", "jog", "chirp"],
  position: ["step", "reversal", "staircase", "ramp", "jog", "chirp"],
  stepper: ["ramp", "jog", "staircase"],
  coast: ["step"],
  driven: ["step", "jog"],
};

const loopsOf: readonly Loop[] = [
  "torque",
  "torque",
  "torque",
  "voltage",
  "duty",
  "speed",
  "speed",
  "speed",
  "position",
  "position",
  "stepper",
  "coast",
  "driven",
];

function wiringOf(loop: Loop, random: Random): Wiring {
  if (loop === "coast" || loop === "driven") return "sound";
  const list: Wiring[] = ["sound", "sound", "sound", "against", "against", "held"];
  return pick(
    random,
    loop === "torque" || loop === "speed" || loop === "position" ? [...list, "locks"] : list,
  );
}

/** One trial with what is true of it. */
export function makeRig(seed: number): MadeRig {
  const random: Random = seeded(seed * 977 + 5);
  for (let k = 0; k < 5; k += 1) random();
  const loop = pick(random, loopsOf);
  const shape = pick(random, shapesOf[loop]);
  const drawn = drawRig(random, pick(random, loadNames), wiringOf(loop, random), random() < 0.3);
  const happened = runTrial(loop, shape, drawn, random);
  const commandLogged = loop === "stepper" || random() < 0.93;
  const logged = logTrial(happened, loop, drawn, random, commandLogged);
  const truth = truthOf(happened, loop, drawn, logged.step, logged.time.length);
  return {
    recording: recordingOf(logged),
    truth: commandLogged
      ? truth
      : [...new Set([...truth, open, ...(truth.includes("runaway") ? ["reversed"] : [])])],
    drawn,
    loop,
    shape,
    commandLogged,
  };
}

const passive = new Set(["coast", "idle", "hand-turn", "driven"]);

/** Makes and judges one trial as a log of unknown origin. */
export function judgeRig(seed: number): RigOutcome {
  const { recording, truth, drawn, loop, shape, commandLogged } = makeRig(seed);
  const { trials } = cutTrials(recording);
  const [judged] = diagnose([{ recording, trials }]).recordings;
  const asked = judged.trials.filter((t) => !passive.has(t.kind));
  const surest = (list: readonly TrialVerdict[]): TrialVerdict | undefined =>
    [...list].sort((a, b) => b.confidence - a.confidence)[0];
  const decided = asked.filter(({ verdict }) => verdict !== open);
  const shown =
    surest(decided.filter(({ verdict }) => !truth.includes(verdict))) ?? surest(decided) ?? surest(asked);
  return {
    seed,
    loop,
    shape,
    load: drawn.load,
    wiring: drawn.wiring,
    commandLogged,
    truth,
    said: shown?.verdict ?? "no trial",
    kind: shown?.kind ?? "",
    confidence: shown?.confidence ?? 1,
    text: shown?.text ?? "",
  };
}
