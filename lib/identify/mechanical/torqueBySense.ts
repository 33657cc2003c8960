import type { Regression } from "../../numeric/linear/linearRegression.js";
import type { Run } from "../../run/run.js";
import { travel } from "../electrical/travel.js";
import { leakOf } from "../modelError.js";
import { signalsOf } from "../signals.js";
import { twoPassRegression } from "./equationOfMotion.js";
import { type MechanicalRow, mechanicalRows } from "./mechanicalRows.js";
import { stretchesOf } from "./stretches.js";

/**
 * One account of how the torque of a current differs with the current's sign: of a current `i` it is
 * `gain*(1 + share*i)` times what the pooled torque per ampere says.
 */
export interface SenseAccount {
  /** Probability; those of all accounts sum to one. */
  readonly weight: number;
  /** Mean and standard deviation, 1/A. */
  readonly share: number;
  readonly deviation: number;
  readonly gain: number;
}

/** Speed, of the fastest, above which friction is taken as Coulomb plus viscous. */
const leastSpeedShare = 0.05;
/**
 * Part of the torque that differs at the largest current, as standard deviations of the same probability, for a tangent
 * of the offset error of one: what the winding's flux alone does, and a difference of the inductances whose flux is a
 * tenth of the magnets' (common practice, no source).
 */
const usualShares = [0.02, 0.1] as const;
/** Standard deviation by which the difference leaves the square of the current, over itself (no source). */
const squareError = 0.15;
/**
 * Where the offset error is not known, a reversed torque stands as often half a turn off, where both senses are alike,
 * as a third of a turn (no source): tangents and their probabilities.
 */
const usualTangents = [
  { tangent: 0, probability: 0.5 },
  { tangent: Math.sqrt(3), probability: 0.5 },
] as const;
/** Probability of a load that pulls one way; one has the size of the friction (common practice, no source). */
const loaded = 1 / 3;

/** What the windows tell of the difference (first) and a load (second): precision, and precision times value. */
interface Told {
  readonly precision: readonly (readonly number[])[];
  readonly pull: readonly number[];
  /** By what the torque per ampere moves with either. */
  readonly moves: readonly number[];
  /** Acceleration per ampere, and that of Coulomb friction. */
  readonly perAmpere: number;
  readonly coulomb: number;
}

/**
 * Accounts of how the torque of the two signs of a current differs, from the torque trials of a run. With an offset
 * error of 120 degrees the current has a part along the magnets: where the inductances of the two axes differ, or the
 * winding's flux moves the currents of a drive whose shaft accelerates, it adds a torque that goes as the square of the
 * current and has one sign. One sense of a runaway is then the quicker one, and the more so the more current flows. The
 * equation of motion is fitted with such a term beside a load's; both have a prior, and each account (a load or none,
 * the offset error where it is not known) counts by how well it explains the windows.
 *
 * @param largest current at which the usual size of the difference is meant, A
 * @param torqueGain g of the offset error, where it is known
 * @example
 * torqueBySense(run, 12).map(({ share }) => 12 * share); // by what part the torque of +12 A is larger
 */
export function torqueBySense(run: Run, largest: number, torqueGain?: number): readonly SenseAccount[] {
  const told = run.once("torque by sense", () => toldBy(run));
  const tangents =
    torqueGain === undefined
      ? usualTangents
      : [
          {
            tangent: tangentOfGain(torqueGain),
            probability: 1,
          },
        ];
  const priors = tangents.flatMap(({ tangent, probability }) =>
    usualShares.map((share) => ({
      usual: (share * tangent) / largest,
      probability: probability / usualShares.length,
    })),
  );
  const accounts = priors.flatMap(({ usual, probability }) => {
    return told === undefined
      ? [{ likelihood: 0, prior: probability, share: 0, deviation: usual, gain: 1 }]
      : [false, true].map((withLoad) => ({
          prior: probability * (withLoad ? loaded : 1 - loaded),
          ...accountOf(told, usual * Math.abs(told.perAmpere), withLoad ? told.coulomb : 0),
        }));
  });
  const best = Math.max(...accounts.map(({ likelihood }) => likelihood));
  const weights = accounts.map(({ likelihood, prior }) => prior * Math.exp(likelihood - best));
  const sum = weights.reduce((a, b) => a + b, 0);
  return accounts.map(({ share, deviation, gain }, k) => ({
    weight: weights[k] / sum,
    share,
    deviation,
    gain,
  }));
}

/** Torque factor below which no tangent is taken: it is about a right angle there. */
const leastGain = 0.1;

/** Size of the tangent of the offset error whose cosine is a torque gain. */
export function tangentOfGain(torqueGain: number): number {
  return Math.sqrt(Math.max(0, 1 - torqueGain ** 2)) / Math.max(leastGain, Math.abs(torqueGain));
}

/**
 * One account with the logarithm of its likelihood: difference and load are normal about zero with the given standard
 * deviations, and what the windows tell is normal about them.
 */
function accountOf({ precision, pull, moves, perAmpere }: Told, difference: number, load: number) {
  const size = [difference, load];
  const [[a, b], [, d]] = precision.map((row, j) =>
    row.map((v, k) => (j === k ? 1 : 0) + size[j] * v * size[k]),
  );
  const scaled = pull.map((v, j) => size[j] * v);
  const determinant = a * d - b * b;
  const mean = [(d * scaled[0] - b * scaled[1]) / determinant, (a * scaled[1] - b * scaled[0]) / determinant];
  const found = size[0] * mean[0];
  return {
    likelihood: (scaled[0] * mean[0] + scaled[1] * mean[1] - Math.log(determinant)) / 2,
    share: found / perAmpere,
    deviation: Math.hypot(size[0] * Math.sqrt(d / determinant), squareError * found) / Math.abs(perAmpere),
    gain: 1 + (moves[0] * found) / perAmpere,
  };
}

const columns = {
  first: (r: MechanicalRow) => r.input,
  difference: (r: MechanicalRow) => r.input ** 2,
  coulomb: (r: MechanicalRow) => -r.direction,
  viscous: (r: MechanicalRow) => -r.speed,
};

/** What the torque trials tell; undefined where no current was logged with a motion, or too little of it. */
function toldBy(run: Run): Told | undefined {
  const signals = signalsOf(run);
  if (signals?.input?.unit !== "A") return undefined;
  const trials = run.chosenTrials.filter(
    ({ kind, from, to }) => kind === "torque" && travel(signals.angle, from, to) > 4 * Math.PI,
  );
  let fastest = 0;
  for (const { from, to } of trials)
    for (const w of signals.motion.speed.subarray(from, to)) if (Math.abs(w) > fastest) fastest = Math.abs(w);
  const rows = mechanicalRows(signals, trials.flatMap(stretchesOf), {
    leastSpeed: leastSpeedShare * fastest,
  });
  const bare = rows.map((r) => Object.values(columns).map((column) => column(r)));
  const solve = (design: readonly (readonly number[])[]): Regression | null =>
    twoPassRegression(
      design,
      rows.map((r) => r.acceleration),
      rows.map((r) => r.lengthClass),
    );
  const whole = rows.length < 6 ? null : solve(bare.map((row) => [...row, 1]));
  const part = whole ?? (rows.length < 6 ? null : solve(bare));
  if (part === null || !(Math.abs(part.coefficients[0]) > 0)) return undefined;
  const [perAmpere, found, coulomb] = part.coefficients;
  // Student's t of few blocks as a normal law of the same 95 % points.
  const wider = (j: number): number => part.critical[j] / 1.959964;
  const { covariance } = part;
  const same = { perAmpere, coulomb: Math.abs(coulomb) };
  if (whole !== null) {
    const [c, l] = [covariance[1][1] * wider(1) ** 2, covariance[4][4] * wider(4) ** 2];
    const both = covariance[1][4] * wider(1) * wider(4);
    const determinant = c * l - both ** 2;
    if (!(determinant > 0)) return undefined;
    const precision = [
      [l / determinant, -both / determinant],
      [-both / determinant, c / determinant],
    ];
    const load = whole.coefficients[4];
    return {
      ...same,
      precision,
      pull: precision.map(([x, y]) => x * found + y * load),
      moves: [covariance[0][1] / covariance[1][1], 0],
    };
  }
  // A load that the windows do not part from the rest: it moves the difference by a known part of itself.
  const leak = leakOf(
    part,
    bare,
    rows.map(() => 1),
  );
  if (leak === null) return undefined;
  const weight = 1 / (covariance[1][1] * wider(1) ** 2);
  return {
    ...same,
    precision: [
      [weight, weight * leak[1]],
      [weight * leak[1], weight * leak[1] ** 2],
    ],
    pull: [weight * found, weight * leak[1] * found],
    moves: [covariance[0][1] / covariance[1][1], 0],
  };
}
