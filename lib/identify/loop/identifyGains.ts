import { studentT } from "../../numeric/index.js";
import { deviationPerMedian } from "../../numeric/series/median.js";
import { pick } from "../../numeric/series/pick.js";
import type { Finding, Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";
import { endCorrection, integralByAngle, sumError } from "./gainIntegral.js";
import { blocks, grouped, solve } from "./gainRegression.js";
import { type FilteredLaw, type LaggedLaw, lawBehindFilter } from "./loopFilter.js";
import { sampleTimeFromTrial } from "./sampleTimeFromTrial.js";
import { atLimit, missingColumns, type TrialColumns, trialColumns } from "./trialColumns.js";
import { windowedColumns } from "./windowedColumns.js";

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
 * need not show, for not knowing whether the present error is already in the sum (half a row either way) and, by a
 * thousandth, for the digits and stamps of the log. Where only the position was logged, all columns are taken as means
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
  const statedLimit = run.recording.drive.currentLimit;
  const windowed = windowedColumns(whole, statedLimit);
  const columns = windowed?.columns ?? oneRowATread(whole, sampleTimeFromTrial(run, trial).sampleTime?.value);
  const { time, reference, speed, command, interval } = columns;
  const n = time.length;
  const limited = windowed?.broken ?? atLimit(columns, statedLimit).rows;
  const saturatedShare = limited.reduce((sum, v) => sum + v, 0) / n;
  const segment = new Int32Array(n).fill(-1);
  let number = -1;
  let inside = false;
  for (let k = 0; k < n; k++) {
    let near = false;
    const margin = windowed === undefined ? 2 : 0;
    for (let j = Math.max(0, k - margin); j <= Math.min(n - 1, k + margin); j++) near ||= limited[j] === 1;
    const gap = k > 0 && time[k] - time[k - 1] > 4 * interval;
    if (near) inside = false;
    else {
      if (!inside || gap) number++;
      inside = true;
      segment[k] = number;
    }
  }
  const error = new Float64Array(n);
  for (let k = 0; k < n; k++) error[k] = reference[k] - speed[k];
  const jumps = new Int32Array(n);
  const range = reference.reduce((most, r) => Math.max(most, Math.abs(r - reference[0])), 0);
  for (let k = 1; k < n; k++)
    jumps[k] = jumps[k - 1] + (Math.abs(reference[k] - reference[k - 1]) > 0.05 * range ? 1 : 0);
  const sum = new Float64Array(n);
  for (let k = 1; k < n; k++)
    sum[k] = sum[k - 1] + ((error[k] + error[k - 1]) / 2) * Math.min(time[k] - time[k - 1], 4 * interval);
  // A log as fast as the loop holds the loop's own sum; a slower one its integral: the middle of both, whose half
  // difference is in the intervals.
  const rounded = endCorrection(error, time, jumps);
  const smooth = windowed === undefined ? 0.5 : 1;
  for (let k = 0; k < n; k++) sum[k] -= smooth * rounded[k];

  let found: LaggedLaw | undefined;
  let present: LaggedLaw | undefined;
  // Windows of a smooth motion are as much later as a filter says; rows of a log by whole rows too.
  for (const lag of windowed === undefined ? [0, 1, 2] : [0]) {
    const used: number[] = [];
    const counts = new Int32Array(number + 1);
    for (let k = lag; k < n; k++)
      if (segment[k] >= 0 && segment[k - lag] === segment[k]) {
        used.push(k);
        counts[segment[k]]++;
      }
    const groupOf = new Float64Array(n);
    for (let k = lag; k < n; k++) groupOf[k] = segment[k] * 65536 + jumps[k - lag];
    const whole = used.filter((k) => counts[segment[k]] >= 8);
    const rows = withoutStrays(whole, command, [error, sum], lag, groupOf);
    if (rows.length < 24) continue;
    const earlier = rows.map((k) => k - lag);
    const shifted = (data: Float64Array): Float64Array => pick(data, earlier);
    const y = pick(command, rows);
    // A jump of the reference between two rows leaves its part of the integral open by up to a row: a new constant
    // after each.
    const apart = grouped(pick(groupOf, rows));
    const segments = grouped(pick(segment, rows));
    const x = [shifted(error), shifted(sum)];
    const first = solve(y, x, apart);
    const solved = first ?? solve(y, x, segments);
    if (solved === undefined) continue;
    const one = { solved, lag, rows, groups: first ? apart : segments, segments, y, x, shifted };
    if (lag === 0) present = one;
    if (
      found === undefined ||
      solved.squares < found.solved.squares * 0.98 * (rows.length / found.solved.rows)
    )
      found = one;
  }
  const ownSpeed = run.channel("speed") !== undefined;
  let best = found && lawBehindFilter(found, columns, sum, ownSpeed);
  // What looks like rows of delay may be a filter on the speed alone: the reference is not delayed by it.
  if (best !== undefined && best.lag > 0 && present !== undefined) {
    const other = lawBehindFilter(present, columns, sum, ownSpeed);
    const left = ({ solved }: FilteredLaw): number => solved.squares / solved.rows;
    if (other.filter > 0 && left(other) < left(best)) best = other;
  }
  if (best === undefined)
    return none(
      saturatedShare > 0.5
        ? "the command stands at its limit for most of the trial: nothing to see the gains by"
        : "the error hardly moves: nothing to see the gains by",
      saturatedShare,
    );
  const largest = command.reduce((most, u) => Math.max(most, Math.abs(u)), 0);
  const { solved } = best;
  const byAngle = integralByAngle(best, columns, ownSpeed);
  if (solved.movement < 0.005 * largest)
    return none("inside its limit the command hardly moves: nothing to see the gains by", saturatedShare);
  const kp = best.kp.value;
  const half = (h: FilteredLaw["kp"]): number => (h.high - h.low) / 2;
  const filtered =
    best.unfiltered < 0.05
      ? `, the loop's speed ${(1e3 * best.filter).toPrecision(2)} ms behind the logged one`
      : "";
  const method = `regression of the current command on the speed error and its integral, ${solved.rows} rows${filtered}`;
  const unseen = windowed === undefined ? digitsError : lagShapeError;
  const summed = windowed === undefined ? sumError(best, rounded) : [0, 0];
  const ki = byAngle ?? best.ki;
  const estimate = (h: FilteredLaw["kp"], more: number, unit: string): Estimate => {
    const digits = unseen * Math.abs(h.value) + more;
    return {
      value: h.value,
      low: h.low - digits,
      high: h.high + digits,
      unit,
      method,
      level: 0.95,
      samples: solved.rows,
      channels: ["currentCommand", "speedCommand", "speed"],
      convention: "parallel form, A peak per rad/s of the shaft",
    };
  };
  const halfRow = (Math.abs(best.ki.value) * interval) / 2;
  if (half(best.kp) + halfRow > Math.abs(kp))
    return none(
      "the proportional gain cannot be told from nothing: the error moves too little inside the current limit",
      saturatedShare,
    );
  const findings: Finding[] = [];
  if (solved.explained < 0.9)
    findings.push({
      severity: "warning",
      code: "gains-explain-little",
      message: `A PI law explains only ${(100 * solved.explained).toFixed(0)} % of the current command's movement.`,
      value: solved.explained,
      unit: "1",
      meaning: "The controller may have another structure, or the logged speed is not the one it uses.",
    });
  if (kp < 0)
    findings.push({
      severity: "warning",
      code: "negative-gain-in-use",
      message: `The command falls when the error rises (kp ${kp.toPrecision(3)}): the signs of command and speed are mirrored in the log or in the loop.`,
    });
  const [, , extra] = best.weighted?.values ?? [];
  const weight = extra === undefined ? undefined : 1 + extra / kp;
  const weightSpread =
    extra === undefined
      ? 0
      : Math.hypot(
          (studentT(0.95, blocks - 1) * best.weighted!.errors[2]) / kp,
          (extra * half(best.kp)) / kp ** 2,
        );
  return {
    kp: estimate(best.kp, halfRow + summed[0], "A.s/rad"),
    ki: estimate(ki, byAngle === undefined ? summed[1] : 0, "A/rad"),
    ...(weight === undefined || !Number.isFinite(weight)
      ? {}
      : {
          referenceWeight: estimate(
            { value: weight, low: weight - weightSpread, high: weight + weightSpread },
            Math.abs(halfRow / kp),
            "1",
          ),
        }),
    explained: solved.explained,
    residual: Math.sqrt(solved.squares / solved.rows),
    rows: solved.rows,
    saturatedShare,
    lag: best.lag,
    findings,
  };
}

/**
 * The first row of every tread of the command, rows in which it stands still for more than a sample time kept once a
 * sample time.
 */
function oneRowATread(columns: TrialColumns, sampleTime: number | undefined): TrialColumns {
  if (sampleTime === undefined || sampleTime < 1.2 * columns.interval) return columns;
  const { time, command, reference } = columns;
  const rows: number[] = [];
  let last = Number.NEGATIVE_INFINITY;
  let asked = Number.NEGATIVE_INFINITY;
  for (let k = 1; k < time.length; k++) {
    if (reference[k] !== reference[k - 1]) asked = time[k];
    const moved = command[k] !== command[k - 1];
    // A new reference is logged at once and answered at the loop's next run: until then the row says nothing.
    const answered = time[k] - asked > 1.5 * sampleTime;
    if (moved || (answered && time[k] - last > 1.5 * sampleTime)) {
      rows.push(k);
      last = time[k];
    }
  }
  if (rows.length < 16) return columns;
  // The loop runs at whole sample times, whenever the log caught it.
  const runs = pick(time, rows);
  for (let j = 1; j < rows.length; j++) {
    const away = time[rows[j]] - runs[j - 1];
    const whole = Math.max(1, Math.round(away / sampleTime)) * sampleTime;
    // A little of the difference is followed, so that an error of the sample time does not add up.
    runs[j] = runs[j - 1] + whole + 0.1 * (away - whole);
  }
  return {
    time: runs,
    reference: pick(reference, rows),
    speed: pick(columns.speed, rows),
    command: pick(command, rows),
    current: pick(columns.current, rows),
    ...(columns.turned === undefined ? {} : { turned: pick(columns.turned, rows) }),
    interval: sampleTime,
  };
}

/**
 * Leaves out the few rows that no PI law explains beside the others: the first ones, logged before the controller ran
 * on the new reference, and rows caught
 * between two writings of the log. Those beyond eight times the robust scale of the residuals, the worst ones first
 * (they hide the others and
 * accuse sound ones), at most 3 % of the rows.
 */
function withoutStrays(
  rows: readonly number[],
  command: Float64Array,
  regressors: readonly Float64Array[],
  lag: number,
  groupOf: Float64Array,
): readonly number[] {
  const most = Math.floor(0.03 * rows.length);
  let largest = 0;
  for (const k of rows) largest = Math.max(largest, Math.abs(command[k]));
  let kept = rows;
  for (let round = 0; round < 20 && kept.length >= 24; round++) {
    const earlier = kept.map((k) => k - lag);
    const solved = solve(
      pick(command, kept),
      regressors.map((column) => pick(column, earlier)),
      grouped(pick(groupOf, kept)),
    );
    if (solved === undefined) return kept;
    const sizes = solved.residual.map(Math.abs);
    const sorted = sizes.slice().sort();
    const limit = Math.max(8 * deviationPerMedian * sorted[sizes.length >> 1], 1e-4 * largest);
    const worst = sorted[sizes.length - Math.max(2, Math.ceil(1e-3 * kept.length))];
    const next = kept.filter((_, j) => sizes[j] <= limit || sizes[j] < worst);
    if (next.length === kept.length || rows.length - next.length > most) return kept;
    kept = next;
  }
  return kept;
}
