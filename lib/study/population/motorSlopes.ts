import { Matrix, solve } from "ml-matrix";

/** One measurement of one constant of one motor. */
export interface MeasuredRun {
  readonly motor: string;
  /** Days, or any other unit of time or use. */
  readonly time: number;
  readonly value: number;
  readonly rig?: string | null;
  /** Degrees Celsius. */
  readonly temperature?: number | null;
}

/** The straight line of one motor, rig and temperature taken out. */
export interface MotorLine {
  readonly motor: string;
  readonly times: Float64Array;
  /** Values without the effects of rig and temperature. */
  readonly values: Float64Array;
  readonly slope: number;
  /** Value of the line at the motor's mean time. */
  readonly level: number;
  readonly meanTime: number;
  /** Sum of squares of the times about their mean. */
  readonly reach: number;
  readonly residuals: Float64Array;
  /** Runs less the two constants of the line. */
  readonly degrees: number;
}

/** The lines of all motors, and what rig and temperature do. */
export interface MotorLines {
  readonly lines: readonly MotorLine[];
  /** Effect of each rig against the first, and of one degree, where the runs can tell them from the lines. */
  readonly effects: Readonly<Record<string, number>>;
  /** Degrees of freedom that the effects took. */
  readonly taken: number;
}

/**
 * A straight line over time for each motor, with effects of rig and temperature common to all, by least squares: the
 * effects are found from what the motors' own lines leave over (Frisch and Waugh 1933, Lovell 1963). Motors with fewer
 * than four runs or fewer than three different times have no line. An effect that the runs cannot tell from the lines
 * is left out.
 *
 * @param least - fewest runs of a motor; 4 when absent
 */
export function motorLines(runs: readonly MeasuredRun[], least = 4): MotorLines {
  const byMotor = new Map<string, MeasuredRun[]>();
  for (const run of runs) {
    if (!Number.isFinite(run.value) || !Number.isFinite(run.time)) continue;
    const list = byMotor.get(run.motor) ?? [];
    byMotor.set(run.motor, list);
    list.push(run);
  }
  const kept = [...byMotor].filter(
    ([, list]) => list.length >= least && new Set(list.map((r) => r.time)).size >= 3,
  );
  const columns = covariates(kept.flatMap(([, list]) => list));
  const lines = kept.map(([motor, list]) =>
    lineOf(
      motor,
      list,
      list.map((r) => r.value),
    ),
  );
  const effects = commonEffects(
    kept.map(([, list]) => list),
    lines,
    columns,
  );
  const names = Object.keys(effects);
  if (names.length === 0) return { lines, effects, taken: 0 };
  const adjusted = kept.map(([motor, list]) =>
    lineOf(
      motor,
      list,
      list.map((r) => r.value - names.reduce((sum, name) => sum + effects[name] * columns[name](r), 0)),
    ),
  );
  return { lines: adjusted, effects, taken: names.length };
}

/** What may act on every run: rigs but the first, and the temperature about its mean where every run has one. */
function covariates(runs: readonly MeasuredRun[]): Record<string, (run: MeasuredRun) => number> {
  const rigs = [...new Set(runs.flatMap((r) => (r.rig == null ? [] : [r.rig])))].sort();
  const columns: Record<string, (run: MeasuredRun) => number> = {};
  for (const rig of rigs.slice(1)) columns[`rig ${rig}`] = (r) => (r.rig === rig ? 1 : 0);
  const heats = runs.map((r) => r.temperature ?? Number.NaN);
  if (heats.length > 0 && heats.every(Number.isFinite)) {
    const mean = heats.reduce((a, b) => a + b, 0) / heats.length;
    if (heats.some((h) => Math.abs(h - mean) > 0.5))
      columns.temperature = (r) => (r.temperature as number) - mean;
  }
  return columns;
}

function lineOf(motor: string, runs: readonly MeasuredRun[], values: readonly number[]): MotorLine {
  const n = runs.length;
  const meanTime = runs.reduce((sum, r) => sum + r.time, 0) / n;
  const level = values.reduce((sum, v) => sum + v, 0) / n;
  let [reach, product] = [0, 0];
  runs.forEach((r, i) => {
    reach += (r.time - meanTime) ** 2;
    product += (r.time - meanTime) * (values[i] - level);
  });
  const slope = product / reach;
  const times = Float64Array.from(runs, (r) => r.time);
  const residuals = Float64Array.from(values, (v, i) => v - level - slope * (times[i] - meanTime));
  return {
    motor,
    times,
    values: Float64Array.from(values),
    slope,
    level,
    meanTime,
    reach,
    residuals,
    degrees: n - 2,
  };
}

/** Effects by least squares on what the lines leave over of values and covariates. */
function commonEffects(
  lists: readonly (readonly MeasuredRun[])[],
  lines: readonly MotorLine[],
  columns: Readonly<Record<string, (run: MeasuredRun) => number>>,
): Record<string, number> {
  const y = lines.flatMap((line) => Array.from(line.residuals));
  const usable = Object.entries(columns).flatMap(([name, of]) => {
    const x = lists.flatMap((list, m) => Array.from(lineOf(lines[m].motor, list, list.map(of)).residuals));
    const whole = lists.flatMap((list) => list.map(of));
    const size = (v: readonly number[]) => v.reduce((sum, one) => sum + one * one, 0);
    const mean = whole.reduce((a, b) => a + b, 0) / whole.length;
    // Nearly all of it follows from the motors' own lines: it cannot be told from them.
    return size(x) < 0.02 * size(whole.map((v) => v - mean)) || size(x) === 0 ? [] : [{ name, x }];
  });
  const degrees = lines.reduce((sum, line) => sum + line.degrees, 0);
  if (usable.length === 0 || degrees < 2 * usable.length + 2) return {};
  const product = (a: readonly number[], b: readonly number[]) => a.reduce((sum, v, i) => sum + v * b[i], 0);
  const scale = usable.map(({ x }) => Math.sqrt(product(x, x)));
  const left = usable.map((a, i) => usable.map((b, j) => product(a.x, b.x) / scale[i] / scale[j]));
  const right = usable.map(({ x }, i) => [product(x, y) / scale[i]]);
  const solved = solve(new Matrix(left), new Matrix(right), true).to1DArray();
  return Object.fromEntries(usable.map(({ name }, i) => [name, solved[i] / scale[i]]));
}
