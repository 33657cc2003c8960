import type { Measures } from "./measures.js";
import type { Observation } from "./observe.js";
import { multiply, offsetGrid } from "./offsetGrid.js";
import { controlForce, offsetRows } from "./tables/motion.js";
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

/** Likelihood of each offset error where n = 0, from the motion, the back-EMF and the plateaus; and the acceleration per ampere. */
export function offsetLikelihood(
  observation: Observation,
  measures: Measures,
): { offsets: Float64Array; acceleration?: { value: number; error: number } } {
  const { behaviour, law, trial } = observation;
  const offsets = motionLikelihood(observation);
  backEmf(measures, offsets);
  if (trial.kind === "torque" && behaviour === "turns") plateaus(observation, offsets);
  // In a speed trial the current may be at its limit and the voltage gone: only a torque trial measures the torque.
  const moving = trial.kind === "torque" && behaviour === "turns";
  return {
    offsets,
    ...(law && moving && law.unexplained < offsetModel.torqueFactor.unexplained
      ? { acceleration: { value: law.direct, error: law.error } }
      : {}),
  };
}

function motionLikelihood({ behaviour, trial, sense }: Observation): Float64Array {
  const loop = trial.kind === "speed" ? "speed" : "torque";
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
 * Likelihood of each offset error, given an acceleration per ampere and that of a sound order (`full`, with its relative error): their
 * ratio is g = cos(offset error). Relative to what any acceleration is worth where nothing is known of a sound order, so that averaging over
 * all that `full` may be leaves one.
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

/** Plateaus: where an offset weakens the magnets' flux the shaft goes faster and the current stays at its command. */
function plateaus(observation: Observation, offsets: Float64Array): void {
  const { arrival, plateauCurrent, plateauSides, settled: limit } = offsetModel;
  const settled = observation.holds.filter(
    (h) => h.sense !== 0 && h.turning && Math.abs(h.endChange) < limit.change && h.currentShare !== undefined,
  );
  if (!observation.signals.currentCommand || !observation.signals.current) return;
  // A trip took away the time to settle.
  if (settled.length === 0 && observation.tripped !== undefined) return;
  multiply(offsets, (k) => {
    const arrives = arrival.base + arrival.slope * Math.cos(offsetGrid[k]) ** 2;
    return settled.length > 0 ? arrives : 1 - arrives;
  });
  if (settled.length === 0) return;
  const kept = (list: typeof settled): number => Math.max(...list.map((h) => h.currentShare as number));
  const plus = settled.filter((h) => h.sense > 0);
  const minus = settled.filter((h) => h.sense < 0);
  const both = plus.length > 0 && minus.length > 0;
  const most = kept(settled);
  multiply(offsets, (k) => {
    const sine = Math.abs(Math.sin(offsetGrid[k]));
    // Without an offset the current falls to what friction asks; with one, the weakening direction keeps about sin(eps) of it.
    const { least, most: cap, slope, spreadBelow, spreadAbove, misread, misreadBothBelow } = plateauCurrent;
    const expected = Math.max(least, Math.min(cap, slope * sine));
    const [base, extra] = most < expected ? spreadBelow : spreadAbove;
    // Seen in both senses, the weakening one is among them: a current that fell in either speaks the more against an offset.
    const odd = most < expected && both ? misreadBothBelow : misread;
    return odd + (1 - odd) * normal(most - expected, base + extra * (1 - sine));
  });
  if (!both) return;
  const fast = (list: typeof settled): number => Math.max(...list.map((h) => Math.abs(h.tailSpeed)));
  const [a, b] = [fast(plus), fast(minus)];
  // Either sign of the score is possible without an offset (load, rounding); with one it has the offset's sign.
  const score = (a - b) / (a + b) / plateauSides.speed + (kept(plus) - kept(minus)) / plateauSides.current;
  const { misread, steepness } = plateauSides;
  multiply(
    offsets,
    (k) => misread + (1 - misread) / (1 + Math.exp(-steepness * score * Math.sin(offsetGrid[k]))),
  );
}
