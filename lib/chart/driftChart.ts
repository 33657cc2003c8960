import { dataColor, modelColor } from "./marks/palette.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** One constant of one motor over time. */
export interface DriftPicture {
  /** Runs in the order of time: ISO date, value and, where it is known, its interval. */
  readonly runs: readonly {
    readonly date: string;
    readonly value: number;
    readonly low?: number;
    readonly high?: number;
  }[];
  /** Change of its straight line in a day. */
  readonly perDay: number;
}

const day = 86_400_000;

/**
 * Runs of one motor over time, with their intervals and the straight line of its drift through their middle.
 *
 * @param axis - title of the value axis, with the unit
 * @example
 * const runs = [{ date: "2026-03-02", value: 26 }, { date: "2026-05-04", value: 29 }, { date: "2026-07-06", value: 33 }];
 * driftChart({ runs, perDay: 0.055 }, "Coulomb friction (mN·m)");
 */
export function driftChart({ runs, perDay }: DriftPicture, axis: string, options: ChartOptions = {}): Chart {
  const times = runs.map(({ date }) => Date.parse(date) / day);
  const mean = (list: readonly number[]) => list.reduce((a, b) => a + b, 0) / list.length;
  const [middle, level] = [mean(times), mean(runs.map(({ value }) => value))];
  const ends = [0, runs.length - 1].map((i) => ({
    d: runs[i]?.date,
    v: short(level + perDay * (times[i] - middle), 5),
  }));
  const values = runs.map(({ date, value, low, high }) => ({
    d: date,
    v: short(value, 5),
    l: low === undefined ? null : short(low, 5),
    h: high === undefined ? null : short(high, 5),
  }));
  const x = { field: "d", type: "temporal", title: "Day", axis: { labelOverlap: true } };
  const y = { field: "v", type: "quantitative", title: axis, scale: { zero: false } };
  return chart(
    {
      width: options.width ?? 640,
      height: options.height ?? 200,
      layer: [
        {
          data: { values: ends },
          mark: { type: "line", color: modelColor, strokeWidth: 1.5, strokeDash: [6, 3] },
          encoding: { x, y },
        },
        {
          data: { values: values.filter(({ l, h }) => l !== null && h !== null) },
          mark: { type: "rule", color: dataColor, opacity: 0.5 },
          encoding: { x, y: { ...y, field: "l" }, y2: { field: "h" } },
        },
        {
          data: { values },
          mark: { type: "point", filled: true, opacity: 1, color: dataColor, size: 30 },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "d", type: "temporal", title: "Day" },
              { field: "v", type: "quantitative", title: axis },
            ],
          },
        },
      ],
    },
    {
      title: `${runs.length} runs of one motor`,
      subtitle: "Each run with its interval; dashed: the line of its drift",
      description: `${axis} of one motor in ${runs.length} runs from ${runs[0]?.date ?? ""} to ${runs.at(-1)?.date ?? ""}, from ${values[0]?.v ?? ""} to ${values.at(-1)?.v ?? ""}, with the line of its drift.`,
    },
    options,
  );
}
