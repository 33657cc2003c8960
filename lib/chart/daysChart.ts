import { dataColor, modelColor, unstableColor } from "./marks/palette.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** A control chart of daily means: every day has limits of its own, by its number of motors and batches. */
export interface DaysPicture {
  /** ISO dates. */
  readonly dates: readonly string[];
  readonly values: readonly number[];
  readonly center: number;
  readonly lower: readonly number[];
  readonly upper: readonly number[];
  readonly signals: readonly { readonly at: number; readonly rule: string }[];
  /** Days (from 0) at which the level steps. */
  readonly steps?: readonly number[];
}

/**
 * Daily means over time with the limits within which chance alone keeps each day; days outside are marked by shape and
 * colour.
 *
 * @example
 * const dates = ["2026-03-02", "2026-03-03", "2026-03-04"];
 * const limits = { center: 20, lower: [18, 18.5, 18], upper: [22, 21.5, 22] };
 * daysChart({ dates, values: [20.1, 19.8, 22.6], ...limits, signals: [{ at: 2, rule: "beyond its limits" }] }, "Friction (mN m)");
 */
export function daysChart(days: DaysPicture, axis: string, options: ChartOptions = {}): Chart {
  const rules = new Map(days.signals.map(({ at, rule }) => [at, rule]));
  const values = days.dates.map((d, i) => ({
    d,
    v: short(days.values[i]),
    l: short(days.lower[i]),
    u: short(days.upper[i]),
    rule: rules.get(i) ?? "within its limits",
    out: rules.has(i),
  }));
  const x = { field: "d", type: "temporal", title: "Day", axis: { labelOverlap: true } };
  const y = { field: "v", type: "quantitative", title: axis, scale: { zero: false } };
  const out = values.filter((value) => value.out);
  const steps = (days.steps ?? []).map((at) => days.dates[at]);
  const tooltip = [
    { field: "d", type: "temporal", title: "Day" },
    { field: "v", type: "quantitative", title: axis },
    { field: "rule", title: "Rule" },
  ];
  return chart(
    {
      width: options.width ?? 640,
      height: options.height ?? 200,
      layer: [
        {
          data: { values },
          mark: { type: "area", color: modelColor, opacity: 0.18, interpolate: "step" },
          encoding: { x, y: { ...y, field: "l" }, y2: { field: "u" } },
        },
        {
          data: { values: [{}] },
          mark: { type: "rule", style: "zero" },
          encoding: { y: { datum: short(days.center), type: "quantitative", scale: { zero: false } } },
        },
        {
          data: { values },
          mark: { type: "line", color: dataColor, strokeWidth: 1, opacity: 0.6 },
          encoding: { x, y },
        },
        {
          data: { values: steps.map((d) => ({ d })) },
          mark: { type: "rule", color: unstableColor, strokeWidth: 1.5, strokeDash: [6, 3] },
          encoding: { x, tooltip: [{ field: "d", type: "temporal", title: "Step from" }] },
        },
        ...[false, true].map((isOut) => ({
          data: { values: values.filter((value) => value.out === isOut) },
          mark: {
            type: "point",
            filled: true,
            opacity: 1,
            color: isOut ? unstableColor : dataColor,
            shape: isOut ? "triangle-up" : "circle",
            size: isOut ? 110 : 22,
          },
          encoding: { x, y, tooltip },
        })),
      ],
    },
    {
      title: titleOf(
        steps,
        out.map((one) => one.d),
      ),
      subtitle: "Daily means; band: within which chance alone keeps each day",
      description: `${axis}, daily means of ${values.length} days from ${values[0]?.d ?? ""} to ${values.at(-1)?.d ?? ""}; ${out.length} apart${steps.length > 0 ? `, steps at ${steps.join(", ")}` : ""}.`,
    },
    options,
  );
}

function titleOf(steps: readonly string[], out: readonly string[]): string {
  const parts = [
    ...(steps.length > 0 ? [`step at ${steps.join(", ")}`] : []),
    ...(out.length > 0 ? [`${out.length} ${out.length === 1 ? "day" : "days"} apart, first ${out[0]}`] : []),
  ];
  const text = parts.join("; ");
  return text === "" ? "No step and no day apart" : text[0].toUpperCase() + text.slice(1);
}
