import { axisSpan } from "./marks/axisSpan.js";
import { dataColor, unstableColor } from "./marks/palette.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** A control chart: values in the order of production, with centre and limits. */
export interface ControlPicture {
  readonly values: ArrayLike<number>;
  readonly labels?: readonly string[];
  /** Batch of each value: neighbours of one batch are drawn on one stretch with its name. */
  readonly groups?: readonly string[];
  readonly center: number;
  readonly lower: number;
  readonly upper: number;
  /** Places (from 0) that break a rule, and which. */
  readonly signals?: readonly { readonly at: number; readonly rule: string }[];
}

/**
 * Values in order with the limits within which chance alone would keep them; what lies outside is marked by shape and
 * colour.
 *
 * @example
 * const values = [103.1, 102.8, 103.4, 103.0];
 * controlChart({ values, center: 103, lower: 99, upper: 107 }, "Kv ((rev/min)/V)");
 */
export function controlChart(control: ControlPicture, axis: string, options: ChartOptions = {}): Chart {
  const width = options.width ?? 640;
  const signals = new Map((control.signals ?? []).map((signal) => [signal.at, signal.rule]));
  const values = Array.from(control.values, (value, i) => ({
    i: i + 1,
    v: short(value),
    label: control.labels?.[i] ?? String(i + 1),
    group: control.groups?.[i] ?? "",
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
  const ends = [...Array.from(control.values), control.lower, control.center, control.upper];
  const scale = { domain: axisSpan(ends), nice: false };
  const y = { field: "v", type: "quantitative", title: axis, scale };
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
        ...groupLayers(control.groups ?? [], x),
        ...lines.flatMap((line) => [
          {
            data: { values: [{}] },
            mark: { type: "rule", style: line.style },
            encoding: { y: { datum: line.at, type: "quantitative", title: axis, scale } },
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
              ...(control.groups ? [{ field: "group", title: "Batch" }] : []),
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
      title: titleOf(values.filter(({ state }) => state === "signal")),
      subtitle: `${values.length} motors in order; dotted: limits within which chance alone keeps them`,
      description: `${axis} of ${values.length} motors in order; limits ${short(control.lower, 4)} to ${short(control.upper, 4)}; ${values.filter((value) => value.state === "signal").length} signals.`,
    },
    options,
  );
}

/** Says where the signals lie. */
function titleOf(signals: readonly { readonly group: string }[]): string {
  if (signals.length === 0) return "No motor lies outside the limits";
  const count = `${signals.length} ${signals.length === 1 ? "motor" : "motors"} outside the limits`;
  const groups = [...new Set(signals.map(({ group }) => group))].filter((group) => group !== "");
  const inGroup = (group: string) => signals.filter((signal) => signal.group === group).length;
  const most = groups.sort((a, b) => inGroup(b) - inGroup(a))[0];
  return most === undefined ? count : `${count}, ${inGroup(most)} of them of batch ${most}`;
}

/** Alternate stretches for the batches, with their names above. */
function groupLayers(groups: readonly string[], x: object): object[] {
  const runs: { name: string; a: number; b: number; middle: number }[] = [];
  groups.forEach((name, i) => {
    const last = runs.at(-1);
    if (last?.name === name) {
      last.b = i + 1.5;
      last.middle = (last.a + last.b) / 2;
    } else runs.push({ name, a: i + 0.5, b: i + 1.5, middle: i + 1 });
  });
  if (runs.length === 0) return [];
  const named = runs.filter(({ a, b }) => (b - a) / groups.length > 0.035);
  return [
    {
      data: { values: runs.filter((_, i) => i % 2 === 1) },
      mark: { type: "rect", style: "band" },
      encoding: { x: { ...x, field: "a" }, x2: { field: "b" } },
    },
    {
      data: { values: named },
      mark: { type: "text", style: "note", baseline: "bottom", dy: -4 },
      encoding: { x: { ...x, field: "middle" }, y: { value: 0 }, text: { field: "name" } },
    },
  ];
}
