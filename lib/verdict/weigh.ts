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
  /** Likelihood of each offset error on `offsetGrid`, the largest is 1. */
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
      ["speed-sign-display", (e) => gaussianDensity(e, 7 * deg)],
      ["stale-offset-plus", (e) => gaussianDensity(wrapped(e - 120 * deg), 7 * deg)],
      ["stale-offset-minus", (e) => gaussianDensity(wrapped(e + 120 * deg), 7 * deg)],
      ["half-turn-offset", (e) => gaussianDensity(wrapped(e - Math.PI), 8 * deg)],
      [
        "disturbed-offset",
        // Anything from a visible error to a quarter of a turn, seldom more.
        (e) => {
          const size = Math.abs(e) / deg;
          return size < 12 ? 0.002 : size < 20 ? 0.4 : size < 95 ? 1 : size < 110 ? 0.15 : 0.02;
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
 * 2 % to 60 %, evenly in the logarithm (common practice, no source).
 */
function breaksAway(size: number): number {
  if (size <= 0.02) return 0;
  if (size >= 0.6) return 1;
  return Math.log(size / 0.02) / Math.log(0.6 / 0.02);
}

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
    }
    if (code === "line-count-quadrature") {
      add(3 * p, 0.5 * share);
      add(0.75 * p, 0.5 * share);
    }
    if (code === "line-count-wrong") {
      const lines = recording.encoder.lines;
      const drive = recording.drive.encoderLines;
      if (lines !== undefined && drive !== undefined && lines !== drive)
        add((p * Math.abs(lines / drive - 1) * drive) / lines, 4 * share);
      for (const off of [0.012, 0.024, 0.05, 0.1, 0.2]) {
        add((p * off) / (1 + off), 0.08 * share);
        add((p * off) / (1 - off), 0.08 * share);
      }
      add(0.5 * p, 0.12 * share);
      add(p, 0.12 * share);
    }
  }
  const total = list.reduce((sum, item) => sum + item.weight, 0);
  return list.map(({ n, weight }) => ({ n, weight: weight / total }));
}

/** Causes with a mismatch. */
const mismatchCauses: readonly CauseCode[] = [
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
  return Math.min(0.95, 0.05 + 0.9 * Math.min(1, (1.2 * limit * n) / Math.PI));
}

/** Support of one mismatch by the torque law, log likelihood relative to the best mismatch; undefined without a law. */
function lawLog(measures: Measures, n: number): number | undefined {
  const profile = measures.lawProfile;
  if (!profile || profile.length === 0) return undefined;
  if (n === 0) return profile.find((item) => item.mismatch === 0)?.log;
  let best: { gap: number; log: number } | undefined;
  for (const { mismatch, log } of profile) {
    if (mismatch === 0) continue;
    const gap = Math.abs(Math.log(mismatch / n));
    if (!best || gap < best.gap) best = { gap, log };
  }
  return best?.log;
}

/** Log likelihood of a motion that no torque law describes (an open lead, a slipping brake). */
const lawlessLog = -5;

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
      else like = 0.04;
    }
    offsets[k] *= like;
  }
  // A log whose position and speed are both shown with the sign turned looks like g = -1 under torque.
  const agree = observation.signals.speedAgainstPosition?.sign !== -1;
  if (agree && torque && behaviour === "turns")
    add("speed-sign-display", Math.log(sense === "against" ? 150 : 0.05));
  if (!torque && behaviour === "mirrored") add("speed-sign-display", Math.log(25));
  // 2. The back-EMF vector.
  const emf = measures.voltageOffset;
  if (emf && emf.unexplained < 0.2) {
    const sigma = Math.hypot(emf.error, 6 * deg);
    for (let k = 0; k < offsets.length; k += 1)
      offsets[k] *= 0.03 + 0.97 * Math.exp(-0.5 * (wrapped(offsetGrid[k] - emf.offset) / sigma) ** 2);
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
    for (let k = 0; k < offsets.length; k += 1)
      offsets[k] *= 0.03 + 0.97 * Math.exp(-0.5 * ((gain - Math.cos(offsetGrid[k])) / sigma) ** 2);
  }
  // 4. Plateaus: where an offset weakens the magnets' flux the shaft goes faster and the current stays at its command.
  if (torque && behaviour === "turns") plateauLikelihood(observation, offsets);
  const top = Math.max(...offsets);
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
    for (const { n, weight } of mismatchesOf(code, recording)) {
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
      if (background.sweepMismatch) {
        const z = (n - background.sweepMismatch.value) / Math.hypot(background.sweepMismatch.error, 0.1 * n);
        like *= 0.01 + Math.exp(-0.5 * z * z);
      }
      sum += weight * like;
    }
    add(code, Math.log(Math.max(sum, 1e-12)));
  }
  const straight = lawLog(measures, 0);
  if (straight !== undefined) for (const code of offsetPriors.keys()) add(code, straight);
  if (background.sweepMismatch) {
    const z = background.sweepMismatch.value / Math.max(background.sweepMismatch.error, 0.05);
    for (const code of offsetPriors.keys()) add(code, Math.log(0.01 + Math.exp(-0.5 * z * z)));
  }
  if (straight !== undefined)
    add3(
      ["open-lead", "jam", "load-or-friction", "current-not-following", "sensor-fault", "unexplained"],
      lawlessLog,
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
            "open-lead": 0.12,
            jam: small ? 0.02 : 5e-4,
            "load-or-friction": small ? 0.06 : 0.01,
            "current-not-following": small ? 0.02 : 0.001,
            "sensor-fault": 0.03,
          }
        : behaviour === "locks" || behaviour === "one-way"
          ? {
              "open-lead": 0.3,
              jam: 0.003,
              "load-or-friction": 0.03,
              "current-not-following": 0.005,
              "sensor-fault": 0.2,
            }
          : behaviour === "turns"
            ? {
                "open-lead": sense === "with" ? 0.2 : 0.01,
                jam: 1e-4,
                "load-or-friction": 0.01,
                "current-not-following": sense === "with" ? 0.3 : 0.01,
                "sensor-fault": 0.03,
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
          "open-lead": 0.1,
          jam: 1e-4,
          "load-or-friction": 0.01,
          "current-not-following": 0.005,
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
  // 7. Did the current follow its command?
  const reaches = observation.holds.filter((h) => h.sense !== 0 && h.currentReach !== undefined);
  if (reaches.length > 0 && observation.signals.currentCommand) {
    const reach = Math.max(...reaches.map((h) => h.currentReach as number));
    // A lead that makes no contact lets the current pulsate past its command as the shaft turns.
    const past = torque && reach > 1.2;
    const usual = past ? 0.03 : reach > 0.85 ? 0.955 : reach > 0.2 ? 0.025 : 0.005;
    const open = past ? 0.35 : reach > 0.85 ? 0.2 : reach > 0.2 ? 0.2 : 0.2;
    const not = past ? 0.005 : reach > 0.85 ? 0.02 : reach > 0.2 ? 0.38 : 0.6;
    for (const { code } of causes)
      add(code, Math.log(code === "open-lead" ? open : code === "current-not-following" ? not : usual));
  }
  close("whether the current reached its command");
  // 8. A phase without current.
  if (measures.leastPhase !== undefined) {
    const dead = measures.leastPhase < 0.15;
    const usual = dead ? (behaviour === "still" || behaviour === "swings" ? 0.08 : 0.005) : 0.95;
    for (const { code } of causes) add(code, Math.log(code === "open-lead" ? (dead ? 0.9 : 0.1) : usual));
  }
  close("the three phase currents");
  // 9. The encoder against its own index.
  if (measures.indexTurns) {
    const { ratio, spread } = measures.indexTurns;
    const off = Math.abs(ratio - 1);
    const fits = off < Math.max(0.004, 3 * spread);
    const times4 =
      Math.abs(Math.log(ratio) / Math.log(4)) > 0.97 && Math.abs(Math.log(ratio) / Math.log(4)) < 1.03;
    for (const { code } of causes) {
      if (code === "line-count-wrong") add(code, Math.log(fits ? 0.01 : times4 ? 0.1 : 0.9));
      else if (code === "line-count-quadrature") add(code, Math.log(times4 ? 0.95 : 0.005));
      else if (code === "sensor-fault") add(code, Math.log(fits ? 0.4 : 0.3));
      else add(code, Math.log(fits ? 0.97 : 0.01));
    }
  }
  close("the encoder against its own index");
  // 10. The sign of the logged speed.
  const compared = observation.signals.speedAgainstPosition;
  if (compared) {
    const reversed = compared.sign < 0;
    for (const { code } of causes)
      add(code, Math.log(code === "speed-sign-display" ? (reversed ? 0.97 : 0.3) : reversed ? 0.003 : 0.98));
  } else add("speed-sign-display", Math.log(0.5));
  close("the sign of the logged speed against the position");
  // 11. How well the speed was held.
  if (!torque && behaviour === "follows") {
    const swinging = (observation.ripple ?? 0) > 0.2;
    const short = (observation.shortfall ?? 0) > 0.15;
    for (const { code } of causes) {
      if (code === "speed-loop-mistuned") add(code, Math.log(swinging ? 0.6 : short ? 0.3 : 0.08));
      else if (code === "open-lead") add(code, Math.log(swinging ? 0.5 : short ? 0.2 : 0.3));
      else if (code === "load-or-friction") add(code, Math.log(short ? 0.5 : 0.2));
      else add(code, Math.log(swinging ? 0.03 : short ? 0.05 : 0.9));
    }
  } else if (!torque) add("speed-loop-mistuned", Math.log(behaviour === "unclear" ? 5 : 0.3));
  else add("speed-loop-mistuned", Math.log(0.5));
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
  if (stopsDead(observation))
    for (const { code } of causes) add(code, Math.log(code === "sensor-fault" ? 0.5 : 0.01));

  close("the way the count stopped");
  if (top > 0) for (let k = 0; k < offsets.length; k += 1) offsets[k] /= top;
  return { logs, offsets, parts };
}

function plateauLikelihood(observation: Observation, offsets: Float64Array): void {
  const settled = observation.holds.filter(
    (h) => h.sense !== 0 && h.turning && Math.abs(h.endChange) < 0.06 && h.currentShare !== undefined,
  );
  if (!observation.signals.currentCommand || !observation.signals.current) return;
  // A weaker torque takes longer to its plateau: not having settled leans, weakly, towards an offset.
  for (let k = 0; k < offsets.length; k += 1) {
    const gain = Math.abs(Math.cos(offsetGrid[k]));
    offsets[k] *= settled.length > 0 ? 0.3 + 0.38 * gain : 0.7 - 0.38 * gain;
  }
  if (settled.length === 0) return;
  const share = (list: typeof settled): number => Math.max(...list.map((h) => h.currentShare as number));
  const plus = settled.filter((h) => h.sense > 0);
  const minus = settled.filter((h) => h.sense < 0);
  const most = share(settled);
  for (let k = 0; k < offsets.length; k += 1) {
    const sine = Math.abs(Math.sin(offsetGrid[k]));
    // Without an offset the current falls to what friction asks; with one, the weakening direction keeps about sin(eps) of it.
    const expected = Math.max(0.25, Math.min(0.95, 1.1 * sine));
    const sigma = most < expected ? 0.13 + 0.1 * (1 - sine) : 0.16 + 0.08 * (1 - sine);
    offsets[k] *= 0.08 + 0.92 * Math.exp(-0.5 * ((most - expected) / sigma) ** 2);
  }
  if (plus.length === 0 || minus.length === 0) return;
  const fast = (list: typeof settled): number => Math.max(...list.map((h) => Math.abs(h.tailSpeed)));
  const [a, b] = [fast(plus), fast(minus)];
  const asymmetry = (a - b) / (a + b);
  const difference = share(plus) - share(minus);
  // Either sign of the score is possible without an offset (load, rounding); with one it has the offset's sign.
  const score = asymmetry / 0.04 + difference / 0.12;
  for (let k = 0; k < offsets.length; k += 1) {
    const lean = Math.sin(offsetGrid[k]);
    offsets[k] *= 0.1 + 0.9 / (1 + Math.exp(-2 * score * lean));
  }
}

/** The count froze within a sample or two although the shaft had been at speed, and stayed frozen. */
function stopsDead(observation: Observation): boolean {
  const { angle, speed, angleStep } = observation.signals;
  if (!angle || !speed || (observation.behaviour !== "locks" && observation.behaviour !== "one-way"))
    return false;
  let last = angle.length - 1;
  while (last > 0 && angle[last] === angle[last - 1]) last -= 1;
  if (last < 20 || angle.length - last < 0.1 * angle.length) return false;
  const step = Math.abs(angle[last] - angle[last - 1]);
  const before = Math.abs(angle[last - 1] - angle[last - 4]) / 3;
  let peak = 0;
  for (let i = 1; i < angle.length; i += 1) peak = Math.max(peak, Math.abs(angle[i] - angle[i - 1]));
  return before > 0.3 * peak && before > 3 * angleStep && step > 0;
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
