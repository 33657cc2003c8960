import type { Estimate } from "../units/estimate.js";
import { dataColor, modelColor } from "./marks/palette.js";
import { quantityOf, said, unitOf } from "./marks/says.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/**
 * How a quantity is spread over many motors, with the estimate of its middle and that estimate's interval.
 *
 * @param values - One number per motor.
 * @param axis - Axis title with the unit.
 * @param estimate - Drawn as a line with a band, in the same unit.
 * @example
 * const kv = [103.1, 102.8, 103.4, 103.0];
 * distributionChart(kv, "Kv ((rev/min)/V)", describeSample(kv, "{rev}/min/V").mean);
 */
export function distributionChart(
  values: ArrayLike<number>,
  axis: string,
  estimate?: Pick<Estimate, "value" | "low" | "high">,
  options: ChartOptions = {},
): Chart {
  const finite = Array.from(values).filter(Number.isFinite);
  const low = finite.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY);
  const high = finite.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  const bins = Math.max(5, Math.min(40, Math.ceil(2 * Math.cbrt(finite.length))));
  const width = (high - low || 1) / bins;
  const counts = new Array<number>(bins).fill(0);
  for (const value of finite) counts[Math.min(bins - 1, Math.floor((value - low) / width))]++;
  const rows = counts.map((count, i) => ({
    a: short(low + i * width),
    b: short(low + (i + 1) * width),
    count,
  }));
  const x = { field: "a", type: "quantitative", title: axis, scale: { zero: false, nice: false } };
  return chart(
    {
      width: options.width ?? 560,
      height: options.height ?? 240,
      layer: [
        ...(estimate
          ? [
              {
                data: { values: [{ a: short(estimate.low), b: short(estimate.high) }] },
                mark: { type: "rect", color: modelColor, opacity: 0.2 },
                encoding: { x, x2: { field: "b" } },
              },
            ]
          : []),
        {
          data: { values: rows },
          mark: { type: "rect", color: dataColor, opacity: 0.85, stroke: "#ffffff", strokeWidth: 0.5 },
          encoding: {
            x,
            x2: { field: "b" },
            y: {
              field: "count",
              type: "quantitative",
              title: "Motors",
              axis: { tickMinStep: 1, format: "d" },
            },
            y2: { datum: 0 },
            tooltip: [
              { field: "a", type: "quantitative", title: "from" },
              { field: "b", type: "quantitative", title: "to" },
              { field: "count", type: "quantitative", title: "motors" },
            ],
          },
        },
        {
          // Every motor itself, as a tick on the axis.
          data: { values: finite.map((value) => ({ a: short(value) })) },
          mark: { type: "tick", style: "ink", thickness: 1, height: 7, opacity: 0.55, yOffset: 4 },
          encoding: { x, y: { datum: 0 } },
        },
        ...(estimate
          ? [
              {
                data: { values: [{ a: short(estimate.value) }] },
                mark: { type: "rule", color: modelColor, strokeWidth: 2.5 },
                encoding: { x },
              },
              {
                data: { values: [{ a: short(estimate.value) }] },
                mark: { type: "text", style: "strong", align: "left", baseline: "bottom", dx: 2, dy: -4 },
                encoding: {
                  x,
                  y: { value: 0 },
                  text: {
                    value: `${short(estimate.value, 4)} (${short(estimate.low, 4)} to ${short(estimate.high, 4)})`,
                  },
                },
              },
            ]
          : []),
      ],
    },
    {
      title: titleOf(finite, axis),
      subtitle: `${finite.length} motors, each a tick on the axis${estimate ? "; line and band: estimate with its 95 % interval" : ""}`,
      description: `${axis} of ${finite.length} motors, from ${short(low, 4)} to ${short(high, 4)}${estimate ? `; estimate ${short(estimate.value, 4)}, interval ${short(estimate.low, 4)} to ${short(estimate.high, 4)}` : ""}.`,
    },
    options,
  );
}

/** Where the middle half of the motors lies. */
function titleOf(values: readonly number[], axis: string): string {
  if (values.length === 0) return "No motor has this value";
  const sorted = [...values].sort((a, b) => a - b);
  const at = (fraction: number) => sorted[Math.round(fraction * (sorted.length - 1))];
  return `${quantityOf(axis)}: half of the motors between ${said(at(0.25), 4)} and ${said(at(0.75), 4)}${unitOf(axis)}`;
}
