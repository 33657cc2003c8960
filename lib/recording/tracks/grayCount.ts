import { median } from "../../numeric/series/median.js";
import type { TwoLevels } from "./twoLevels.js";

/** Steps of two or three tracks that change one after the other. */
export interface GrayCount {
  /** Steps counted from the first row, up where the first track leads. */
  readonly count: Float64Array;
  /** Steps one way and the other, and steps at which two tracks changed between two rows. */
  readonly up: number;
  readonly down: number;
  readonly missed: number;
  /** Part of all steps that go on the same way as the one before. */
  readonly steady: number;
  /** Part of a period spent in each state, by the visits that were passed through; undefined where those are few. */
  readonly shares: readonly number[] | undefined;
}

/** States in the order in which they follow while the first track leads, each as bits: first track 1, second 2, third
 * 4. Two tracks a quarter of a period apart (incremental encoders), three a third apart (Hall sensors 120 electrical
 * degrees apart) or a sixth (60 degrees apart): common practice, no source. */
export const sequences = {
  quadrature: [0, 1, 3, 2],
  thirds: [1, 3, 2, 6, 4, 5],
  sixths: [0, 1, 3, 7, 6, 4],
} as const;

/** So many visits of a state are kept. */
const mostVisits = 2000;
/** Visits of each state from which their shares are told. */
const fewestVisits = 3;

/** Counts steps along a sequence of states; undefined where rows stand in states outside of it, or nothing moves. */
export function grayCount(
  tracks: readonly TwoLevels[],
  sequence: readonly number[],
  clock?: Float64Array,
): GrayCount | undefined {
  const n = tracks[0].state.length;
  const size = sequence.length;
  const place = new Int8Array(8).fill(-1);
  for (const [k, s] of sequence.entries()) place[s] = k;
  const count = new Float64Array(n);
  const visits: number[][] = sequence.map(() => []);
  let at = -1;
  let up = 0;
  let down = 0;
  let missed = 0;
  let outside = 0;
  let same = 0;
  let last = 0;
  let counted = 0;
  let entered = -1;
  for (let i = 0; i < n; i += 1) {
    let bits = 0;
    for (let k = 0; k < tracks.length; k += 1) bits |= tracks[k].state[i] << k;
    const now = place[bits];
    if (now < 0) outside += 1;
    else {
      const step = at < 0 ? 0 : (now - at + size) % size;
      const one = step === 1 ? 1 : step === size - 1 ? -1 : 0;
      if (step !== 0 && one === 0) {
        missed += 1;
        entered = -1;
      }
      if (one !== 0) {
        const through = one === last && entered >= 0 && visits[at].length < mostVisits;
        if (through) visits[at].push(clock === undefined ? i - entered : clock[i] - clock[entered]);
        entered = i;
        if (one === last) same += 1;
        last = one;
        if (one > 0) up += 1;
        else down += 1;
        counted += one;
      }
      at = now;
    }
    count[i] = counted;
  }
  const steps = up + down;
  if (outside > 0.02 * n || steps === 0) return undefined;
  return {
    count,
    up,
    down,
    missed,
    steady: same / Math.max(1, steps - 1),
    shares: sharesOf(visits),
  };
}

function sharesOf(visits: readonly number[][]): number[] | undefined {
  if (visits.some((v) => v.length < fewestVisits)) return undefined;
  const middle = visits.map((v) => median(v));
  const sum = middle.reduce((a, b) => a + b, 0);
  return sum > 0 ? middle.map((m) => m / sum) : undefined;
}
