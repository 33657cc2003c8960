import { largest } from "../../numeric/series/largest.js";
import { quantile } from "../../numeric/series/median.js";
import { range } from "../../numeric/series/range.js";
import type { ColumnFacts } from "./columnFacts.js";
import type { Hypothesis } from "./hypotheses.js";
import type { Meaning } from "./roles.js";

/** Rows in which a column stays at one value: from the first up to, but not with, the last. */
export interface Block {
  readonly from: number;
  readonly to: number;
  readonly value: number;
}

/**
 * Blocks of equal values of a column; undefined where there is one only, or where they are too many or too short for
 * trials.
 */
export function blocksOf(values: Float64Array, fewestRows: number, most: number): Block[] | undefined {
  const out: Block[] = [];
  let from = 0;
  for (let i = 1; i <= values.length; i += 1) {
    if (i < values.length && values[i] === values[from]) continue;
    if (Number.isNaN(values[from]) || i - from < fewestRows || out.length >= most) return undefined;
    out.push({ from, to: i, value: values[from] });
    from = i;
  }
  return out.length < 2 ? undefined : out;
}

/** How a shaft moves through the rows of a table, as far as its columns were understood. */
export interface Motion {
  readonly clock: Float64Array | undefined;
  /** Measured quantities that cannot be somewhere else at once. */
  readonly steady: readonly Float64Array[];
  /** Nothing is asked for in this row and nothing turns, as far as is logged. */
  readonly atRest: (row: number) => boolean;
  /** Something is asked for or turns within these rows. */
  readonly moves: (block: Block) => boolean;
}

const asked: ReadonlySet<Meaning> = new Set<Meaning>([
  ...(["speedCommand", "currentCommand", "torqueCommand", "voltageCommand", "duty", "speed"] as const),
]);
const measured: ReadonlySet<Meaning> = new Set<Meaning>(["speed", "position"]);
const placed: ReadonlySet<Meaning> = new Set<Meaning>(["position", "positionCommand"]);
/** A signal this small beside its largest value is at rest; one this large moves. */
const small = 0.04;
const large = 0.2;

/** What says that the shaft moves or is at rest: the columns but for those `left` out. */
export function motionOf(
  understood: {
    readonly facts: readonly ColumnFacts[];
    readonly chosen: readonly Hypothesis[];
    readonly values: ReadonlyMap<number, Float64Array>;
  },
  left: ReadonlySet<number>,
): Motion {
  const { facts, chosen, values } = understood;
  const of = (roles: ReadonlySet<Meaning>): Float64Array[] =>
    chosen.flatMap(({ role }, i) => {
      const own = values.get(i);
      const moves = facts[i].numbers !== undefined && facts[i].numbers?.shape !== "constant";
      return roles.has(role) && !left.has(i) && moves && facts[i].wrap === undefined && own !== undefined
        ? [own]
        : [];
    });
  const signals = of(asked).map((v) => ({ v, size: largest(v) }));
  const places = of(placed).map((v) => ({ v, size: range(v) }));
  const time = chosen.findIndex(({ role }) => role === "time");
  const still = ({ v, size }: { v: Float64Array; size: number }, row: number): boolean => {
    const near = Math.abs(v[Math.min(v.length - 1, row + 2)] - v[Math.max(0, row - 2)]);
    return near <= 0.002 * size;
  };
  return {
    clock: time < 0 ? undefined : values.get(time),
    steady: of(measured),
    atRest: (row) =>
      signals.length > 0
        ? signals.every(({ v, size }) => Math.abs(v[row]) <= small * size)
        : places.length > 0 && places.every((p) => still(p, row)),
    moves: ({ from, to }) => [...signals, ...places].some(({ v, size }) => range(v, from, to) > large * size),
  };
}

/** A pause of the clock is so many times as long as its usual step. */
const pause = 3;

/** Whether the clock begins anew or pauses at each of these rows, and does so hardly anywhere else. */
export function breaksOfClock({ clock }: Motion, starts: readonly number[]): boolean[] {
  if (clock === undefined) return starts.map(() => false);
  const usual = usualStep(clock, (d) => d);
  const broken = (row: number): boolean => {
    const step = clock[row] - clock[row - 1];
    return step < 0 || step > pause * usual;
  };
  return apart(starts, clock.length, broken);
}

/** A step of a signal this many times as large as its usual large ones is none of the motion. */
const leap = 4;

/** Whether a measured quantity is somewhere else at once at each of these rows, and hardly anywhere else. */
export function breaksOfMotion({ steady }: Motion, starts: readonly number[]): boolean[] {
  const each = steady.map((v) => {
    const usual = usualStep(v, Math.abs, 0.995);
    const broken = (row: number): boolean => Math.abs(v[row] - v[row - 1]) > leap * usual;
    return usual > 0 ? apart(starts, v.length, broken) : starts.map(() => false);
  });
  return starts.map((_, k) => each.some((e) => e[k]));
}

/** Breaks at the rows asked about; none where there are as many at other rows. */
function apart(starts: readonly number[], rows: number, broken: (row: number) => boolean): boolean[] {
  const own = starts.map(broken);
  const hits = own.filter(Boolean).length;
  if (hits === 0) return own;
  let all = 0;
  for (let i = 1; i < rows; i += 1) if (broken(i)) all += 1;
  return all - hits <= hits ? own : starts.map(() => false);
}

const mostSteps = 4000;

/** A quantile of the steps from row to row, of rows spread over the whole. */
function usualStep(v: Float64Array, size: (step: number) => number, at = 0.5): number {
  const every = Math.max(1, Math.floor(v.length / mostSteps));
  const steps: number[] = [];
  for (let i = 1; i < v.length; i += every) {
    const step = size(v[i] - v[i - 1]);
    if (step - step === 0) steps.push(step);
  }
  return quantile(steps, at);
}
