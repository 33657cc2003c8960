import { largest } from "../numeric/series/largest.js";
import type { Trial } from "../recording/types.js";
import type { TrialSignals } from "../run/trialSignals.js";
import { degrees, rpm, type Seen, short } from "./observation.js";

/** What moved the shaft, or was commanded, by the kind of the stretch; to stand before what the shaft did. */
function opening(kind: Trial["kind"], sure: boolean): string {
  const likely = sure ? "" : "most likely ";
  if (kind === "coast")
    return `The shaft ran ${likely}without current: friction and inertia can be read here, but no command was given to judge.`;
  if (kind === "idle") return "Nothing was commanded here.";
  if (kind === "motion")
    return `The shaft was moved ${likely}by its own drive, and what was commanded is not in the log: whether it was followed cannot be said.`;
  if (kind === "driven") return `The shaft was ${likely}turned from outside.`;
  if (kind === "unknown") return "The log does not tell what was tried here.";
  return "No torque was commanded here.";
}

/** What can be said of a stretch without a command: that the shaft turns, coasts or oscillates, and how fast. */
export function observeMotion(trial: Trial, signals: TrialSignals): Seen {
  const { kind } = trial;
  const sure = (trial.conditions?.probability ?? 1) >= 0.8;
  const words = [opening(kind, sure), motionText(kind, signals)].filter((w) => w !== "");
  return {
    behaviour: "unclear",
    verdict: "undetermined",
    confidence: kind === "motion" || kind === "unknown" ? 0.9 : 1,
    sense: "none",
    evidence: [],
    missing: [
      kind === "motion" || kind === "unknown"
        ? "the command of current, speed or position"
        : "a command to judge: this stretch drives nothing",
    ],
    text: words.join(" "),
    bothSenses: false,
  };
}

/** Turns, speeds and swings in one sentence; empty where the shaft rested or nothing of its motion was logged. */
function motionText(kind: Trial["kind"], signals: TrialSignals): string {
  const { speed, angle, time, speedNoise, angleStep } = signals;
  if (!speed || !angle || kind === "idle" || speed.length < 4) return "";
  const top = largest(speed);
  if (!(top > 3 * speedNoise) || !Number.isFinite(top)) return "";
  const length = time[time.length - 1] - time[0];
  const end = speed[speed.length - 1];
  if (kind === "coast")
    return `It slows down from ${rpm(Math.abs(speed[0]))} to ${Math.abs(end) < 0.05 * top ? "rest" : rpm(Math.abs(end))} within ${short(length)} s.`;
  let low = angle[0];
  let high = angle[0];
  for (const v of angle) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  const swing = high - low;
  if (!(swing > 4 * angleStep)) return "";
  const net = angle[angle.length - 1] - angle[0];
  const turns = reversals(speed, Math.max(3 * speedNoise, 0.1 * top));
  const travel =
    swing > 2 * Math.PI ? `${short(swing / (2 * Math.PI))} turns` : `${short(degrees(swing))} degrees`;
  if (turns >= 4)
    return `It moved to and fro within ${travel}, turning round ${turns} times (about ${short(turns / 2 / length)} Hz), at up to ${rpm(top)}.`;
  if (turns > 0) return `It moved within ${travel}, both ways, at up to ${rpm(top)}.`;
  return `It turned one way, ${net >= 0 ? "the positive" : "the negative"}, by ${travel}, at up to ${rpm(top)}.`;
}

function reversals(speed: Float64Array, dead: number): number {
  let count = 0;
  let side = 0;
  for (const v of speed) {
    const now = v > dead ? 1 : v < -dead ? -1 : 0;
    if (now === 0 || now === side) continue;
    if (side !== 0) count += 1;
    side = now;
  }
  return count;
}
