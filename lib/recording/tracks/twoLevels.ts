/** A column that is at one of two levels nearly always, as a logic level or its voltage is. */
export interface TwoLevels {
  /** 0 or 1 for each row; a row between the levels keeps the one before. */
  readonly state: Uint8Array;
  /** Part of the rows at the upper level. */
  readonly high: number;
  /** Rows at which it changes. */
  readonly edges: number;
}

const lookedAt = 4000;
/** Part of the swing around each level that counts as at it, and part of the rows that must be at one (judgement: a
 * probe overshoots and an edge takes a few samples). */
const band = 0.25;
const atLevel = 0.9;

/** The two levels of a column; undefined for one that has more, or none. */
export function twoLevels(values: Float64Array): TwoLevels | undefined {
  const levels = levelsOf(values);
  if (levels === undefined) return undefined;
  const [low, top] = levels;
  const swing = top - low;
  const state = new Uint8Array(values.length);
  let now = values.find((v) => v - v === 0) ?? 0;
  let was = now > low + swing / 2 ? 1 : 0;
  let high = 0;
  let edges = 0;
  let between = 0;
  for (let i = 0; i < values.length; i += 1) {
    now = values[i];
    if (now > top - band * swing) was = 1;
    else if (now < low + band * swing) was = 0;
    else between += 1;
    state[i] = was;
    high += was;
    if (i > 0 && state[i] !== state[i - 1]) edges += 1;
  }
  if (between > (1 - atLevel) * values.length) return undefined;
  return { state, high: high / Math.max(1, values.length), edges };
}

/** Lower and upper level by the extremes that more than a stray row reaches. */
function levelsOf(values: Float64Array): readonly [number, number] | undefined {
  const step = Math.max(1, Math.floor(values.length / lookedAt));
  const some: number[] = [];
  for (let i = 0; i < values.length; i += step) if (values[i] - values[i] === 0) some.push(values[i]);
  if (some.length < 8) return undefined;
  some.sort((a, b) => a - b);
  const stray = Math.floor(some.length / 500);
  const [low, top] = [some[stray], some[some.length - 1 - stray]];
  if (!(top > low)) return undefined;
  const swing = top - low;
  const middle = some.filter((v) => v > low + band * swing && v < top - band * swing).length;
  return middle > (1 - atLevel) * some.length ? undefined : [low, top];
}
