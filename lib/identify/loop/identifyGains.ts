import { studentT } from "../../numeric/index.js";
import type { Finding, Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";
import { notBelowZero } from "../bounds.js";
import { ofUniform } from "../modelError.js";
import { integralByAngle, sumError } from "./gainIntegral.js";
import { blocks, type Solved } from "./gainRegression.js";
import { likeliestLaw } from "./laggedLaws.js";
import { lawColumns } from "./lawColumns.js";
import type { FilteredLaw, Unseen } from "./loopFilter.js";
import { missingColumns, trialColumns } from "./trialColumns.js";

/** Gains that a drive was running with, as its log shows them. */
export interface GainIdentification {
  /** Parallel form, A per rad/s and A per rad of the shaft. Absent: could not be had, `missing` says why. */
  readonly kp?: Estimate;
  readonly ki?: Estimate;
  /** Reference weight; absent where the reference did not move within the rows used (1 is then taken). */
  readonly referenceWeight?: Estimate;
  /** Share of the command's movement that the law explains, 0 to 1. */
  readonly explained?: number;
  /** RMS of what it leaves, A. */
  readonly residual?: number;
  /** Rows used, and share of rows left out because the command stood at its limit. */
  readonly rows: number;
  readonly saturatedShare: number;
  /** Rows by which the command lags the error it answers. */
  readonly lag?: number;
  readonly missing?: string;
  readonly findings: readonly Finding[];
}

/**
 * The gains a speed loop was running with, by regression of the current command on the speed error, its integral and
 * the reference:
 * i = kp*e + ki*integral(e) + kp*(b-1)*r + constant, with one constant for each stretch between saturations and between
 * jumps of the reference (what the sum gained there is not known to the row).
 * Where the log is faster than the loop (the command moves in stairs) one row of each tread is used: between two runs
 * of the loop command and speed only stand still.
 * Rows at the current limit are left out with two rows on either side. The intervals are by leaving out blocks of rows,
 * which allows for correlated residuals; they allow for a filter between the logged speed and the loop's that the log
 * need not show, for not knowing whether the present error is already in the sum (half a row either way, each with the
 * same probability) and, by a thousandth, for the digits and stamps of the log. An integral gain that is not told from
 * one of the other sign is an upper limit. Where only the position was logged, all columns are taken as means
 * over the same short windows, so that no difference of counts stands in the law.
 *
 * @param run needs speed command, speed and current command
 * @param trial a speed trial of it
 * @example
 * const { kp, ki } = identifyGains(run, trial);
 * kp; // { value: 0.0300, low: 0.0298, high: 0.0302, unit: "A.s/rad", ... }
 */
export function identifyGains(run: Run, trial: Trial): GainIdentification {
  return run.once(`gains in use ${trial.from} ${trial.to}`, () => identify(run, trial));
}

/** What the digits and stamps of a log leave of a gain (common practice, no source). */
const digitsError = 1e-3;
/**
 * The same where the speed comes from a position: what the loop does to it is then wholly unseen, and no first-order
 * lag only (a difference over one run of the loop, a command that is held for one). Of a lag of 2 ms at a closed loop
 * of 45 rad/s the second order is (0.09)^2/2 = 0.4 %.
 */
const lagShapeError = 4e-3;

function identify(run: Run, trial: Trial): GainIdentification {
  const none = (missing: string, saturatedShare = 0): GainIdentification => ({
    rows: 0,
    saturatedShare,
    missing,
    findings: [],
  });
  const lacking = missingColumns(run);
  if (lacking.length > 0) return none(`not logged: ${lacking.join(", ")}`);
  const whole = trialColumns(run, trial);
  if (whole === undefined) return none("fewer than 16 whole rows");
  const law = lawColumns(run, trial, whole);
  const { columns, saturatedShare } = law;
  const ownSpeed = run.channel("speed") !== undefined;
  const best = likeliestLaw(law, ownSpeed);
  if (best === undefined)
    return none(
      saturatedShare > 0.5
        ? "the command stands at its limit for most of the trial: nothing to see the gains by"
        : "the error hardly moves: nothing to see the gains by",
      saturatedShare,
    );
  const largest = columns.command.reduce((most, u) => Math.max(most, Math.abs(u)), 0);
  const { solved } = best;
  if (solved.movement < 0.005 * largest)
    return none("inside its limit the command hardly moves: nothing to see the gains by", saturatedShare);
  const kp = best.kp.value;
  const halfRow = (Math.abs(best.ki.value) * columns.interval) / 2;
  if (half(best.kp) + halfRow > Math.abs(kp))
    return none(
      "the proportional gain cannot be told from nothing: the error moves too little inside the current limit",
      saturatedShare,
    );
  const byAngle = integralByAngle(best, columns, ownSpeed);
  const summed = law.windowed ? [0, 0] : sumError(best, law.rounded);
  const digits = law.windowed ? lagShapeError : digitsError;
  const unseen = (value: number, either: readonly number[]): Unseen => ({
    either: either.filter((size) => size > 0),
    deviation: ofUniform(digits * Math.abs(value)),
  });
  const wider = ({ value, low, high }: Interval, by: number): Interval => {
    const most = digits * Math.abs(value) + by;
    return { value, low: low - most, high: high + most };
  };
  const estimate = estimator(best);
  const weight = weightOf(best);
  return {
    kp: estimate(best.held(0, unseen(kp, [halfRow, summed[0]])), "A.s/rad"),
    ki: sameSign(
      kp,
      estimate((byAngle ?? best.held)(1, unseen(best.ki.value, byAngle ? [] : [summed[1]])), "A/rad"),
    ),
    ...(weight ? { referenceWeight: estimate(wider(weight, Math.abs(halfRow / kp)), "1") } : {}),
    explained: solved.explained,
    residual: Math.sqrt(solved.squares / solved.rows),
    rows: solved.rows,
    saturatedShare,
    lag: best.lag,
    findings: findingsOf(solved, kp),
  };
}

type Interval = FilteredLaw["kp"];

const half = ({ low, high }: Interval): number => (high - low) / 2;

/** Makes estimates of a law's intervals. */
function estimator({
  solved,
  unfiltered,
  filter,
}: FilteredLaw): (interval: Interval, unit: string) => Estimate {
  const filtered =
    unfiltered < 0.05 ? `, the loop's speed ${(1e3 * filter).toPrecision(2)} ms behind the logged one` : "";
  const method = `regression of the current command on the speed error and its integral, ${solved.rows} rows${filtered}`;
  return ({ value, low, high }, unit) => ({
    value,
    low,
    high,
    unit,
    method,
    level: 0.95,
    samples: solved.rows,
    channels: ["currentCommand", "speedCommand", "speed"],
    convention: "parallel form, A peak per rad/s of the shaft",
  });
}

/** An integral gain has the sign of the proportional one, or is none: with the other sign no loop would settle. */
function sameSign(kp: number, ki: Estimate): Estimate {
  return kp > 0 ? (notBelowZero(ki, true) ?? ki) : ki;
}

/** Reference weight, by the law with the reference as a third regressor; undefined where the reference did not move. */
function weightOf({ kp, weighted }: FilteredLaw): Interval | undefined {
  const extra = weighted?.values[2];
  if (weighted === undefined || extra === undefined) return undefined;
  const value = 1 + extra / kp.value;
  if (!Number.isFinite(value)) return undefined;
  const spread = Math.hypot(
    (studentT(0.95, blocks - 1) * weighted.errors[2]) / kp.value,
    (extra * half(kp)) / kp.value ** 2,
  );
  return { value, low: value - spread, high: value + spread };
}

function findingsOf({ explained }: Solved, kp: number): Finding[] {
  const findings: Finding[] = [];
  if (explained < 0.9)
    findings.push({
      severity: "warning",
      code: "gains-explain-little",
      message: `A PI law explains only ${(100 * explained).toFixed(0)} % of the current command's movement.`,
      value: explained,
      unit: "1",
      meaning: "The controller may have another structure, or the logged speed is not the one it uses.",
    });
  if (kp < 0)
    findings.push({
      severity: "warning",
      code: "negative-gain-in-use",
      message: `The command falls when the error rises (kp ${kp.toPrecision(3)}): the signs of command and speed are mirrored in the log or in the loop.`,
    });
  return findings;
}
