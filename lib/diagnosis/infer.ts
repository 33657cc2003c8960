/** A state a unit can be in, in one world: what it is called, how likely the world makes it, and the log likelihood of
 * the unit's log. */
export interface State<Name> {
  readonly name: Name;
  readonly probability: number;
  readonly log: number;
}

/** A hypothesis about what all units share, and the states it leaves each of them. */
export interface World<Name> {
  readonly prior: number;
  /** One list of states a unit; their probabilities add up to one. */
  readonly units: readonly (readonly State<Name>[])[];
}

/** What is left after the logs were looked at. */
export interface Posterior<Name> {
  /** Probability of each world. */
  readonly worlds: readonly number[];
  /** Probability of each state of each unit, over all worlds. */
  readonly units: readonly ReadonlyMap<Name, number>[];
}

/**
 * Bayes' rule over worlds and the states of the units in them: P(world) * product over units of sum over states of
 * P(state | world) * L. Units are independent of each other once the world is known.
 *
 * @example
 * const fair = { prior: 0.5, units: [[{ name: "tails", probability: 1, log: Math.log(0.5) }]] };
 * const bent = { prior: 0.5, units: [[{ name: "tails", probability: 1, log: Math.log(0.9) }]] };
 * infer([fair, bent]).worlds; // [0.357, 0.643]
 */
export function infer<Name>(worlds: readonly World<Name>[]): Posterior<Name> {
  const logOf = unitLogs();
  const logs = worlds.map(
    ({ prior, units }) => Math.log(prior) + units.reduce((sum, states) => sum + logOf(states), 0),
  );
  const weights = normalised(logs);
  const count = worlds[0]?.units.length ?? 0;
  const units = Array.from({ length: count }, (_, u) => {
    const sums = new Map<Name, number>();
    worlds.forEach((world, w) => {
      if (weights[w] < 1e-9) return;
      const states = world.units[u];
      const whole = logOf(states);
      const none = 1 / states.length;
      for (const { name, probability, log } of states) {
        const part = Number.isFinite(whole) ? Math.exp(Math.log(probability) + log - whole) : none;
        sums.set(name, (sums.get(name) ?? 0) + weights[w] * part);
      }
    });
    const whole = [...sums.values()].reduce((a, b) => a + b, 0);
    return new Map([...sums].map(([name, p]) => [name, p / whole]));
  });
  return { worlds: weights, units };
}

/** `unitLog` of lists of states that worlds share, each worked out once. */
export function unitLogs(): (states: readonly State<unknown>[]) => number {
  const known = new Map<readonly State<unknown>[], number>();
  return (states) => {
    let log = known.get(states);
    if (log === undefined) {
      log = unitLog(states);
      known.set(states, log);
    }
    return log;
  };
}

/** Log likelihood of a unit in a world: the sum over its states. */
export function unitLog(states: readonly State<unknown>[]): number {
  return logSum(states.map(({ probability, log }) => Math.log(probability) + log));
}

/** Logarithm of a sum of exponentials. */
export function logSum(logs: readonly number[]): number {
  let most = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < logs.length; k += 1) most = Math.max(most, logs[k]);
  if (!Number.isFinite(most)) return most;
  let sum = 0;
  for (let k = 0; k < logs.length; k += 1) sum += Math.exp(logs[k] - most);
  return most + Math.log(sum);
}

/** The same of two. */
export function logOfTwo(a: number, b: number): number {
  const most = Math.max(a, b);
  return Number.isFinite(most) ? most + Math.log(Math.exp(a - most) + Math.exp(b - most)) : most;
}

function normalised(logs: readonly number[]): number[] {
  const whole = logSum(logs);
  if (!Number.isFinite(whole)) return logs.map(() => 1 / logs.length);
  return logs.map((log) => Math.exp(log - whole));
}
