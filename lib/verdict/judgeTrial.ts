import type { Recording, Trial } from "../recording/types.js";
import { type Motion, median, robustDeviation, type Stretch, shaftMotion, stretches } from "./motion.js";
import type { Evidence, Forecast, Sense, TrialVerdict, VerdictWord } from "./types.js";

/** What one stretch of constant command did to the shaft. */
interface Response {
  readonly command: number;
  /** Travel over the stretch, rad. */
  readonly travel: number;
  /** Largest excursion, rad. */
  readonly excursion: number;
  /** Median speed over the last fifth, rad/s. */
  readonly lastSpeed: number;
  /** Median speed over the first tenth, rad/s. */
  readonly firstSpeed: number;
  /** Speed gained against the sense of the command is negative, rad/s. */
  readonly gained: number;
}

/**
 * Judges one trial by what was measured in it: what the shaft did, in which sense, and what that was held against.
 */
export function judgeTrial(recording: Recording, trial: Trial): TrialVerdict {
  const motion = shaftMotion(recording);
  const base = { kind: trial.kind, start: trial.start, end: trial.end, causes: [] };
  if (motion === undefined) {
    return {
      ...base,
      verdict: "undetermined",
      confidence: 0,
      sense: "none",
      evidence: [],
      missing: ["a position or speed channel"],
      text: "Neither position nor speed was logged, so nothing can be said about the shaft.",
    };
  }
  if (trial.kind === "torque") return { ...base, ...judgeTorque(recording, trial, motion) };
  if (trial.kind === "speed") return { ...base, ...judgeSpeed(recording, trial, motion) };
  return {
    ...base,
    verdict: "undetermined",
    confidence: 0,
    sense: "none",
    evidence: [],
    missing: ["a torque or speed command"],
    text: `A ${trial.kind} stretch carries no verdict on the lead order by itself.`,
  };
}

type Judged = Omit<TrialVerdict, "kind" | "start" | "end" | "causes">;

function responses(motion: Motion, parts: readonly Stretch[]): Response[] {
  return parts.map(({ from, to, command }) => {
    const n = to - from;
    const first = motion.speed.subarray(from, from + Math.max(1, Math.floor(n / 10)));
    const last = motion.speed.subarray(to - Math.max(1, Math.floor(n / 5)), to);
    const angle = motion.angle.subarray(from, to);
    let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
    for (const value of angle) {
      if (value < low) low = value;
      if (value > high) high = value;
    }
    const [firstSpeed, lastSpeed] = [median(first), median(last)];
    return {
      command,
      travel: angle[angle.length - 1] - angle[0],
      excursion: high - low,
      firstSpeed,
      lastSpeed,
      gained: (lastSpeed - firstSpeed) * Math.sign(command),
    };
  });
}

/** A rotor that locks stays within one electrical half turn of n = 1, the slowest commutation mismatch: half a shaft turn. */
const lockedTravel = (polePairs: number | undefined) =>
  polePairs === undefined ? 2 * Math.PI : (4 * Math.PI) / polePairs;

function judgeTorque(recording: Recording, trial: Trial, motion: Motion): Judged {
  const role = recording.channels.currentCommand ? "currentCommand" : "torqueCommand";
  const parts = stretches(recording, trial, role)?.filter((part) => part.to - part.from >= 10);
  if (parts === undefined || parts.every((part) => part.command === 0))
    return nothingCommanded("a current or torque command");
  const active = responses(
    motion,
    parts.filter((part) => part.command !== 0),
  );
  const floor = 5 * Math.max(motion.speedNoise, 1e-9);
  const polePairs = recording.machine.polePairs ?? recording.drive.polePairs;
  const bound = lockedTravel(polePairs);
  const evidence: Evidence[] = [];
  const turned = active.filter((r) => r.excursion > bound && Math.abs(r.lastSpeed) > floor);
  const most = Math.max(...active.map((r) => r.excursion));
  evidence.push({
    quantity: "travel under current",
    value: most,
    unit: "rad",
    limit: bound,
    limitSource:
      polePairs === undefined
        ? "physics: a locked rotor stays within one turn"
        : "physics: a locked rotor rests within two electrical turns",
    meaning: turned.length > 0 ? "the shaft turned on" : "the shaft stayed where it locked or did not move",
  });
  const error = currentError(recording, parts);
  if (error !== undefined) evidence.push(error);
  if (turned.length === 0) {
    return {
      verdict: "blocked",
      confidence: 0.95,
      sense: "none",
      evidence,
      text: `Blocked: ${degrees(most)} of travel under current in either direction${error && Math.abs(error.value) < (error.limit ?? 0) ? ", while the current held its command" : ""}.`,
      forecast: {
        verdict: "blocked",
        probability: 0.95,
        text: "Under speed control the current would go to its limit and the shaft would stay put.",
      },
    };
  }
  const votes = turned.map((r) => Math.sign(r.gained));
  const with_ = votes.filter((v) => v > 0).length;
  const against = votes.filter((v) => v < 0).length;
  const sense: Sense = with_ > 0 && against === 0 ? "with" : against > 0 && with_ === 0 ? "against" : "none";
  for (const r of turned) {
    evidence.push({
      quantity: `speed gained under ${r.command > 0 ? "+" : ""}${short(r.command)} ${role === "torqueCommand" ? "N m" : "A"}`,
      value: r.lastSpeed - r.firstSpeed,
      unit: "rad/s",
      limit: floor,
      limitSource: "noise: five standard deviations of the speed at rest",
      meaning: r.gained > 0 ? "with its command" : "AGAINST its command",
    });
  }
  if (sense === "none") {
    return {
      verdict: "undetermined",
      confidence: 0.3,
      sense,
      evidence,
      missing: ["a consistent sense of the shaft against the command"],
      text: "The shaft turned, but not in one sense with respect to its command.",
    };
  }
  const forecast: Forecast =
    sense === "against"
      ? {
          verdict: "runaway",
          probability: 0.97,
          text: "Closing the speed loop on this order would make it run away, whatever the gains.",
        }
      : {
          verdict: "tracking",
          probability: 0.95,
          text: "Closing the speed loop on this order should track.",
        };
  return {
    verdict: "tracking",
    confidence: 0.95,
    sense,
    evidence,
    forecast,
    text:
      sense === "against"
        ? `Turns AGAINST its command (${rpm(turned[0].lastSpeed)} under ${short(turned[0].command)}): it spins and reverses, yet every push goes the wrong way.`
        : `Turns with its command (${rpm(turned[0].lastSpeed)} under ${short(turned[0].command)}) and reverses with it.`,
  };
}

function currentError(recording: Recording, parts: readonly Stretch[]): Evidence | undefined {
  const measured = recording.channels.current?.data;
  const command = recording.channels.currentCommand?.data;
  if (measured === undefined || command === undefined) return undefined;
  const errors: number[] = [];
  const quiet: number[] = [];
  let size = 0;
  for (const { from, to, command: value } of parts) {
    const settle = from + Math.floor((to - from) / 4);
    for (let i = settle; i < to; i += 1) (value === 0 ? quiet : errors).push(measured[i] - command[i]);
    size = Math.max(size, Math.abs(value));
  }
  const noise = robustDeviation(quiet.length > 10 ? quiet : errors);
  return {
    quantity: "measured minus commanded current",
    value: median(errors.map(Math.abs)),
    unit: "A",
    limit: 0.05 * size + 3 * noise,
    limitSource: "noise: three standard deviations, and 5 % of the command for the sensor's gain",
    meaning:
      median(errors.map(Math.abs)) <= 0.05 * size + 3 * noise
        ? "the current loop does its work"
        : "the current falls short of its command",
  };
}

function judgeSpeed(recording: Recording, trial: Trial, motion: Motion): Judged {
  const parts = stretches(recording, trial, "speedCommand")?.filter((part) => part.to - part.from >= 10);
  if (parts === undefined || parts.length === 0 || parts.every((part) => part.command === 0))
    return nothingCommanded("a speed command");
  const active = responses(
    motion,
    parts.filter((part) => part.command !== 0),
  );
  const floor = 5 * Math.max(motion.speedNoise, 1e-9);
  const evidence: Evidence[] = active.map((r) => ({
    quantity: `speed under a command of ${rpm(r.command)}`,
    value: r.lastSpeed,
    unit: "rad/s",
    limit: r.command,
    limitSource: "the command itself",
    meaning:
      Math.abs(r.lastSpeed - r.command) < 0.1 * Math.abs(r.command) + floor ? "follows" : "does not follow",
  }));
  const follows = active.every((r) => Math.abs(r.lastSpeed - r.command) < 0.1 * Math.abs(r.command) + floor);
  const beyond = active.some((r) => Math.abs(r.lastSpeed) > 1.5 * Math.abs(r.command) + floor);
  const still = active.every((r) => Math.abs(r.lastSpeed) < floor + 0.02 * Math.abs(r.command));
  const worst = active.reduce((a, b) => (Math.abs(b.lastSpeed) > Math.abs(a.lastSpeed) ? b : a));
  const verdict: VerdictWord = follows ? "tracking" : beyond ? "runaway" : still ? "blocked" : "undetermined";
  const text = {
    tracking: "Speed control tracks its command in both directions.",
    runaway: `RUNAWAY under speed control: ${rpm(worst.lastSpeed)} under a command of ${rpm(worst.command)}; a reversed command changes nothing.`,
    blocked: "Under speed control the shaft does not turn.",
    undetermined: "The speed neither follows its command nor runs away.",
  }[verdict];
  return {
    verdict,
    confidence: verdict === "undetermined" ? 0.3 : 0.97,
    sense: follows ? "with" : still ? "none" : "against",
    evidence,
    ...(verdict === "undetermined" ? { missing: ["a longer trial, or the loop's gains"] } : {}),
    text,
  };
}

function nothingCommanded(what: string): Judged {
  return {
    verdict: "undetermined",
    confidence: 0,
    sense: "none",
    evidence: [],
    missing: [what],
    text: `Nothing can be said without ${what}.`,
  };
}

const short = (value: number) => String(Number(value.toPrecision(3)));
const rpm = (speed: number) => `${Math.round((speed * 60) / (2 * Math.PI))} rev/min`;
const degrees = (angle: number) => `${short((angle * 180) / Math.PI)} degrees`;
