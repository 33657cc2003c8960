import { dataColor } from "./marks/palette.js";
import { quantityOf, said, unitOf } from "./marks/says.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** One motor against what the assumed distribution would give at its place. */
export interface QuantilePoint {
  readonly expected: number;
  readonly found: number;
  /** Where 95 % of samples of the assumed distribution would have this motor. */
  readonly low?: number;
  readonly high?: number;
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
): Chart {
  const values = points.map((point) => ({
    e: short(point.expected),
    f: short(point.found),
    low: short(point.low ?? Number.NaN),
    high: short(point.high ?? Number.NaN),
    label: point.label ?? "",
  }));
  const band = values.filter(({ low, high }) => low !== null && high !== null);
  const beyond = band.filter(({ f, low, high }) => Number(f) < Number(low) || Number(f) > Number(high));
  const ends = points.flatMap(({ expected, found, low = expected, high = expected }) => [
    expected,
    found,
    low,
    high,
  ]);
  const farthest = Math.max(0, ...points.map(({ expected, found }) => Math.abs(found - expected)));
  const low = Math.min(...ends);
  const high = Math.max(...ends);
  const domain = [short(low - 0.05 * (high - low), 4), short(high + 0.05 * (high - low), 4)];
  const x = {
    field: "e",
    type: "quantitative",
    title: `Expected from a ${distribution} distribution`,
    scale: { domain },
    axis: { grid: true, tickCount: (options.width ?? 340) > 400 ? 8 : 5 },
  };
  const y = { field: "f", type: "quantitative", title: `Found: ${axis}`, scale: { domain } };
  return chart(
    {
      width: options.width ?? 340,
      height: options.height ?? 340,
      layer: [
        {
          data: { values: band.slice().sort((a, b) => Number(a.e) - Number(b.e)) },
          mark: { type: "area", style: "band", clip: true },
          encoding: { x, y: { ...y, field: "low" }, y2: { field: "high" } },
        },
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
      title:
        band.length === 0
          ? `${quantityOf(axis)}: at most ${said(farthest, 2)}${unitOf(axis)} from a ${distribution} distribution`
          : beyond.length === 0
            ? `No motor lies outside what a ${distribution} distribution allows`
            : `${beyond.length} of ${points.length} motors outside the band of a ${distribution} distribution`,
      subtitle: `${points.length} motors${band.length > 0 ? "; band: 95 % for each place by itself" : ""}`,
      description: `Quantile plot of ${points.length} motors against a ${distribution} distribution, ${axis}${band.length > 0 ? `; ${beyond.length} outside the 95 % band` : ""}.`,
    },
    options,
  );
}
