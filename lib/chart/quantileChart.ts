import { dataColor } from "./marks/palette.js";
import { short } from "./marks/thin.js";
import { type ChartOptions, type ChartSpec, chart } from "./render/spec.js";

/** One motor against what the assumed distribution would give at its place. */
export interface QuantilePoint {
  readonly expected: number;
  readonly found: number;
  readonly label?: string;
}

/**
 * Quantiles found against quantiles expected: points on the line say that the assumed distribution fits.
 *
 * @param points - In any order, both in the unit of `axis`.
 * @example
 * const points = [{ expected: 102.6, found: 102.8 }, { expected: 103.0, found: 103.0 }, { expected: 103.4, found: 103.3 }];
 * quantileChart(points, "Kv ((rev/min)/V)", "normal");
 */
export function quantileChart(
  points: readonly QuantilePoint[],
  axis: string,
  distribution = "normal",
  options: ChartOptions = {},
): ChartSpec {
  const values = points.map((point) => ({
    e: short(point.expected),
    f: short(point.found),
    label: point.label ?? "",
  }));
  const ends = points.flatMap((point) => [point.expected, point.found]);
  const low = Math.min(...ends);
  const high = Math.max(...ends);
  const domain = [short(low - 0.05 * (high - low), 4), short(high + 0.05 * (high - low), 4)];
  const x = {
    field: "e",
    type: "quantitative",
    title: `Expected from a ${distribution} distribution`,
    scale: { domain },
    axis: { grid: true },
  };
  const y = { field: "f", type: "quantitative", title: `Found: ${axis}`, scale: { domain } };
  return chart(
    {
      width: options.width ?? 340,
      height: options.height ?? 340,
      layer: [
        {
          data: { values: domain.map((v) => ({ e: v, f: v })) },
          mark: { type: "line", style: "limit" },
          encoding: { x, y },
        },
        {
          data: { values },
          mark: { type: "point", size: 32, filled: true, color: dataColor, opacity: 0.7 },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "label", title: "Motor" },
              { field: "f", type: "quantitative", title: "found" },
              { field: "e", type: "quantitative", title: "expected" },
            ],
          },
        },
      ],
    },
    {
      title: "Found against expected",
      description: `Quantile plot of ${points.length} motors against a ${distribution} distribution, ${axis}.`,
    },
    options,
  );
}
