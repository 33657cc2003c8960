import { descend } from "../../../numeric/optimise/descend.js";
import { type DcRecord, type DcSolution, kept, solveDc } from "./dcModel.js";
import { descentOf } from "./dcSearch.js";
import {
  changesBetweenRows,
  likeliestNoise,
  type NoisyRows,
  type SpeedNoise,
  whitening,
} from "./speedNoise.js";

/** A model fitted to rows that move, residuals and columns made white. */
export interface LikeliestResponse {
  readonly record: DcRecord;
  /** One lag and a dead time. */
  readonly plain: DcSolution;
  /** Two lags and a dead time; absent where a second lag explains nothing. */
  readonly lagged?: DcSolution;
  /** The second lag is told from a dead time: it explains more than its parameter must (Schwarz, 1978). */
  readonly told: boolean;
  /** Probability that what was put in changed anywhere between two rows and not at the rows. */
  readonly betweenRows: number;
}

/** Fewest rows in motion that noise can be told from. */
const fewestRows = 12;

/**
 * The same model fitted again by generalised least squares, under the noise that its residuals show: readings of a
 * speed or a position, disturbances that the speed forgets within its time constant, and changes of input or friction
 * at another moment between two rows than the log says. At rest there is nothing to fit: those rows are left out. The
 * noise is told twice, the second time from what that fit leaves.
 */
export function likeliestResponse(record: DcRecord, first: DcSolution): LikeliestResponse | null {
  const moving = first.used.map((u, i) => (u === 1 && record.sign[i] !== 0 ? 1 : 0));
  const rows: DcRecord = first.used === record.driven ? { ...record, driven: moving } : record;
  const start = solveDc(rows, moving, { ...first.shape, delayed: true }, first);
  const once = start === null ? null : whitened(rows, start);
  if (once === null) return null;
  const { solved } = once;
  const left = solveDc(rows, moving, solved.shape, solved, solved.coefficients);
  const again = (left === null ? null : whitened(rows, left, once.noise)) ?? once;
  const lagged = withLag(again.seen, again.solved);
  const gain = lagged === null ? 0 : again.solved.sumOfSquares - lagged.sumOfSquares;
  return {
    record: again.seen,
    plain: again.solved,
    ...(lagged === null || !(gain > 0) ? {} : { lagged }),
    told: gain > Math.log(lagged?.residuals.length ?? 1),
    betweenRows: again.betweenRows,
  };
}

interface Whitened {
  readonly seen: DcRecord;
  readonly solved: DcSolution;
  readonly noise: SpeedNoise;
  readonly betweenRows: number;
}

function whitened(record: DcRecord, from: DcSolution, near?: SpeedNoise): Whitened | null {
  const rows = noisyRows(record, from);
  if (rows.time.length < fewestRows) return null;
  const noise = likeliestNoise(rows, from.residuals, near);
  const betweenRows = near === undefined ? 1 : changesBetweenRows(rows, from.residuals, noise);
  const seen: DcRecord = { ...record, white: whitening(rows, noise).of };
  const start = solveDc(seen, from.used, from.shape, from);
  return start === null ? null : { seen, solved: descend(start, descentOf(seen)), noise, betweenRows };
}

/** Second lags that the search starts from, beside the first. */
const lagStarts = [0.01, 0.1];

function withLag(record: DcRecord, plain: DcSolution): DcSolution | null {
  let best: DcSolution | null = null;
  for (const part of lagStarts) {
    const lag = part * plain.tau;
    const start = solveDc(
      record,
      plain.used,
      { ...plain.shape, lagged: true },
      { tau: plain.tau - lag, delay: Math.max(-record.interval, plain.delay - lag), lag },
    );
    if (start === null) continue;
    const found = descend(start, descentOf(record));
    if (found.lag > 0 && (best === null || found.sumOfSquares < best.sumOfSquares)) best = found;
  }
  return best;
}

/** The rows fitted, with the jumps of the speed that a change somewhere between two rows makes. */
function noisyRows(record: DcRecord, { used, shape, tau, delay, coefficients }: DcSolution): NoisyRows {
  const { time, input, sign, group, late = 0 } = record;
  const drive = (i: number): number =>
    sign[i] === 0 ? 0 : coefficients[0] * input[i] - (shape.friction ? coefficients[1] * sign[i] : 0);
  const rows = kept(time, used, group);
  const jumps = new Float64Array(rows.length);
  let k = 0;
  for (let i = 1; i < time.length; i++) {
    const size = drive(i) - drive(i - 1);
    if (size === 0) continue;
    // Uniform over the row: a twelfth of its square.
    const part = Math.min(1, (time[i] - time[i - 1]) / tau);
    const seen = time[i] + Math.max(0, delay) + late;
    while (k < rows.length && rows[k] < seen) k++;
    if (k < rows.length) jumps[k] += (size * part) ** 2 / 12;
  }
  return { time: rows, jumps, tau };
}
