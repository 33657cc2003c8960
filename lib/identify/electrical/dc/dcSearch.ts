import { solveColumns } from "../../../numeric/linear/solveColumns.js";
import { type Descent, descend } from "../../../numeric/optimise/descend.js";
import {
  autocovariances,
  fitAutoregression,
  highestOrder,
  varianceInflation,
} from "../../../numeric/series/autoregression.js";
import { type DcRecord, type DcShape, type DcSolution, dcDerivatives, solveDc, timesOf } from "./dcModel.js";

/**
 * By how much a slow drift must do better in the criterion than none: what counts as strong evidence (Kass and Raftery,
 * 1995). At an even start one in seven records without any drift was given one, and the gain with it.
 */
const strongEvidence = 4;

/**
 * The best first-order model of the rows used: with or without a dead time and a slow drift, by the Bayesian
 * information criterion (Schwarz, 1978) on as many samples as are independent by an autoregressive model of the
 * residuals. Null where none could be fitted.
 *
 * @param friction with a dead band where the input takes several levels, or without
 */
export function bestDcModel(record: DcRecord, used: Uint8Array, friction = true): DcSolution | null {
  return bestOf(record, used, friction && frictionShows(record, used));
}

function bestOf(record: DcRecord, used: Uint8Array, friction: boolean): DcSolution | null {
  const found: DcSolution[] = [];
  for (const drift of changes(record) < leastChanges ? [false] : [false, true])
    for (const delayed of [false, true]) {
      const one = search(record, used, { delayed, drift, friction }, found.at(-1));
      if (one !== null) found.push(one);
    }
  if (found.length === 0) return null;
  const independent = independentOf(
    found.reduce((a, b) => (b.sumOfSquares < a.sumOfSquares ? b : a)).residuals,
  );
  const score = ({ sumOfSquares, shape }: DcSolution): number =>
    independent * Math.log(Math.max(sumOfSquares, Number.MIN_VALUE)) +
    (Number(shape.delayed) + Number(shape.drift)) * Math.log(independent) +
    (shape.drift ? strongEvidence : 0);
  return found.reduce((a, b) => (score(b) < score(a) ? b : a));
}

/** How many of the residuals are independent, by an autoregressive model of them. */
export function independentOf(residuals: Float64Array): number {
  const m = residuals.length;
  const order = Math.min(8, highestOrder(m));
  const inflation = varianceInflation(fitAutoregression(autocovariances(residuals, order), m, order));
  return Math.max(8, Math.min(m, m / inflation));
}

/** Changes of the input below which a slow drift cannot be told from the end of a response. */
const leastChanges = 4;

function changes({ input }: DcRecord): number {
  let count = 0;
  for (let i = 1; i < input.length; i++) if (input[i] !== input[i - 1]) count++;
  return count;
}

/** Friction can be told from the gain where the input takes several levels while the shaft turns. */
function frictionShows({ input, sign }: DcRecord, used: Uint8Array): boolean {
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < input.length; i++) {
    if (used[i] === 0 || sign[i] === 0) continue;
    least = Math.min(least, input[i] * sign[i]);
    most = Math.max(most, input[i] * sign[i]);
  }
  return most - least > 0.02 * Math.max(Math.abs(most), Math.abs(least));
}

/**
 * Time constant and dead time with the smallest residuals: a ladder of time constants, then Gauss-Newton steps on both.
 */
export function search(
  record: DcRecord,
  used: Uint8Array,
  shape: DcShape,
  near?: DcSolution,
): DcSolution | null {
  const { interval, span } = record;
  const ladder: [number, number][] = [];
  if (near === undefined) for (let tau = interval / 2; tau < span; tau *= 1.8) ladder.push([tau, 0]);
  else ladder.push([near.tau, near.delay], [near.tau, interval], [0.6 * near.tau, 0.4 * near.tau]);
  let best: DcSolution | null = null;
  for (const [tau, delay] of ladder) {
    const here = solveDc(record, used, shape, { tau, delay: shape.delayed ? delay : 0, lag: 0 });
    if (here !== null && !(best !== null && here.sumOfSquares >= best.sumOfSquares)) best = here;
  }
  return best === null ? null : descend(best, descentOf(record));
}

/** Shortest time constant that is tried, in sample intervals. */
export const shortestTau = 0.2;

/** Gauss-Newton steps on the times of a shape with all else solved for. */
export function descentOf(record: DcRecord): Descent<DcSolution> {
  return {
    cost: (state) => state.sumOfSquares,
    step: (from) => {
      const step = solveColumns([...from.columns, ...dcDerivatives(record, from)], from.residuals);
      return step === null ? null : [...step.subarray(from.columns.length)];
    },
    at: (from, step, part) => {
      const { shape, used } = from;
      const moved = { tau: from.tau, delay: from.delay, lag: from.lag };
      timesOf(shape).forEach((name, j) => {
        moved[name] += part * step[j];
      });
      const tau = Math.min(3 * record.span, Math.max(from.tau / 3, Math.min(3 * from.tau, moved.tau)));
      return solveDc(record, used, shape, {
        tau: Math.max(shortestTau * record.interval, tau),
        delay: Math.min(0.3 * record.span, Math.max(-record.interval, moved.delay)),
        lag: shape.lagged ? Math.max(0, Math.min(longestLag * tau, moved.lag)) : 0,
      });
    },
  };
}

/** Longest second lag that is tried, beside the first: lags of one length cannot be told apart. */
const longestLag = 0.8;
