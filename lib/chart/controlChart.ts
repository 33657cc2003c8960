import { dataColor, unstableColor } from "./marks/palette.js";
import { short } from "./marks/thin.js";
import { type ChartOptions, type ChartSpec, chart } from "./render/spec.js";

/** A control chart: values in the order of production, with centre and limits. */
export interface ControlPicture {
  readonly values: ArrayLike<number>;
  readonly labels?: readonly string[];
  readonly center: number;
  readonly lower: number;
  readonly upper: number;
  /** Places (from 0) that break a rule, and which. */
  readonly signals?: readonly { readonly at: number; readonly rule: string }[];
}

/**
 * Values in order with the limits within which chance alone would keep them; what lies outside is marked by shape and colour.
 *
 * @example
 * const values = [103.1, 102.8, 103.4, 103.0];
 * controlChart({ values, center: 103, lower: 99, upper: 107 }, "Kv ((rev/min)/V)");
 */
export function controlChart(control: ControlPicture, axis: string, options: ChartOptions = {}): ChartSpec {
  const width = options.width ?? 640;
  const signals = new Map((control.signals ?? []).map((signal) => [signal.at, signal.rule]));
  const values = Array.from(control.values, (value, i) => ({
    i: i + 1,
    v: short(value),
    label: control.labels?.[i] ?? String(i + 1),
    rule: signals.get(i) ?? (value > control.upper || value < control.lower ? "outside the limits" : ""),
    state: signals.has(i) || value > control.upper || value < control.lower ? "signal" : "in control",
  }));
  const x = {
    field: "i",
    type: "quantitative",
    title: "Motor, in order",
    scale: { nice: false, zero: false },
    axis: { format: "d" },
  };
  const y = { field: "v", type: "quantitative", title: axis, scale: { zero: false } };
  const lines = [
    { at: control.upper, text: `upper limit ${short(control.upper, 4)}`, style: "limit" },
    { at: control.center, text: `centre ${short(control.center, 4)}`, style: "zero" },
    { at: control.lower, text: `lower limit ${short(control.lower, 4)}`, style: "limit" },
  ];
  return chart(
    {
      width,
      height: options.height ?? 240,
      layer: [
        ...lines.flatMap((line) => [
          {
            data: { values: [{}] },
            mark: { type: "rule", style: line.style },
            encoding: { y: { datum: line.at, type: "quantitative", title: axis, scale: { zero: false } } },
          },
          {
            data: { values: [{}] },
            mark: {
              type: "text",
              style: "note",
              align: "left",
              baseline: "middle",
              dx: 6,
            },
            encoding: { x: { value: width }, y: { datum: line.at }, text: { value: line.text } },
          },
        ]),
        {
          data: { values },
          mark: { type: "line", color: dataColor, strokeWidth: 1, opacity: 0.6 },
          encoding: { x, y },
        },
        ...(["in control", "signal"] as const).map((state) => ({
          data: { values: values.filter((value) => value.state === state) },
          mark: {
            type: "point",
            filled: true,
            opacity: 1,
            color: state === "signal" ? unstableColor : dataColor,
            shape: state === "signal" ? "triangle-up" : "circle",
            size: state === "signal" ? 130 : 24,
          },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "label", title: "Motor" },
              { field: "v", type: "quantitative", title: axis },
              { field: "rule", title: "Rule" },
            ],
          },
        })),
        {
          data: { values: values.filter((value) => value.state === "signal") },
          mark: { type: "text", style: "note", align: "left", dx: 10 },
          encoding: { x, y, text: { field: "rule" } },
        },
      ],
    },
    {
      title: "Control chart",
      description: `${axis} of ${values.length} motors in order; limits ${short(control.lower, 4)} to ${short(control.upper, 4)}; ${values.filter((value) => value.state === "signal").length} signals.`,
    },
    options,
  );
}
