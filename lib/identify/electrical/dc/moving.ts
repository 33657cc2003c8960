import { quantile } from "../../../numeric/series/median.js";
import { noiseLevel } from "../../../numeric/series/noiseLevel.js";

/** The sense in which a shaft turns at every row, by its speed. */
export interface Sense {
  /** +1, -1, or 0 at rest. */
  readonly sign: Int8Array;
  /** Speeds no larger than this count as rest. */
  readonly rest: number;
  /** Largest sustained speed. */
  readonly most: number;
}

/**
 * Counted speeds lie on a grid, and a bound may fall on it: what the last bit of a number says then is no answer.
 * Speeds that near to a bound count as below it.
 */
const beyond = 1 + 1e-9;

/** Fraction of the largest speed below which a shaft counts as at rest. */
const restFraction = 0.02;

/**
 * Sense of rotation at every row, rest told from slow motion by the noise of the speed. Where the shaft sets out from
 * rest, its sense is that of the motion from the last change of the input on: friction no longer holds it there, though
 * it does not yet move by more than the noise.
 *
 * @param input what drives it, one value for each row
 */
export function senseOf(speed: Float64Array, input: Float64Array): Sense {
  const n = speed.length;
  const sizes = Float64Array.from(speed, Math.abs).filter((v) => v - v === 0);
  const most = sizes.length === 0 ? 0 : quantile(sizes, 0.98);
  const rest = beyond * Math.max(restFraction * most, Math.min(3 * noiseLevel(speed), 0.3 * most));
  const sign = new Int8Array(n);
  for (let i = 0; i < n; i++) sign[i] = Math.abs(speed[i]) > rest ? Math.sign(speed[i]) : 0;
  for (let i = 0; i < n; ) {
    if (sign[i] !== 0) {
      i++;
      continue;
    }
    let end = i;
    while (end < n && sign[end] === 0) end++;
    const before = i > 0 ? sign[i - 1] : 0;
    const after = end < n ? sign[end] : 0;
    let changed = Math.min(end, n - 1);
    while (changed > i && input[changed] === input[changed - 1]) changed--;
    if (changed === i && i === 0) changed = end;
    const through = before !== 0 && after === -before && changed === i;
    const zero = through ? crossing(speed, i - 1, end) : 0;
    if (through) for (let k = i; k < end; k++) sign[k] = k + 0.5 < zero - 1e-9 ? before : after;
    // Passing through zero without stopping, or setting out.
    else if (after !== 0)
      for (let k = end - i < 3 && before !== 0 ? i : changed; k < end; k++) sign[k] = after;
    i = end;
  }
  // A row's sense holds until the next row: where the shaft turns back between two, that of the longer part.
  for (let i = 0; i + 1 < n; i++)
    if (sign[i] !== 0 && sign[i + 1] === -sign[i] && crossing(speed, i, i + 1) < i + 0.5 - 1e-9)
      sign[i] = sign[i + 1];
  return { sign, rest, most };
}

/** Where a speed that changes its sign between two rows passes through zero, in rows. */
function crossing(speed: Float64Array, from: number, to: number): number {
  const [a, b] = [Math.abs(speed[from]), Math.abs(speed[to])];
  return from + ((to - from) * a) / (a + b || 1);
}
