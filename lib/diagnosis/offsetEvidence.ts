import type { Measures } from "./measures.js";
import type { Observation } from "./observe.js";
import { multiply, offsetGrid } from "./offsetGrid.js";
import { controlForce, loopOfKind, offsetRows } from "./tables/motion.js";
import { breakaway, offsetModel } from "./tables/offsets.js";

const deg = Math.PI / 180;
const normal = (x: number, sigma: number): number => Math.exp(-0.5 * (x / sigma) ** 2);
const wrapped = (angle: number): number => angle - 2 * Math.PI * Math.round(angle / (2 * Math.PI));

/** Chance that a shaft breaks away under a fraction `size` of the torque. */
function breaksAway(size: number): number {
  const { least, most } = breakaway;
  if (size <= least) return 0;
  if (size >= most) return 1;
  return Math.log(size / least) / Math.log(most / least);
}

/** The command was held in steps: a sine or a ramp has no plateaus, and a current that lags behind it is neither past
 * it nor short of it. */
export function holdsSteady({ trial }: Pick<Observation, "trial">): boolean {
  const shape = trial.conditions?.shape;
  return shape === undefined || shape === "step" || shape === "staircase" || shape === "constant";
}

/**
 * Likelihood of each offset error where n = 0, from the motion, the back-EMF and the plateaus; and the acceleration per
 * ampere.
 *
 * @param sound the channels bear more than the sense of turning
 */
export function offsetLikelihood(
  observation: Observation,
  measures: Measures,
  sound = true,
): { offsets: Float64Array; acceleration?: { value: number; error: number } } {
  const { behaviour, law, trial } = observation;
  const offsets = motionLikelihood(observation);
  if (!sound) return { offsets };
  backEmf(measures, offsets);
  if (trial.kind === "torque" && behaviour === "turns" && holdsSteady(observation))
    plateaus(observation, offsets);
  // In a speed trial the current may be at its limit and the voltage gone: only a torque trial measures the torque.
  const moving = trial.kind === "torque" && behaviour === "turns";
  return {
    offsets,
    ...(law &&
    moving &&
    law.unexplained < offsetModel.torqueFactor.unexplained &&
    law.error < offsetModel.torqueFactor.relativeError * Math.abs(law.direct)
      ? { acceleration: { value: law.direct, error: law.error } }
      : {}),
  };
}

function motionLikelihood({ behaviour, trial, sense }: Observation): Float64Array {
  const loop = loopOfKind[trial.kind];
  const of = (name: string) => offsetRows.find((r) => r.loop === loop && r.behaviour === name);
  const row = of(behaviour) ?? of("");
  if (!row) return new Float64Array(offsetGrid.length).fill(1);
  const wanted = row.sign === "seen" ? (sense === "with" ? 1 : sense === "against" ? -1 : 0) : row.sign;
  return offsetGrid.map((angle) => {
    const gain = Math.cos(angle);
    const force = loop === "speed" ? Math.min(1, Math.abs(gain) * controlForce.factor) : Math.abs(gain);
    const away = breaksAway(force);
    const fits = wanted === undefined || (gain > 0 ? wanted > 0 : wanted < 0);
    return row.floor + (fits ? row.moving * away : row.otherSign) + row.staying * (1 - away);
  });
}

function backEmf({ voltageOffset: emf }: Measures, offsets: Float64Array): void {
  const { spread, unexplained, misread } = offsetModel.backEmf;
  if (!emf || !(emf.unexplained < unexplained)) return;
  const sigma = Math.hypot(emf.error, spread * deg);
  // In a few logs of a hundred the fit may mean nothing: its angle is then anywhere in the turn.
  const floor = (misread / (1 - misread)) * ((sigma * Math.sqrt(2 * Math.PI)) / (2 * Math.PI));
  multiply(offsets, (k) => floor + normal(wrapped(offsetGrid[k] - emf.offset), sigma));
}

/**
 * Likelihood of each offset error, given an acceleration per ampere and that of a sound order (`full`, with its
 * relative error): their ratio is g = cos(offset error). Relative to what any acceleration is worth where nothing is
 * known of a sound order, so that averaging over all that `full` may be leaves one.
 */
export function factorLikelihood(
  acceleration: { readonly value: number; readonly error: number },
  full: { readonly value: number; readonly error: number },
): Float64Array {
  const { spread, misread, decades } = offsetModel.torqueFactor;
  const gain = acceleration.value / full.value;
  const sigma = Math.hypot(acceleration.error / full.value, spread + full.error * Math.abs(gain));
  const peak = (Math.abs(gain) * Math.log(decades)) / (sigma * Math.sqrt(2 * Math.PI));
  return offsetGrid.map((angle) => misread + (1 - misread) * peak * normal(gain - Math.cos(angle), sigma));
}

type Hold = Observation["holds"][number];
const fastest = (list: readonly Hold[]): number => Math.max(...list.map((h) => Math.abs(h.tailSpeed)));
const keptCurrent = (list: readonly Hold[]): number =>
  Math.max(...list.map((h) => h.currentShare ?? Number.NEGATIVE_INFINITY));

const settledHolds = (observation: Observation): readonly Hold[] =>
  observation.holds.filter(
    (h) => h.sense !== 0 && h.turning && Math.abs(h.endChange) < offsetModel.settled.change,
  );

/** Whether a torque trial came to a plateau whose current is known; undefined where that says nothing. */
export function settles(observation: Observation): boolean | undefined {
  const { trial, behaviour, signals, tripped } = observation;
  if (trial.kind !== "torque" || behaviour !== "turns" || !holdsSteady(observation)) return undefined;
  if (!signals.currentCommand || !signals.current) return undefined;
  const known = settledHolds(observation).some((h) => h.currentShare !== undefined);
  // A trip took away the time to settle.
  return !known && tripped !== undefined ? undefined : known;
}

/** Plateaus: where an offset weakens the magnets' flux the shaft goes faster and the current stays at its command. */
function plateaus(observation: Observation, offsets: Float64Array): void {
  const { arrival } = offsetModel;
  const { currentCommand, current } = observation.signals;
  const settled = settledHolds(observation);
  const plus = settled.filter((h) => h.sense > 0);
  const minus = settled.filter((h) => h.sense < 0);
  const both = plus.length > 0 && minus.length > 0;
  if (!currentCommand || !current) {
    if (both) plateauSpeeds(plus, minus, offsets);
    return;
  }
  const known = settled.filter((h) => h.currentShare !== undefined);
  if (settles(observation) === undefined) return;
  multiply(offsets, (k) => {
    const arrives = arrival.base + arrival.slope * Math.cos(offsetGrid[k]) ** 2;
    return known.length > 0 ? arrives : 1 - arrives;
  });
  if (known.length === 0) return;
  const senses = [plus, minus].map((list) => list.filter((h) => h.currentShare !== undefined));
  plateauCurrents(known, senses, offsets);
  if (senses.every((list) => list.length > 0)) plateauSides(senses[0], senses[1], offsets);
}

/**
 * Without an offset the current falls to what friction asks, as it does at half a turn; with another, the weakening
 * direction keeps about sin(offset) of it.
 */
function plateauCurrents(
  settled: readonly Hold[],
  senses: readonly (readonly Hold[])[],
  offsets: Float64Array,
): void {
  const { least, most: cap, slope, spreadBelow, spreadAbove, misread } = offsetModel.plateauCurrent;
  const both = senses.every((list) => list.length > 0);
  const most = keptCurrent(settled);
  multiply(offsets, (k) => {
    const sine = Math.abs(Math.sin(offsetGrid[k]));
    const expected = Math.max(least, Math.min(cap, slope * sine));
    const [below, above] = [spreadBelow, spreadAbove].map(([base, extra]) => base + extra * (1 - sine));
    // Seen in both senses, the weakening one is among them: a current that fell in either indicates the more that there
    // is no offset.
    const odd = both ? (most < expected ? misread.bothBelow : misread.both) : misread.one;
    const peak = 2 / (Math.sqrt(2 * Math.PI) * (below + above));
    return odd + (1 - odd) * peak * normal(most - expected, most < expected ? below : above);
  });
}

/** Either sign of the score is possible without an offset (load, rounding); with one it has the offset's sign. */
function plateauSides(plus: readonly Hold[], minus: readonly Hold[], offsets: Float64Array): void {
  const { speed, current, misread, steepness } = offsetModel.plateauSides;
  const [a, b] = [fastest(plus), fastest(minus)];
  const score = (a - b) / (a + b) / speed + (keptCurrent(plus) - keptCurrent(minus)) / current;
  multiply(
    offsets,
    (k) => misread + (1 - misread) / (1 + Math.exp(-steepness * score * Math.sin(offsetGrid[k]))),
  );
}

/** Equal plateaus both ways: no offset error, or half a turn; unequal ones: a third of a turn, or a disturbed
 * alignment. */
function plateauSpeeds(plus: readonly Hold[], minus: readonly Hold[], offsets: Float64Array): void {
  const { alike, oddly, middle, spread, misread } = offsetModel.plateauSpeeds;
  const [a, b] = [fastest(plus), fastest(minus)];
  const gap = Math.abs(a - b) / (a + b);
  const decay = (mean: number): number => Math.exp(-gap / mean) / mean;
  const equal = (1 - oddly) * decay(alike[0]) + oddly * decay(alike[1]);
  const unequal =
    normal(Math.log(Math.max(gap, 1e-6) / middle), spread) /
    (Math.max(gap, 1e-3) * spread * Math.sqrt(2 * Math.PI));
  multiply(offsets, (k) => {
    const part = Math.sin(offsetGrid[k]) ** 2;
    return misread * equal + (1 - misread) * ((1 - part) * equal + part * unequal);
  });
}
