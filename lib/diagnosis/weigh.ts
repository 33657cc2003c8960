import type { Recording } from "../recording/types.js";
import { type CauseCode, causes } from "./causes.js";
import type { Measures } from "./measures.js";
import type { Observation } from "./observe.js";

/** What is known of a motor beside the trial at hand. */
export interface Background {
  /** Acceleration per ampere of a sound order of the same motor (Kt/J), rad/s2/A, and its relative standard error. */
  readonly fullGain?: { readonly value: number; readonly error: number; readonly from: string };
  /** Commutation mismatch of this order from an alignment sweep, with its standard error. */
  readonly sweepMismatch?: { readonly value: number; readonly error: number };
}

/** Odds of every cause, and what the data say of the offset error. */
export interface Weighed {
  readonly logs: ReadonlyMap<CauseCode, number>;
  /** What each finding added to the log likelihood of each cause. */
  readonly parts: readonly { readonly finding: string; readonly logs: ReadonlyMap<CauseCode, number> }[];
  /** Likelihood of each offset error on `offsetGrid`, on the scale that `logs` holds. */
  readonly offsets: Float64Array;
}

/** Offset errors considered, electrical rad: -178 to 180 deg in steps of 2 deg. */
export const offsetGrid: Float64Array = Float64Array.from(
  { length: 180 },
  (_, k) => ((k * 2 - 178) * Math.PI) / 180,
);

const deg = Math.PI / 180;
const gaussianDensity = (x: number, sigma: number): number =>
  Math.exp((-x * x) / (2 * sigma * sigma)) / (sigma * Math.sqrt(2 * Math.PI));

function wrapped(angle: number): number {
  return angle - 2 * Math.PI * Math.round(angle / (2 * Math.PI));
}

/** Distribution of the offset error under each cause with n = 0; each adds up to one over `offsetGrid`. */
const offsetPriors: ReadonlyMap<CauseCode, Float64Array> = new Map(
  (
    [
      ["nothing-wrong", (e) => gaussianDensity(e, 7 * deg)],
      ["speed-loop-mistuned", (e) => gaussianDensity(e, 7 * deg)],
      // Position and speed both shown with the sign turned (about as often as the speed alone) look like half a turn.
      [
        "speed-sign-display",
        (e) => gaussianDensity(e, 7 * deg) + gaussianDensity(wrapped(e - Math.PI), 7 * deg),
      ],
      ["stale-offset-plus", (e) => gaussianDensity(wrapped(e - 120 * deg), 7 * deg)],
      ["stale-offset-minus", (e) => gaussianDensity(wrapped(e + 120 * deg), 7 * deg)],
      ["half-turn-offset", (e) => gaussianDensity(wrapped(e - Math.PI), 8 * deg)],
      [
        "disturbed-offset",
        // Anything from a visible error to a quarter of a turn, seldom more.
        (e) => {
          const size = Math.abs(e) / deg;
          return size < 12 ? 0.002 : size < 20 ? 0.4 : size < 95 ? 1 : size < 110 ? 0.15 : 0.012;
        },
      ],
    ] as readonly [CauseCode, (e: number) => number][]
  ).map(([code, density]) => {
    const values = offsetGrid.map(density);
    const sum = values.reduce((a, b) => a + b, 0);
    return [code, values.map((v) => v / sum)];
  }),
);

/** Prior of the offset error under a cause, for those who report on it. */
export function offsetPrior(code: CauseCode): Float64Array | undefined {
  return offsetPriors.get(code);
}

/**
 * Chance that a shaft breaks away under a share `size` of the torque: friction over commanded torque is taken as anything from
 * 2 % to 50 %, evenly in the logarithm (common practice, no source).
 */
function breaksAway(size: number): number {
  if (size <= 0.02) return 0;
  if (size >= 0.5) return 1;
  return Math.log(size / 0.02) / Math.log(0.5 / 0.02);
}

/** Line counts that encoders are commonly made with (common practice, no source). */
const commonLines = [
  100, 128, 200, 250, 256, 360, 400, 500, 512, 600, 720, 800, 1000, 1024, 1250, 1500, 1800, 2000, 2048, 2500,
  3000, 3600, 4000, 4096, 5000, 6000, 7200, 8192, 9000, 10000,
] as const;

/** Mismatches a cause stands for, as seen on the drive's own scale of angle, with their weights. */
export function mismatchesOf(
  code: CauseCode,
  recording: Recording,
): readonly { readonly n: number; readonly weight: number }[] {
  const set = recording.drive.polePairs;
  const stated = recording.machine.polePairs;
  const pairs = set ?? stated;
  const known: readonly [number, number][] =
    pairs === undefined ? [2, 3, 4, 5, 6, 7, 8, 10, 12, 14].map((p) => [p, 0.1]) : [[pairs, 1]];
  const list: { n: number; weight: number }[] = [];
  const add = (n: number, weight: number): void => {
    if (n > 0) list.push({ n, weight });
  };
  for (const [p, share] of known) {
    if (code === "leads-exchanged") add(2 * p, share);
    if (code === "pole-pairs-wrong") {
      if (set !== undefined && stated !== undefined && set !== stated) add(Math.abs(set - stated), 4 * share);
      add(1, 0.45 * share);
      add(2, 0.25 * share);
      add(3, 0.1 * share);
      add(4, 0.04 * share);
      add(p / 2, 0.1 * share);
      add(p, 0.06 * share);
      // In an order of the other three the leads are exchanged as well: n is the sum of both numbers (seldom drawn alone, sorted out by the set).
      for (const d of [-2, -1, 1, 2]) if (p + d >= 1) add(2 * p + d, 0.006 * share);
      add(1.5 * p, 0.004 * share);
    }
    if (code === "line-count-quadrature") {
      add(3 * p, 0.5 * share);
      add(0.75 * p, 0.5 * share);
      add(5 * p, 0.01 * share);
      add(1.25 * p, 0.01 * share);
    }
    if (code === "line-count-wrong") {
      const lines = recording.encoder.lines;
      const drive = recording.drive.encoderLines;
      if (lines !== undefined && drive !== undefined && lines !== drive)
        add((p * Math.abs(lines / drive - 1) * drive) / lines, 4 * share);
      // The disc has another of the common counts than the one set, about as far off as such mistakes go.
      const set = drive ?? lines;
      if (set !== undefined) {
        const others = commonLines.filter(
          (count) => count !== set && Math.abs(Math.log(count / set)) < Math.log(2.2),
        );
        for (const count of others)
          add((p * Math.abs(count / set - 1) * set) / count, (1.6 * share) / others.length);
      }
      for (const off of [0.012, 0.024, 0.05, 0.1, 0.2]) {
        add((p * off) / (1 + off), 0.04 * share);
        add((p * off) / (1 - off), 0.04 * share);
      }
      add(0.5 * p, 0.12 * share);
      add(p, 0.12 * share);
    }
  }
  const total = list.reduce((sum, item) => sum + item.weight, 0);
  return list.map(({ n, weight }) => ({ n, weight: weight / total }));
}

/** Log likelihood of each cause, given the turns of the drive's scale between two index pulses. */
export function lineCountLogs(seen: {
  readonly ratio: number;
  readonly spread: number;
}): (code: CauseCode) => number {
  const { ratio, spread } = seen;
  const fits = Math.abs(ratio - 1) < Math.max(0.004, 3 * spread);
  const fours = Math.abs(Math.log(ratio) / Math.log(4));
  const times4 = fours > 0.97 && fours < 1.03;
  return (code) =>
    Math.log(
      code === "line-count-wrong"
        ? fits
          ? 0.01
          : times4
            ? 0.1
            : 0.9
        : code === "line-count-quadrature"
          ? times4
            ? 0.95
            : 0.005
          : code === "sensor-fault"
            ? fits
              ? 0.4
              : 0.3
            : fits
              ? 0.97
              : 0.01,
    );
}

/** Causes with a mismatch. */
export const mismatchCauses: readonly CauseCode[] = [
  "leads-exchanged",
  "pole-pairs-wrong",
  "line-count-wrong",
  "line-count-quadrature",
];

/** Every mismatch worth a column in the torque law of this recording. */
export function mismatchCandidates(recording: Recording): number[] {
  return [...new Set(mismatchCauses.flatMap((code) => mismatchesOf(code, recording).map(({ n }) => n)))];
}

/** Density, per natural logarithm of the travel, of coming to rest after `travel` when torque reverses every pi/n of shaft angle. */
function travelDensity(travel: number, n: number): number {
  const x = (travel * n) / Math.PI;
  const anywhere = x < 1 ? x : 0;
  // Started where an alignment had left it: at full torque, a quarter of the way.
  const aligned = gaussianDensity(Math.log(Math.max(x, 1e-12) / 0.5), 0.22);
  const odd = gaussianDensity(Math.log(Math.max(x, 1e-12)), 0.8);
  return 0.42 * anywhere + 0.5 * aligned + 0.08 * odd;
}

/** Chance of seeing no travel at all under a mismatch: the start lay in the friction band, or the whole travel is below the resolution. */
function stillChance(limit: number, n: number): number {
  return Math.min(0.95, 0.008 + 0.9 * Math.min(1, (0.6 * limit * n) / Math.PI));
}

/** Support of one mismatch by the torque law, log likelihood relative to the best mismatch; undefined without a law. */
function lawLog(measures: Measures, n: number): number | undefined {
  const profile = measures.lawProfile;
  if (!profile || profile.length === 0) return undefined;
  // Where even the best law leaves much of the motion unexplained, none of them has much of a say.
  const least = Math.min(...profile.map(({ fit }) => fit.unexplained));
  const say = Math.min(1, Math.max(0.1, 1 - (least - 0.2) / 0.5));
  if (n === 0) {
    const straight = profile.find((item) => item.mismatch === 0)?.log;
    return straight === undefined ? undefined : say * straight;
  }
  let best: { gap: number; log: number } | undefined;
  for (const { mismatch, log } of profile) {
    if (mismatch === 0) continue;
    const gap = Math.abs(Math.log(mismatch / n));
    if (!best || gap < best.gap) best = { gap, log };
  }
  return best === undefined ? undefined : say * best.log;
}

/** The mismatch whose torque law explains the motion best. */
function lawPeak(measures: Measures): number | undefined {
  const moved = measures.lawProfile?.filter(({ mismatch }) => mismatch > 0) ?? [];
  return moved.length > 0 ? moved.reduce((a, b) => (b.log > a.log ? b : a)).mismatch : undefined;
}

/** Log likelihood of a motion that no torque law describes (an open lead, a slipping brake). */
const lawlessLog = -5;

/** A speed trial in which the shaft stayed, or came to rest, and hardly any of the current flowed that the loop asked for. */
export function withoutCurrent(observation: Observation, measures: Measures): boolean {
  const followed = measures.signs?.followed;
  return (
    observation.trial.kind === "speed" &&
    ["still", "swings", "locks", "unclear"].includes(observation.behaviour) &&
    followed !== undefined &&
    followed < 0.15
  );
}

/** Log likelihoods of all causes for one trial, from what was seen and measured. Constant terms common to all are left out. */
export function weigh(
  recording: Recording,
  observation: Observation,
  measures: Measures,
  background: Background,
): Weighed {
  const logs = new Map<CauseCode, number>(causes.map(({ code }) => [code, 0]));
  const offsets = new Float64Array(offsetGrid.length).fill(1);
  const { behaviour, trial, sense } = observation;
  const add = (code: CauseCode, value: number): void => {
    logs.set(code, (logs.get(code) as number) + value);
  };
  const add3 = (codes: readonly CauseCode[], value: number): void => {
    for (const code of codes) add(code, value);
  };
  const parts: { finding: string; logs: ReadonlyMap<CauseCode, number> }[] = [];
  let before = new Map(logs);
  const close = (finding: string): void => {
    const change = new Map<CauseCode, number>();
    // A quantity beyond all numbers (a damaged log) tells nothing: the whole finding is left out, for every cause alike.
    if ([...logs.values()].some((value) => !Number.isFinite(value))) {
      for (const [code, value] of before) logs.set(code, value);
      return;
    }
    for (const [code, value] of logs) change.set(code, value - (before.get(code) as number));
    if ([...change.values()].some((v) => v !== 0)) parts.push({ finding, logs: change });
    before = new Map(logs);
  };
  const nothing: Weighed = { logs, offsets, parts };
  if (trial.kind !== "torque" && trial.kind !== "speed") return nothing;
  if (behaviour === "unclear" && observation.holds.every((h) => h.sense === 0)) return nothing;

  // 1. What the shaft did, for causes with n = 0, by the offset error.
  const torque = trial.kind === "torque";
  const reaches = observation.holds.filter((h) => h.sense !== 0 && h.currentReach !== undefined);
  const reach =
    reaches.length > 0 && observation.signals.currentCommand
      ? Math.max(...reaches.map((h) => h.currentReach as number))
      : undefined;
  if (!torque && withoutCurrent(observation, measures)) {
    // Speed was asked for and no current came: a drive that has tripped or was not enabled says nothing of wiring or offset.
    for (const { code } of causes)
      add(code, Math.log(code === "current-not-following" ? 0.6 : code === "open-lead" ? 0.1 : 0.02));
    close("no current under speed control");
    return nothing;
  }
  for (let k = 0; k < offsetGrid.length; k += 1) {
    const gain = Math.cos(offsetGrid[k]);
    const away = breaksAway(Math.abs(gain));
    let like = 0.01;
    if (torque) {
      if (behaviour === "turns")
        like = 0.002 + ((gain > 0 ? sense === "with" : sense === "against") ? 0.96 * away : 0);
      else if (behaviour === "still") like = 0.004 + 0.9 * (1 - away);
      else if (behaviour === "swings") like = 0.002 + 0.08 * (1 - away);
      else if (behaviour === "locks") like = 0.004;
      else if (behaviour === "one-way") like = 0.02 + 0.1 * (1 - away);
      else if (behaviour === "runs-away") like = 0.004;
      else like = 0.03;
    } else {
      // Speed control may use all the current there is: friction weighs less.
      const moves = breaksAway(Math.min(1, Math.abs(gain) * 1.8));
      if (behaviour === "follows") like = 0.001 + (gain > 0 ? 0.95 * moves : 0);
      else if (behaviour === "runs-away") like = 0.003 + (gain < 0 ? 0.95 * moves : 0.004);
      else if (behaviour === "still") like = 0.003 + 0.9 * (1 - moves);
      else if (behaviour === "swings") like = 0.003 + 0.1 * (1 - moves);
      else if (behaviour === "locks") like = 0.005;
      else if (behaviour === "mirrored") like = 0.0015;
      else like = 0.04;
    }
    offsets[k] *= like;
  }
  // A loop whose display alone is turned holds its reference, mirrored, and never runs away.
  if (!torque && behaviour === "mirrored") add("speed-sign-display", Math.log(600));
  if (!torque && behaviour === "runs-away") add("speed-sign-display", Math.log(0.03));
  // 2. The back-EMF vector.
  const emf = measures.voltageOffset;
  if (emf && emf.unexplained < 0.2) {
    const sigma = Math.hypot(emf.error, 6 * deg);
    // In three logs of a hundred the fit may mean nothing: its angle is then anywhere in the turn.
    const misread = (0.03 / 0.97) * ((sigma * Math.sqrt(2 * Math.PI)) / (2 * Math.PI));
    speak(offsets, (k) => misread + Math.exp(-0.5 * (wrapped(offsetGrid[k] - emf.offset) / sigma) ** 2));
  }
  // 3. The size of the torque gain against a sound order.
  const law = observation.law;
  if (
    background.fullGain &&
    law &&
    law.unexplained < 0.3 &&
    (behaviour === "turns" || behaviour === "runs-away" || behaviour === "follows")
  ) {
    const gain = law.direct / background.fullGain.value;
    const sigma = Math.hypot(
      law.error / background.fullGain.value,
      0.08 + background.fullGain.error * Math.abs(gain),
    );
    // The same for the gain: anywhere between -1.5 and 1.5.
    const misread = (0.05 / 0.95) * ((sigma * Math.sqrt(2 * Math.PI)) / 3);
    speak(offsets, (k) => misread + Math.exp(-0.5 * ((gain - Math.cos(offsetGrid[k])) / sigma) ** 2));
  }
  // 4. Plateaus: where an offset weakens the magnets' flux the shaft goes faster and the current stays at its command.
  if (torque && behaviour === "turns") plateauLikelihood(observation, offsets);
  for (const [code, prior] of offsetPriors) {
    let sum = 0;
    for (let k = 0; k < offsets.length; k += 1) sum += prior[k] * offsets[k];
    add(code, Math.log(Math.max(sum, 1e-12)));
  }

  // 5. Causes with a mismatch: travel, ring-down and the torque law.
  const limit = 4 * observation.signals.angleStep;
  const d = measures.firstTravel ?? 0;
  const far = measures.oneWayTravel ?? 0;
  for (const code of mismatchCauses) {
    let sum = 0;
    // A sweep has its own say on the cause; here it only tells which of a cause's mismatches are meant.
    const seen = background.sweepMismatch;
    const list = mismatchesOf(code, recording).map((m) => ({
      n: m.n,
      weight: seen
        ? m.weight *
          (0.01 +
            Math.exp(-0.5 * ((m.n - seen.value) / Math.hypot(seen.error, Math.max(0.05, 0.1 * m.n))) ** 2))
        : m.weight,
    }));
    // An uncommon line count: wherever the torque law says, at the cost of a number fitted.
    const peak = code === "line-count-wrong" ? lawPeak(measures) : undefined;
    const pairs = recording.drive.polePairs ?? recording.machine.polePairs;
    if (peak !== undefined && (pairs === undefined || (peak < 1.2 * pairs && peak > 0.008 * pairs)))
      list.push({ n: peak, weight: 0.02 });
    const whole = list.reduce((total, { weight }) => total + weight, 0);
    for (const { n, weight: share } of list) {
      const weight = share / whole;
      let like: number;
      const x = (far * n) / Math.PI;
      if (behaviour === "still") like = stillChance(limit, n);
      else if (behaviour === "swings" || behaviour === "locks") {
        like = torque ? 0.9 * travelDensity(Math.max(d, limit), n) : x < 2.2 ? 0.5 : 0.05;
      } else if (behaviour === "turns" || behaviour === "follows" || behaviour === "runs-away")
        like = x < 0.4 ? 0.5 : x < 1.1 ? 0.1 : x < 2 ? 0.004 : 2e-4;
      else if (behaviour === "one-way") like = x < 2.2 ? 0.15 : 0.01;
      else like = 0.05;
      const byLaw = lawLog(measures, n);
      if (byLaw !== undefined) like *= Math.exp(byLaw);
      sum += weight * like;
    }
    add(code, Math.log(Math.max(sum, 1e-12)));
  }
  // Without voltage left the d current runs as it likes and the torque is no longer Kt*i_q: a plateau may break the law at n = 0.
  const law0 = lawLog(measures, 0);
  const straight = law0 === undefined || behaviour !== "turns" ? law0 : Math.max(law0, lawlessLog);
  if (straight !== undefined) for (const code of offsetPriors.keys()) add(code, straight);
  if (straight !== undefined) {
    const lawless = behaviour === "turns" ? lawlessLog - 1.5 : lawlessLog;
    add3(["jam", "load-or-friction", "unexplained"], lawless);
    // A pulsating torque, smoothed by the inertia, passes for a weaker one.
    add("open-lead", behaviour === "turns" ? straight - 1.5 : lawlessLog + 1);
    // An encoder that misses counts still shows a shaft that obeys its torque.
    add("sensor-fault", behaviour === "turns" ? straight - 1.5 : lawlessLog);
  }
  // Less current than was asked still makes its torque: the law holds for the current that was measured.
  if (straight !== undefined)
    add(
      "current-not-following",
      observation.signals.effortRole === "current" && behaviour === "turns" ? straight : lawlessLog,
    );

  // 6. Causes that are not of the form of a torque law.
  const small = d < 0.05;
  const table: Partial<Record<CauseCode, number>> = torque
    ? behaviour === "still"
      ? {
          "open-lead": 0.35,
          jam: 0.95,
          "load-or-friction": 0.85,
          "current-not-following": 0.95,
          "sensor-fault": 0.6,
        }
      : behaviour === "swings"
        ? {
            "open-lead": 0.25,
            jam: small ? 0.02 : 5e-4,
            "load-or-friction": small ? 0.06 : 0.01,
            "current-not-following": 0.02,
            "sensor-fault": 0.03,
          }
        : behaviour === "locks" || behaviour === "one-way"
          ? {
              "open-lead": 0.45,
              jam: 0.003,
              "load-or-friction": 0.03,
              "current-not-following": 0.005,
              "sensor-fault": 0.2,
            }
          : behaviour === "turns"
            ? {
                "open-lead": sense === "with" ? 0.35 : 0.05,
                jam: 1e-4,
                "load-or-friction": 0.01,
                "current-not-following": sense === "with" ? 0.2 : 0.01,
                "sensor-fault": sense === "with" ? 0.1 : 0.03,
              }
            : {
                "open-lead": 0.1,
                jam: 0.01,
                "load-or-friction": 0.02,
                "current-not-following": 0.02,
                "sensor-fault": 0.1,
              }
    : behaviour === "follows"
      ? {
          "open-lead": 0.3,
          jam: 1e-4,
          "load-or-friction": 0.2,
          "current-not-following": 0.2,
          "sensor-fault": 0.03,
        }
      : behaviour === "runs-away"
        ? {
            "open-lead": 0.05,
            jam: 1e-4,
            "load-or-friction": 0.002,
            "current-not-following": 0.002,
            "sensor-fault": 0.12,
          }
        : behaviour === "still"
          ? {
              "open-lead": 0.25,
              jam: 0.95,
              "load-or-friction": 0.8,
              "current-not-following": 0.95,
              "sensor-fault": 0.6,
            }
          : {
              "open-lead": 0.25,
              jam: 0.01,
              "load-or-friction": 0.05,
              "current-not-following": 0.02,
              "sensor-fault": 0.1,
            };
  for (const [code, value] of Object.entries(table)) add(code as CauseCode, Math.log(value));
  add("unexplained", Math.log(0.02));

  close("what the shaft did, how far it went and how its acceleration followed the current");
  // 7. Did the current follow its command? A shaft at rest leaves it all the voltage; a turning one may have none left.
  if (reach !== undefined) {
    const resting = behaviour === "still" || behaviour === "swings";
    // Past its command: an open lead, where the current pulsates with the angle, or an angle that is not the shaft's.
    const at = reach > 1.8 ? 0 : reach > 1.2 ? 1 : reach > 0.6 ? 2 : reach > 0.2 ? 3 : 4;
    const usual = resting ? [0.01, 0.06, 0.92, 0.006, 0.004] : [0.008, 0.04, 0.91, 0.035, 0.004];
    const open = [0.22, 0.2, 0.25, 0.08, 0.25];
    const not = [0.005, 0.005, 0.03, 0.36, 0.6];
    const sensor = [0.2, 0.08, 0.68, 0.03, 0.01];
    // Under speed control the current is asked for what it takes: that it was reached then says nothing.
    if (torque || at > 2)
      for (const { code } of causes)
        add(
          code,
          Math.log(
            (code === "open-lead"
              ? open
              : code === "current-not-following"
                ? not
                : code === "sensor-fault"
                  ? sensor
                  : usual)[at],
          ),
        );
  }
  close("whether the current reached its command");
  // 7b. With a lead open the current lies on an axis fixed in the stator: it pulsates twice an electrical turn, or stands on the magnet axis.
  const { pulsation, direct, loop } = measures.signs ?? {};
  if (pulsation && torque) {
    const pulsates = pulsation.size > 0.12 && pulsation.explained > 0.1;
    const moved = behaviour === "turns" ? 0.006 : 0.03;
    for (const { code } of causes)
      add(
        code,
        Math.log(
          code === "open-lead"
            ? pulsates
              ? 0.93
              : 0.07
            : code === "sensor-fault"
              ? pulsates
                ? 0.15
                : 0.85
              : pulsates
                ? moved
                : 1 - moved,
        ),
      );
  } else if (direct !== undefined && torque && (behaviour === "still" || behaviour === "swings")) {
    const aside = direct > 0.12;
    for (const { code } of causes)
      add(code, Math.log(code === "open-lead" ? (aside ? 0.55 : 0.45) : aside ? 0.015 : 0.985));
  }
  close("the way the current pulsates with the angle");
  // 8. A phase without current.
  if (measures.leastPhase !== undefined) {
    const dead = measures.leastPhase < 0.15;
    const usual = dead ? (behaviour === "still" || behaviour === "swings" ? 0.08 : 0.005) : 0.95;
    for (const { code } of causes) add(code, Math.log(code === "open-lead" ? (dead ? 0.9 : 0.1) : usual));
  }
  close("the three phase currents");
  // 9. The encoder against its own index.
  if (measures.indexTurns) {
    const likelihood = lineCountLogs(measures.indexTurns);
    for (const { code } of causes) add(code, likelihood(code));
  }
  close("the encoder against its own index");
  // 10. The sign of the logged speed.
  const compared = observation.signals.speedAgainstPosition;
  if (compared) {
    const reversed = compared.sign < 0;
    for (const { code } of causes)
      add(code, Math.log(code === "speed-sign-display" ? (reversed ? 0.45 : 0.55) : reversed ? 0.003 : 0.98));
  }
  close("the sign of the logged speed against the position");
  // 11. How well the speed was held: gains far off make a loop that swings, chatters, or takes its time without pressing.
  if (!torque && loop && behaviour !== "runs-away" && behaviour !== "mirrored") {
    const swings = loop.swing > 0.25 || (loop.crossings >= 5 && (loop.swing > 0.04 || loop.overshoot > 0.3));
    const nervous = (loop.chatter ?? 0) > 0.18 || loop.overshoot > 0.8;
    const slow = loop.rise > 0.9 && (loop.pressed ?? 1) < 0.5;
    const weak = loop.rise > 0.9;
    const at = swings ? 0 : nervous ? 1 : slow ? 2 : weak ? 3 : 4;
    const usual = [0.03, 0.06, 0.02, 0.09, 0.8];
    const mistuned = [0.35, 0.12, 0.18, 0.1, 0.25];
    const sensor = [0.3, 0.15, 0.05, 0.1, 0.4];
    const open = [0.12, 0.15, 0.05, 0.38, 0.3];
    const heavy = [0.1, 0.1, 0.02, 0.55, 0.23];
    const starved = [0.08, 0.4, 0.1, 0.3, 0.12];
    const disturbed = [0.12, 0.06, 0.02, 0.2, 0.6];
    // A shaft that stays moves for none of these reasons: only slowness counts there.
    if (behaviour === "follows" || behaviour === "unclear" || slow)
      for (const { code } of causes)
        add(
          code,
          Math.log(
            (code === "speed-loop-mistuned"
              ? mistuned
              : code === "open-lead"
                ? open
                : code === "load-or-friction"
                  ? heavy
                  : code === "current-not-following"
                    ? starved
                    : code === "disturbed-offset"
                      ? disturbed
                      : code === "sensor-fault"
                        ? sensor
                        : usual)[at],
          ),
        );
    if (behaviour !== "follows")
      add("speed-loop-mistuned", Math.log(behaviour === "unclear" ? 5 : slow ? 20 : 1));
  }
  close("how well the speed was held");
  // 12. What was stated about the settings.
  const { drive, machine, encoder } = recording;
  if (
    drive.polePairs !== undefined &&
    machine.polePairs !== undefined &&
    drive.polePairs !== machine.polePairs
  )
    add("pole-pairs-wrong", Math.log(12));
  if (drive.encoderLines !== undefined && encoder.lines !== undefined && drive.encoderLines !== encoder.lines)
    add3(["line-count-wrong", "line-count-quadrature"], Math.log(12));
  close("the settings stated");
  // 13. A count that stops dead while the shaft was at speed.
  if (measures.signs?.countStopped)
    for (const { code } of causes) add(code, Math.log(code === "sensor-fault" ? 0.5 : 0.01));

  close("the way the count stopped");
  return { logs, offsets, parts };
}

/**
 * Multiplies the likelihood of each offset by what a finding says of it. A quantity beyond all numbers (a damaged log) says nothing, for
 * every offset alike.
 */
function speak(offsets: Float64Array, like: (k: number) => number): void {
  const said = offsets.map((before, k) => before * like(k));
  if (said.every(Number.isFinite) && said.some((value) => value > 0)) offsets.set(said);
}

function plateauLikelihood(observation: Observation, offsets: Float64Array): void {
  const settled = observation.holds.filter(
    (h) => h.sense !== 0 && h.turning && Math.abs(h.endChange) < 0.06 && h.currentShare !== undefined,
  );
  if (!observation.signals.currentCommand || !observation.signals.current) return;
  // A trip took away the time to settle.
  if (settled.length === 0 && observation.tripped !== undefined) return;
  // A weaker torque takes longer to its plateau: not having settled leans, weakly, towards an offset.
  speak(offsets, (k) => {
    const gain = Math.abs(Math.cos(offsetGrid[k]));
    const arrives = 0.15 + 0.5 * gain * gain;
    return settled.length > 0 ? arrives : 1 - arrives;
  });
  if (settled.length === 0) return;
  const share = (list: typeof settled): number => Math.max(...list.map((h) => h.currentShare as number));
  const plus = settled.filter((h) => h.sense > 0);
  const minus = settled.filter((h) => h.sense < 0);
  const most = share(settled);
  speak(offsets, (k) => {
    const sine = Math.abs(Math.sin(offsetGrid[k]));
    // Without an offset the current falls to what friction asks; with one, the weakening direction keeps about sin(eps) of it.
    const expected = Math.max(0.25, Math.min(0.95, 1.1 * sine));
    const sigma = most < expected ? 0.13 + 0.1 * (1 - sine) : 0.16 + 0.08 * (1 - sine);
    // Seen in both senses, the weakening one is among them: a current that fell in either speaks the more against an offset.
    const odd = most < expected && plus.length > 0 && minus.length > 0 ? 0.03 : 0.08;
    return odd + (1 - odd) * Math.exp(-0.5 * ((most - expected) / sigma) ** 2);
  });
  if (plus.length === 0 || minus.length === 0) return;
  const fast = (list: typeof settled): number => Math.max(...list.map((h) => Math.abs(h.tailSpeed)));
  const [a, b] = [fast(plus), fast(minus)];
  const asymmetry = (a - b) / (a + b);
  const difference = share(plus) - share(minus);
  // Either sign of the score is possible without an offset (load, rounding); with one it has the offset's sign.
  const score = asymmetry / 0.04 + difference / 0.12;
  speak(offsets, (k) => {
    const lean = Math.sin(offsetGrid[k]);
    return 0.1 + 0.9 / (1 + Math.exp(-2 * score * lean));
  });
}

/** Odds from log likelihoods and priors, with a share of model error that keeps every cause possible. */
export function oddsOf(
  logs: ReadonlyMap<CauseCode, number>,
  priors: ReadonlyMap<CauseCode, number>,
  modelError = 0.01,
): Map<CauseCode, number> {
  let most = Number.NEGATIVE_INFINITY;
  for (const [code, log] of logs) most = Math.max(most, log + Math.log(priors.get(code) ?? 1e-9));
  let sum = 0;
  const raw = new Map<CauseCode, number>();
  let priorSum = 0;
  for (const [code, log] of logs) {
    const prior = priors.get(code) ?? 1e-9;
    const value = Math.exp(log + Math.log(prior) - most);
    raw.set(code, value);
    sum += value;
    priorSum += prior;
  }
  const odds = new Map<CauseCode, number>();
  for (const [code, value] of raw)
    odds.set(code, (1 - modelError) * (value / sum) + (modelError * (priors.get(code) ?? 1e-9)) / priorSum);
  return odds;
}
