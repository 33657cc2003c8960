import { fRatio } from "../../numeric/distributions/distributions.js";
import { meanOf, squaresAbout } from "./sample.js";
import { type VarianceComponents, varianceComponents } from "./varianceComponents.js";

/** One measurement of one motor on one rig (or by one operator). */
export interface GaugeReading {
  readonly motor: string;
  readonly rig: string;
  readonly value: number;
}

/** How much of a spread is the measurement. Deviations in the unit of the values. */
export interface GaugeStudy {
  /** Deviation of repeats on one rig. */
  readonly repeatability: number;
  /** Deviation between rigs (with their interaction with the motors, when there is one). */
  readonly reproducibility: number;
  /** Both together. */
  readonly gauge: number;
  /** Deviation between motors. */
  readonly motors: number;
  readonly total: number;
  /** Gauge deviation over total deviation. */
  readonly share: number;
  /** Number of classes of motors that the measurement can tell apart: 1.41 * motors / gauge, rounded down, at
   * least 1. */
  readonly classes: number;
  /** p of the motor-by-rig interaction, and whether it was kept. */
  readonly interaction: { readonly f: number; readonly p: number; readonly kept: boolean };
  readonly table: readonly {
    readonly source: string;
    readonly df: number;
    readonly squares: number;
    readonly meanSquare: number;
  }[];
  /** The same split by restricted maximum likelihood, with intervals. */
  readonly likelihood: VarianceComponents;
}

/**
 * Repeatability and reproducibility by crossed analysis of variance: every motor measured on every rig equally often,
 * at least twice. An interaction that is not seen (p above `pool`) joins the repeats.
 *
 * @param options - `pool`: p of the interaction above which it joins the repeats (0.25); `intervals: false` leaves out
 * the
 *   profile intervals, the slow part
 * @throws RangeError when the readings are not balanced, naming the cell
 * @example
 * const readings = ["m1", "m2", "m3"].flatMap((motor, i) =>
 *   ["rig A", "rig B"].flatMap((rig, j) => [0, 0.01].map((off) => ({ motor, rig, value: 10 + i + 0.1 * j + off }))),
 * );
 * gaugeStudy(readings, { unit: "A", intervals: false }).repeatability; // => 0.0061
 */
export function gaugeStudy(
  readings: readonly GaugeReading[],
  options: { readonly pool?: number; readonly intervals?: boolean; readonly unit?: string } = {},
): GaugeStudy {
  const { pool = 0.25, intervals = true, unit = "1" } = options;
  const motors = [...new Set(readings.map((r) => r.motor))];
  const rigs = [...new Set(readings.map((r) => r.rig))];
  const cells = new Map<string, number[]>();
  const key = (motor: string, rig: string) => JSON.stringify([motor, rig]);
  for (const { motor, rig, value } of readings) {
    const cell = cells.get(key(motor, rig)) ?? [];
    cell.push(value);
    cells.set(key(motor, rig), cell);
  }
  const [a, b] = [motors.length, rigs.length];
  const r = readings.length / (a * b);
  if (a < 2 || b < 2 || r < 2)
    throw new RangeError(`a gauge study needs 2 motors, 2 rigs and 2 repeats: got ${a}, ${b} and ${r}`);
  for (const motor of motors)
    for (const rig of rigs) {
      const found = cells.get(key(motor, rig))?.length ?? 0;
      if (found !== r)
        throw new RangeError(`motor ${motor} on rig ${rig} has ${found} readings where ${r} are needed`);
    }
  const all = readings.map((reading) => reading.value);
  const grand = meanOf(all);
  const of = (pick: (reading: GaugeReading) => boolean) =>
    meanOf(readings.filter(pick).map((reading) => reading.value));
  const motorSquares = b * r * motors.reduce((sum, m) => sum + (of((x) => x.motor === m) - grand) ** 2, 0);
  const rigSquares = a * r * rigs.reduce((sum, g) => sum + (of((x) => x.rig === g) - grand) ** 2, 0);
  const repeatSquares = [...cells.values()].reduce((sum, cell) => sum + squaresAbout(cell), 0);
  const bothSquares = squaresAbout(all) - motorSquares - rigSquares - repeatSquares;
  const df = { motor: a - 1, rig: b - 1, both: (a - 1) * (b - 1), repeat: a * b * (r - 1) };
  const f = bothSquares / df.both / (repeatSquares / df.repeat);
  const p = fRatio.upper(f, df.both, df.repeat);
  const kept = p < pool;
  const error = kept ? repeatSquares / df.repeat : (repeatSquares + bothSquares) / (df.repeat + df.both);
  const both = kept ? bothSquares / df.both : error;
  const interaction = Math.max(0, (both - error) / r);
  const rig = Math.max(0, (rigSquares / df.rig - both) / (a * r));
  const motor = Math.max(0, (motorSquares / df.motor - both) / (b * r));
  const reproducibility = rig + interaction;
  const gauge = error + reproducibility;
  const total = gauge + motor;
  const line = (source: string, d: number, squares: number) => ({
    source,
    df: d,
    squares,
    meanSquare: squares / d,
  });
  return {
    repeatability: Math.sqrt(error),
    reproducibility: Math.sqrt(reproducibility),
    gauge: Math.sqrt(gauge),
    motors: Math.sqrt(motor),
    total: Math.sqrt(total),
    share: Math.sqrt(gauge / total),
    classes: Math.max(1, Math.floor(Math.SQRT2 * Math.sqrt(motor / gauge))),
    interaction: { f, p, kept },
    table: [
      line("motor", df.motor, motorSquares),
      line("rig", df.rig, rigSquares),
      line("motor by rig", df.both, bothSquares),
      line("repeat", df.repeat, repeatSquares),
    ],
    likelihood: varianceComponents(
      all,
      {
        motor: readings.map((x) => x.motor),
        rig: readings.map((x) => x.rig),
        ...(kept ? { "motor by rig": readings.map((x) => key(x.motor, x.rig)) } : {}),
      },
      { intervals, unit },
    ),
  };
}
