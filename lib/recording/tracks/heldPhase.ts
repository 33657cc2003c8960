import type { TwoLevels } from "./twoLevels.js";

const fewestPeriods = 6;

/**
 * How well one track keeps its place within the periods of another, either way round, from 0 (it drifts through all of
 * them, as signals of two clocks do) to 1; undefined for too few periods. A quarter of a period ahead and one behind
 * are the same place: a shaft turns both ways.
 */
export function heldPhase(a: TwoLevels, b: TwoLevels): number | undefined {
  const rises = (t: TwoLevels): number[] => {
    const out: number[] = [];
    for (let i = 1; i < t.state.length; i += 1) if (t.state[i] === 1 && t.state[i - 1] === 0) out.push(i);
    return out;
  };
  const [first, second] = [rises(a), rises(b)];
  let x = 0;
  let y = 0;
  let n = 0;
  let k = 0;
  for (let p = 0; p + 1 < first.length; p += 1) {
    while (k < second.length && second[k] < first[p]) k += 1;
    if (k >= second.length || second[k] >= first[p + 1]) continue;
    const phase = (second[k] - first[p]) / (first[p + 1] - first[p]);
    x += Math.cos(4 * Math.PI * phase);
    y += Math.sin(4 * Math.PI * phase);
    n += 1;
  }
  return n < fewestPeriods ? undefined : Math.hypot(x, y) / n;
}
