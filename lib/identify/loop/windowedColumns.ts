import { modulatingFunction, project } from "../../numeric/series/modulatingFunction.js";
import { atLimit, type TrialColumns } from "./trialColumns.js";

/** Means of the columns over short windows, and which of them hold a row at the limit or a jump of the reference. */
export interface WindowedColumns {
  readonly columns: TrialColumns;
  readonly broken: Uint8Array;
}

/** Fewest rows of a window, and the longest window as a fraction of the trial. */
const fewestRows = 5;
const longest = 0.04;
/** Noise of the speed that counts may leave, beside its movement: as a regressor it would make the gains too small. */
const quiet = 0.001;
/** Windows within the length of one. */
const overlap = 8;
/** A change of the reference beyond this fraction of its range is a jump. */
const jump = 0.05;

/**
 * The columns of a trial whose speed is known by its position alone, each as its mean under one modulating function
 * (Shinbrot, 1957): the mean speed then comes from the position itself, and the command it is compared with has been
 * smoothed alike, so that no difference of counts stands in the law. Windows are as long as the counts ask for.
 *
 * @returns undefined where the trial holds too few rows
 */
export function windowedColumns(whole: TrialColumns, statedLimit?: number): WindowedColumns | undefined {
  const { time, angle, reference, command, current, interval } = whole;
  if (angle === undefined) return undefined;
  const n = time.length;
  const size = windowRows(whole, angle);
  const stride = Math.max(1, Math.floor(size / overlap));
  const count = Math.floor((n - size) / stride) + 1;
  if (count < 16) return undefined;
  const barred = atLimit(whole, statedLimit).rows.slice();
  const range = reference.reduce((most, r) => Math.max(most, Math.abs(r - reference[0])), 0);
  for (let k = 1; k < n; k++)
    if (Math.abs(reference[k] - reference[k - 1]) > jump * range || time[k] - time[k - 1] > 4 * interval)
      barred[k] = 1;
  const before = new Int32Array(n + 1);
  for (let k = 0; k < n; k++) before[k + 1] = before[k] + barred[k];
  const column = (): Float64Array => new Float64Array(count);
  const made = { time: column(), reference: column(), speed: column(), command: column(), current: column() };
  const broken = new Uint8Array(count);
  for (let j = 0; j < count; j++) {
    const from = j * stride;
    const window = modulatingFunction(time, from, from + size);
    made.time[j] = project(window, window.weight, time);
    made.reference[j] = project(window, window.weight, reference);
    made.speed[j] = project(window, window.slope, angle);
    made.command[j] = project(window, window.weight, command);
    made.current[j] = project(window, window.weight, current);
    broken[j] = before[from + size] > before[from] ? 1 : 0;
  }
  return { columns: { ...made, interval: stride * interval }, broken };
}

/**
 * Rows of a window: so many that counts leave little noise in its mean speed (that of a first derivative of quantised
 * samples, `q/sqrt(12) * sqrt(12*dt/T^3)`, as for a line by least squares).
 */
function windowRows({ time, speed, interval }: TrialColumns, angle: Float64Array): number {
  let quantum = Number.POSITIVE_INFINITY;
  for (let k = 1; k < angle.length; k++) {
    const step = Math.abs(angle[k] - angle[k - 1]);
    if (step > 1e-9 && step < quantum) quantum = step;
  }
  const mean = speed.reduce((s, v) => s + v, 0) / speed.length;
  const movement = Math.sqrt(speed.reduce((s, v) => s + (v - mean) ** 2, 0) / speed.length);
  const wanted = Number.isFinite(quantum) && movement > 0 ? quantum / (quiet * movement) : 0;
  const length = (wanted ** 2 * interval) ** (1 / 3);
  const most = longest * (time[time.length - 1] - time[0]);
  return Math.max(fewestRows, Math.round(Math.min(length, most) / interval) + 1);
}
