/** A problem for `descend`: states are whatever the caller solves for at each point. */
export interface Descent<S> {
  /** Sum of squares, or whatever is to become small. */
  readonly cost: (state: S) => number;
  /** A full step from a state, for instance that of Gauss and Newton; null where there is none. */
  readonly step: (state: S) => readonly number[] | null;
  /** The state at a part of a step, 0 to 1, within whatever bounds there are; null where it cannot be solved. */
  readonly at: (state: S, step: readonly number[], part: number) => S | null;
}

/** Most rounds, smallest part of a step, and the relative gain below which nothing more is to be had. */
const limits = { rounds: 20, part: 0.02, gain: 1e-8 };

/**
 * Repeats steps, each halved until it helps, until none does or the gain is too small to matter: the damped method of
 * Gauss and Newton (Bjorck, Numerical Methods for Least Squares Problems,
 * 1996, section 9.2.2) for problems in which all that is linear is solved for at each point.
 *
 * @example
 * descend(9, { cost: (x) => (x - 2) ** 2, step: (x) => [2 - x], at: (x, [d], part) => x + part * d }); // => 2
 */
export function descend<S>(start: S, { cost, step, at }: Descent<S>): S {
  let state = start;
  for (let round = 0; round < limits.rounds; round++) {
    const full = step(state);
    if (full === null) break;
    let next: S | null = null;
    for (let part = 1; part > limits.part && next === null; part /= 2) {
      const tried = at(state, full, part);
      if (tried !== null && cost(tried) < cost(state)) next = tried;
    }
    if (next === null) break;
    const gain = cost(state) - cost(next);
    state = next;
    if (!(gain > limits.gain * cost(state))) break;
  }
  return state;
}
