import type { SpeedGains } from "../../motor/speedGains.js";
import { studentT } from "../../numeric/index.js";
import { firstOrderFilter } from "../../numeric/series/firstOrderFilter.js";
import { deviationPerMedian } from "../../numeric/series/median.js";
import type { Finding, Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";
import { sampleTimeFromTrial } from "./sampleTimeFromTrial.js";
import { atLimit, missingColumns, type TrialColumns, trialColumns } from "./trialColumns.js";

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
 * which allows for correlated residuals, and allow for not knowing whether the
 * present error is already in the sum (half a row either way) and, by a thousandth, for the digits and stamps of the
 * log.
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
  const columns = oneRowATread(whole, sampleTimeFromTrial(run, trial).sampleTime?.value);
  const { time, reference, speed, command, interval } = columns;
  const n = time.length;
  const { rows: limited } = atLimit(columns, run.recording.drive.currentLimit);
  const saturatedShare = limited.reduce((sum, v) => sum + v, 0) / n;
  const segment = new Int32Array(n).fill(-1);
  let number = -1;
  let inside = false;
  for (let k = 0; k < n; k++) {
    let near = false;
    for (let j = Math.max(0, k - 2); j <= Math.min(n - 1, k + 2); j++) near ||= limited[j] === 1;
    const gap = k > 0 && time[k] - time[k - 1] > 4 * interval;
    if (near) inside = false;
    else {
      if (!inside || gap) number++;
      inside = true;
      segment[k] = number;
    }
  }
  const error = Float64Array.from(reference, (r, k) => r - speed[k]);
  const jumps = new Int32Array(n);
  const range = reference.reduce((most, r) => Math.max(most, Math.abs(r - reference[0])), 0);
  for (let k = 1; k < n; k++)
    jumps[k] = jumps[k - 1] + (Math.abs(reference[k] - reference[k - 1]) > 0.05 * range ? 1 : 0);
  const sum = new Float64Array(n);
  for (let k = 1; k < n; k++)
    sum[k] = sum[k - 1] + ((error[k] + error[k - 1]) / 2) * Math.min(time[k] - time[k - 1], 4 * interval);

  let found: Candidate | undefined;
  let present: Candidate | undefined;
  for (const lag of [0, 1, 2]) {
    const used: number[] = [];
    for (let k = lag; k < n; k++) if (segment[k] >= 0 && segment[k - lag] === segment[k]) used.push(k);
    const counts = new Map<number, number>();
    for (const k of used) counts.set(segment[k], (counts.get(segment[k]) ?? 0) + 1);
    const whole = used.filter((k) => (counts.get(segment[k]) ?? 0) >= 8);
    const rows = withoutStrays(
      whole,
      command,
      (k) => [error[k - lag], sum[k - lag]],
      (k) => segment[k] * 65536 + jumps[k - lag],
    );
    if (rows.length < 24) continue;
    const shifted = (data: Float64Array): Float64Array => Float64Array.from(rows, (k) => data[k - lag]);
    const y = Float64Array.from(rows, (k) => command[k]);
    // A jump of the reference between two rows leaves its part of the integral open by up to a row: a new constant
    // after each.
    const apart = rows.map((k) => segment[k] * 65536 + jumps[k - lag]);
    const segments = rows.map((k) => segment[k]);
    const x = [shifted(error), shifted(sum)];
    const first = solve(y, x, apart);
    const solved = first ?? solve(y, x, segments);
    if (solved === undefined) continue;
    const one = { solved, lag, rows, groups: first ? apart : segments, apart, segments, y, x, shifted };
    if (lag === 0) present = one;
    if (
      found === undefined ||
      solved.squares < found.solved.squares * 0.98 * (rows.length / found.solved.rows)
    )
      found = one;
  }
  // A log of the position alone shows no speed that a loop would use: there a filter is always part of the law.
  const pays =
    found === undefined || run.channel("speed") === undefined ? 1 : 1 / (1 + filterPays / found.rows.length);
  let best = found === undefined ? undefined : resolved(found, columns, sum, pays);
  // What looks like rows of delay may be a filter on the speed alone: the reference is not delayed by it.
  if (best !== undefined && best.lag > 0 && present !== undefined) {
    const other = resolved(present, columns, sum, pays);
    if (other.filter > 0 && other.squares / other.rows < best.squares / best.rows) best = other;
  }
  if (best === undefined)
    return none(
      saturatedShare > 0.5
        ? "the command stands at its limit for most of the trial: nothing to see the gains by"
        : "the error hardly moves: nothing to see the gains by",
      saturatedShare,
    );
  const largest = command.reduce((most, u) => Math.max(most, Math.abs(u)), 0);
  if (best.movement < 0.005 * largest)
    return none("inside its limit the command hardly moves: nothing to see the gains by", saturatedShare);
  const t = studentT(0.95, blocks - 1);
  const [kp, ki] = best.values;
  const filtered =
    best.filter > 0
      ? `, the loop's speed ${(1e3 * best.filter).toPrecision(2)} ms behind the logged one`
      : "";
  const method = `regression of the current command on the speed error and its integral, ${best.rows} rows${filtered}`;
  // The digits and stamps of a log leave about a thousandth.
  const estimate = (value: number, spread: number, unit: string): Estimate => {
    const half = spread + 1e-3 * Math.abs(value);
    return {
      value,
      low: value - half,
      high: value + half,
      unit,
      method,
      level: 0.95,
      samples: best.rows,
      channels: ["currentCommand", "speedCommand", "speed"],
      convention: "parallel form, A peak per rad/s of the shaft",
    };
  };
  const halfRow = (Math.abs(ki) * interval) / 2;
  if (t * best.errors[0] + halfRow > Math.abs(kp))
    return none(
      "the proportional gain cannot be told from nothing: the error moves too little inside the current limit",
      saturatedShare,
    );
  const findings: Finding[] = [];
  if (best.explained < 0.9)
    findings.push({
      severity: "warning",
      code: "gains-explain-little",
      message: `A PI law explains only ${(100 * best.explained).toFixed(0)} % of the current command's movement.`,
      value: best.explained,
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
      : t * Math.hypot(best.weighted!.errors[2] / kp, (extra * best.errors[0]) / kp ** 2);
  return {
    kp: estimate(kp, t * best.errors[0] + halfRow, "A.s/rad"),
    ki: estimate(ki, t * best.errors[1], "A/rad"),
    ...(weight === undefined || !Number.isFinite(weight)
      ? {}
      : { referenceWeight: estimate(weight, weightSpread + Math.abs(halfRow / kp), "1") }),
    explained: best.explained,
    residual: Math.sqrt(best.squares / best.rows),
    rows: best.rows,
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
  const pick = (data: Float64Array): Float64Array => Float64Array.from(rows, (k) => data[k]);
  // The loop runs at whole sample times, whenever the log caught it.
  const runs = Float64Array.from(rows, (k) => time[k]);
  for (let j = 1; j < rows.length; j++) {
    const away = time[rows[j]] - runs[j - 1];
    const whole = Math.max(1, Math.round(away / sampleTime)) * sampleTime;
    // A little of the difference is followed, so that an error of the sample time does not add up.
    runs[j] = runs[j - 1] + whole + 0.1 * (away - whole);
  }
  return {
    time: runs,
    reference: pick(reference),
    speed: pick(columns.speed),
    command: pick(command),
    current: pick(columns.current),
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
  regressors: (row: number) => readonly [number, number],
  groupOf: (row: number) => number,
): readonly number[] {
  const most = Math.floor(0.03 * rows.length);
  let largest = 0;
  for (const k of rows) largest = Math.max(largest, Math.abs(command[k]));
  let kept = rows;
  for (let round = 0; round < 20 && kept.length >= 24; round++) {
    const solved = solve(
      Float64Array.from(kept, (k) => command[k]),
      [0, 1].map((j) => Float64Array.from(kept, (k) => regressors(k)[j])),
      kept.map(groupOf),
    );
    if (solved === undefined) return kept;
    const sizes = solved.residual.map(Math.abs);
    const limit = Math.max(
      (8 * deviationPerMedian * [...sizes].sort((a, b) => a - b)[sizes.length >> 1]) as number,
      1e-4 * largest,
    );
    const worst = [...sizes].sort((a, b) => b - a)[Math.max(2, Math.ceil(1e-3 * kept.length)) - 1];
    const next = kept.filter((_, j) => sizes[j] <= limit || sizes[j] < worst);
    if (next.length === kept.length || rows.length - next.length > most) return kept;
    kept = next;
  }
  return kept;
}

/** Blocks of neighbouring rows that are left out in turn. */
const blocks = 12;

/**
 * Standard errors by leaving out one block of neighbouring rows after another (M. H. Quenouille's and J. W. Tukey's
 * jackknife), which
 * holds for residuals that are correlated over many rows, as an integral's are; never below those of independent
 * residuals.
 */
function withoutBlocks(
  y: Float64Array,
  x: readonly Float64Array[],
  groups: readonly number[],
  all: Solved,
): readonly number[] {
  const found: (readonly number[])[] = [];
  const n = y.length;
  for (let b = 0; b < blocks; b++) {
    const keep: number[] = [];
    for (let k = 0; k < n; k++) if (Math.floor((k * blocks) / n) !== b) keep.push(k);
    const some = solve(
      Float64Array.from(keep, (k) => y[k]),
      x.map((column) => Float64Array.from(keep, (k) => column[k])),
      keep.map((k) => groups[k]),
    );
    if (some) found.push(some.values);
  }
  return all.errors.map((plain, j) => {
    if (found.length < 4) return plain * 10;
    const mean = found.reduce((s, v) => s + v[j], 0) / found.length;
    const squares = found.reduce((s, v) => s + (v[j] - mean) ** 2, 0);
    return Math.max(plain, Math.sqrt((squares * (found.length - 1)) / found.length));
  });
}

/** The law at one lag between command and error. */
interface Candidate {
  readonly solved: Solved;
  readonly lag: number;
  readonly rows: readonly number[];
  /** Constants of the law: one for each value; by segments and jumps of the reference, or by segments alone. */
  readonly groups: readonly number[];
  readonly apart: readonly number[];
  readonly segments: readonly number[];
  readonly y: Float64Array;
  readonly x: readonly Float64Array[];
  /** A column at the rows used, so much earlier. */
  readonly shifted: (data: Float64Array) => Float64Array;
}

/** Lags of the loop's own speed filter that are tried, s. */
const filters = [0.3e-3, 0.6e-3, 1.2e-3, 2.4e-3, 4.8e-3, 9.6e-3];
/** What a filter must explain more than none does, in variances of a residual, before it is believed. */
const filterPays = 10;

/**
 * The law with its errors. The loop may answer to a speed that it has filtered more than the log shows (always where
 * the log holds the position alone): a first-order filter is tried on the
 * logged speed, and where it pays its time constant is fitted along, so that its uncertainty is in the errors of the
 * gains.
 */
function resolved(
  candidate: Candidate,
  columns: TrialColumns,
  sum: Float64Array,
  pays: number,
): Solved & { lag: number; weighted?: Solved; filter: number } {
  const { solved, lag, groups, segments, y, x, shifted } = candidate;
  const { time, reference, speed } = columns;
  const at = (tau: number): { e: Float64Array; s: Float64Array } => {
    const filtered = firstOrderFilter(time, speed, tau);
    const e = Float64Array.from(reference, (r, k) => r - filtered[k]);
    // What a filter holds back of the integral of the speed is tau times what it is behind.
    const s = Float64Array.from(sum, (v, k) => v + tau * (filtered[k] - filtered[0]));
    return { e: shifted(e), s: shifted(s) };
  };
  const tried = (tau: number): Solved | undefined => {
    const { e, s } = at(tau);
    return solve(y, [e, s], groups);
  };
  let [filter, least] = [0, solved.squares];
  const look = (tau: number): void => {
    const one = tried(tau);
    if (one !== undefined && one.squares < least) [filter, least] = [tau, one.squares];
  };
  for (const tau of filters) look(tau);
  if (!(least < pays * solved.squares)) {
    const full = solve(y, [...x, shifted(reference)], segments);
    return {
      ...solved,
      errors: withoutBlocks(y, x, groups, solved),
      lag,
      filter: 0,
      ...(full ? { weighted: full } : {}),
    };
  }
  for (let part = Math.SQRT2; part > 1.02; part = Math.sqrt(part)) {
    const from = filter;
    look(from * part);
    look(from / part);
  }
  const here = at(filter);
  const further = at(filter * 1.01);
  const law = solve(y, [here.e, here.s], groups) ?? solved;
  // The filter's time constant as a third unknown: how the law moves with it.
  const byFilter = here.e.map(
    (v, k) =>
      (law.values[0] * (further.e[k] - v) + law.values[1] * (further.s[k] - here.s[k])) / (0.01 * filter),
  );
  const columnsOfLaw = [here.e, here.s, byFilter];
  const together = solve(y, columnsOfLaw, groups);
  const errors =
    together === undefined
      ? withoutBlocks(y, [here.e, here.s], groups, law)
      : withoutBlocks(y, columnsOfLaw, groups, together);
  const full = solve(y, [here.e, here.s, shifted(reference)], segments);
  return { ...law, errors: errors.slice(0, 2), lag, filter, ...(full ? { weighted: full } : {}) };
}

interface Solved {
  readonly values: readonly number[];
  /** Standard errors for independent residuals. */
  readonly errors: readonly number[];
  readonly squares: number;
  readonly rows: number;
  readonly explained: number;
  readonly residual: Float64Array;
  /** RMS of the target about its groups' means. */
  readonly movement: number;
}

/** Least squares with one constant for each group; `undefined` when a regressor does not move on its own. */
function solve(
  y: Float64Array,
  regressors: readonly Float64Array[],
  groups: readonly number[],
): Solved | undefined {
  const demeaned = [y, ...regressors].map((column) => {
    const sums = new Map<number, [number, number]>();
    groups.forEach((g, k) => {
      const entry = sums.get(g) ?? [0, 0];
      entry[0] += column[k];
      entry[1]++;
      sums.set(g, entry);
    });
    return Float64Array.from(column, (v, k) => {
      const [total, count] = sums.get(groups[k])!;
      return v - total / count;
    });
  });
  const [target, ...x] = demeaned;
  const m = x.length;
  const scales = x.map((column) => Math.sqrt(column.reduce((s, v) => s + v * v, 0)));
  if (scales.some((s) => !(s > 0))) return undefined;
  // Orthogonalise one after the other: what is left of a column says whether it moves on its own.
  const q: Float64Array[] = [];
  const r = Array.from({ length: m }, () => new Array<number>(m).fill(0));
  for (let j = 0; j < m; j++) {
    const column = x[j].map((v) => v / scales[j]);
    for (let pass = 0; pass < 2; pass++)
      for (let i = 0; i < j; i++) {
        let dot = 0;
        for (let k = 0; k < column.length; k++) dot += q[i][k] * column[k];
        r[i][j] += dot;
        for (let k = 0; k < column.length; k++) column[k] -= dot * q[i][k];
      }
    const left = Math.sqrt(column.reduce((s, v) => s + v * v, 0));
    if (left < 1e-4) return undefined;
    r[j][j] = left;
    q.push(column.map((v) => v / left));
  }
  const along = q.map((column) => column.reduce((s, v, k) => s + v * target[k], 0));
  const values = new Array<number>(m).fill(0);
  for (let j = m - 1; j >= 0; j--) {
    let v = along[j];
    for (let i = j + 1; i < m; i++) v -= r[j][i] * values[i];
    values[j] = v / r[j][j];
  }
  const residual = Float64Array.from(target, (v, k) => {
    let left = v;
    for (let j = 0; j < m; j++) left -= along[j] * q[j][k];
    return left;
  });
  const squares = residual.reduce((s, v) => s + v * v, 0);
  const total = target.reduce((s, v) => s + v * v, 0);
  const degrees = y.length - m - new Set(groups).size;
  if (degrees < 4 || total === 0) return undefined;
  const variance = squares / degrees;
  // Rows of R^-1.
  const errors = Array.from({ length: m }, (_, j) => {
    let sum = 0;
    for (let c = j; c < m; c++) {
      const inverse = new Array<number>(m).fill(0);
      for (let i = c; i >= 0; i--) {
        let v = i === c ? 1 : 0;
        for (let k = i + 1; k <= c; k++) v -= r[i][k] * inverse[k];
        inverse[i] = v / r[i][i];
      }
      sum += inverse[j] ** 2;
    }
    return Math.sqrt(sum * variance) / scales[j];
  });
  return {
    values: values.map((v, j) => v / scales[j]),
    errors,
    squares,
    rows: y.length,
    explained: 1 - squares / total,
    residual,
    movement: Math.sqrt(total / y.length),
  };
}

/** One way in which the gains in use and the stated ones may differ by a mix-up of forms or units. */
export interface GainMixup {
  readonly text: string;
  /** How far the ratio found is from the ratio this mix-up gives, as a share. */
  readonly distance: number;
}

/**
 * Names the mix-up of forms or units that turns stated gains into the ones in use, when one fits within the intervals
 * (and no plain agreement
 * does): per rev/min for per rad/s, ideal for parallel, per sample for per second, electrical for mechanical speed, RMS
 * for peak, torque for current.
 *
 * @param stated the gains as they were said to be, parallel and continuous
 * @param used the gains the log shows, as from `identifyGains`
 * @param known sample time (s), pole pairs and torque constant (N m/A), which some mix-ups need
 * @returns the fitting mix-ups, best first; empty when the gains agree or nothing known explains the difference
 * @example
 * const near = (value: number) => ({ value, low: 0.98 * value, high: 1.02 * value, unit: "A.s/rad", method: "log" });
 * gainMixups({ kp: 0.01, ki: 0.1 }, { kp: near(0.0955), ki: near(0.955) })[0].text;
 * // => "the stated gains are per rev/min, not per rad/s"
 */
export function gainMixups(
  stated: SpeedGains,
  used: { readonly kp: Estimate; readonly ki: Estimate },
  known: { readonly sampleTime?: number; readonly polePairs?: number; readonly torqueConstant?: number } = {},
): GainMixup[] {
  const rp = used.kp.value / stated.kp;
  const ri = used.ki.value / stated.ki;
  if (!(rp > 0) || !(ri > 0)) return [];
  const width = (e: Estimate): number => Math.max(0.03, (e.high - e.low) / 2 / Math.abs(e.value));
  const [wp, wi] = [width(used.kp), width(used.ki)];
  const fits = (p: number, i: number): boolean =>
    Math.abs(Math.log(rp / p)) <= wp && Math.abs(Math.log(ri / i)) <= wi;
  if (fits(1, 1)) return [];
  const rpm = 60 / (2 * Math.PI);
  const candidates: [string, number, number][] = [
    ["the stated gains are per rev/min, not per rad/s", rpm, rpm],
    ["the stated gains are per rad/s where the drive reads them per rev/min", 1 / rpm, 1 / rpm],
    ["the stated gains give amperes RMS, not peak", Math.SQRT2, Math.SQRT2],
    ["the stated gains are taken as peak where the drive reads them as RMS", Math.SQRT1_2, Math.SQRT1_2],
    ["the second number is the ideal form's 1/ti: the integral gain in use is kp times it", 1, stated.kp],
    ["the second number is the ideal form's integral time in s", 1, stated.kp / stated.ki ** 2],
  ];
  if (known.sampleTime !== undefined) {
    candidates.push([
      `the integral gain is per sample of ${known.sampleTime * 1000} ms, not per second`,
      1,
      1 / known.sampleTime,
    ]);
    candidates.push([
      "the integral gain is per second where the drive reads it per sample",
      1,
      known.sampleTime,
    ]);
  }
  const p = known.polePairs;
  if (p !== undefined && p > 1) {
    candidates.push(["the stated gains are per electrical rad/s, not mechanical", p, p]);
    candidates.push([
      "the stated gains are per mechanical rad/s where the drive counts electrical",
      1 / p,
      1 / p,
    ]);
  }
  const kt = known.torqueConstant;
  if (kt !== undefined) candidates.push(["the stated gains give newton metres, not amperes", 1 / kt, 1 / kt]);
  return candidates
    .filter(([, a, b]) => fits(a, b))
    .map(([text, a, b]) => ({ text, distance: Math.max(Math.abs(rp / a - 1), Math.abs(ri / b - 1)) }))
    .sort((a, b) => a.distance - b.distance);
}
