import { deviationPerMedian } from "../../numeric/series/median.js";
import { pick } from "../../numeric/series/pick.js";
import { grouped, solve } from "./gainRegression.js";
import type { LawColumns } from "./lawColumns.js";
import { type FilteredLaw, type LaggedLaw, lawBehindFilter } from "./loopFilter.js";

/**
 * The law that explains the command best, by the rows by which the command lags the error and by a filter on the speed;
 * undefined where too few rows are inside the limit, or the error hardly moves.
 *
 * @param ownSpeed a speed was logged
 */
export function likeliestLaw(law: LawColumns, ownSpeed: boolean): FilteredLaw | undefined {
  // Windows of a smooth motion are as much later as a filter says; rows of a log by whole rows too.
  const laws = (law.windowed ? [0] : [0, 1, 2]).flatMap((lag) => lawAtLag(law, lag) ?? []);
  let found: LaggedLaw | undefined;
  for (const one of laws)
    if (
      found === undefined ||
      one.solved.squares < found.solved.squares * 0.98 * (one.rows.length / found.solved.rows)
    )
      found = one;
  const best = found && lawBehindFilter(found, law.columns, law.sum, ownSpeed);
  const present = laws.find(({ lag }) => lag === 0);
  if (best === undefined || best.lag === 0 || present === undefined) return best;
  // What looks like rows of delay may be a filter on the speed alone: the reference is not delayed by it.
  const other = lawBehindFilter(present, law.columns, law.sum, ownSpeed);
  const left = ({ solved }: FilteredLaw): number => solved.squares / solved.rows;
  return other.filter > 0 && left(other) < left(best) ? other : best;
}

/** The law at one lag between command and error; undefined where too few rows are inside the limit to see it. */
function lawAtLag(
  { columns, error, sum, stretch, stretches, jumps }: LawColumns,
  lag: number,
): LaggedLaw | undefined {
  const { command } = columns;
  const n = command.length;
  const used: number[] = [];
  const counts = new Int32Array(stretches);
  for (let k = lag; k < n; k++)
    if (stretch[k] >= 0 && stretch[k - lag] === stretch[k]) {
      used.push(k);
      counts[stretch[k]]++;
    }
  const groupOf = new Float64Array(n);
  for (let k = lag; k < n; k++) groupOf[k] = stretch[k] * 65536 + jumps[k - lag];
  const whole = used.filter((k) => counts[stretch[k]] >= 8);
  const rows = withoutOutliers(whole, command, [error, sum], lag, groupOf);
  if (rows.length < 24) return undefined;
  const earlier = rows.map((k) => k - lag);
  const shifted = (data: Float64Array): Float64Array => pick(data, earlier);
  const y = pick(command, rows);
  // A jump of the reference between two rows leaves its part of the integral open by up to a row: a new constant
  // after each.
  const apart = grouped(pick(groupOf, rows));
  const segments = grouped(pick(stretch, rows));
  const x = [shifted(error), shifted(sum)];
  const first = solve(y, x, apart);
  const solved = first ?? solve(y, x, segments);
  return solved && { solved, lag, rows, groups: first ? apart : segments, segments, y, x, shifted };
}

/**
 * Leaves out the few rows that no PI law explains beside the others: the first ones, logged before the controller ran
 * on the new reference, and rows caught between two writings of the log. Those beyond eight times the robust scale of
 * the residuals, the worst ones first (they hide the others and accuse sound ones), at most 3 % of the rows.
 */
function withoutOutliers(
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
