/** What a pointer can do with traces: one line through all panels that says every value, and a strip to choose a
 * stretch of time. */
import { createHash } from "node:crypto";
import { axisSpan } from "./axisSpan.js";
import { quantityColor } from "./palette.js";
import { short } from "./thin.js";
import type { Traces } from "./traces.js";

/** Times at which the values can be read, at most: about one for every three pixels. */
const most = 240;

/** The parts that a chart of traces takes up. */
export interface TracePointer {
  /** Mark of this chart, so that several can stand in one picture. */
  readonly name: string;
  readonly params: readonly object[];
  readonly datasets: Readonly<Record<string, readonly object[]>>;
  /** The line in one panel. */
  layer(panel: number, x: object): object;
  /** The strip below the panels. */
  readonly strip: object;
}

/** Scale of time that follows the stretch chosen in the strip. */
export function zoomedTime(name: string): object {
  return { domainRaw: { expr: `stretch_${name}.t` } };
}

/** Hides a text whose time lies outside the stretch that is shown. */
export function inView(name: string): object {
  return {
    condition: { test: `!stretch_${name}.t || inrange(datum.t, stretch_${name}.t)`, value: 1 },
    value: 0,
  };
}

/** Makes the parts; everything carries the chart's own mark in its name. */
export function pointerOf(traces: Traces, width: number): TracePointer {
  const rows = rowsOf(traces);
  const shape = traces.panels.map(({ title, series }) => [title, series.map(({ name }) => name)]);
  const name = createHash("sha256")
    .update(JSON.stringify([rows, shape]))
    .digest("hex")
    .slice(0, 8);
  const views = traces.panels.map((_, at) => `hover_${name}_${at}`);
  const strip = `hover_${name}_strip`;
  const tooltip = [
    { field: "t", type: "quantitative", title: "Time (s)", format: ".4~f" },
    ...traces.panels.flatMap(({ title, series }, p) =>
      series.map((one, s) => ({
        field: `p${p}s${s}`,
        type: "quantitative",
        title: `${one.name}${/ \([^)]*\)$/.exec(title)?.[0] ?? ""}`,
        format: ".4~g",
      })),
    ),
  ];
  const pick = { type: "point", fields: ["t"], nearest: true, on: "pointermove", clear: "pointerout" };
  return {
    name,
    params: [
      { name: `cursor_${name}`, select: pick, views },
      { name: `stretch_${name}`, select: { type: "interval", encodings: ["x"] }, views: [strip] },
    ],
    datasets: { [`cursor_${name}`]: rows },
    layer: (panel, x) => ({
      name: views[panel],
      data: { name: `cursor_${name}` },
      mark: { type: "rule", style: "zero", strokeWidth: 1, clip: true },
      encoding: {
        x,
        opacity: { condition: { param: `cursor_${name}`, empty: false, value: 1 }, value: 0 },
        tooltip,
      },
    }),
    strip: stripOf(traces, name, strip, width),
  };
}

function stripOf(traces: Traces, name: string, view: string, width: number): object {
  // Without any panel the strip is empty.
  const panel = traces.panels.find(({ quantity }) => quantity === "speed") ?? traces.panels.at(0);
  const p = panel === undefined ? 0 : traces.panels.indexOf(panel);
  const series = panel?.series ?? [];
  const s = Math.max(
    0,
    series.findIndex(({ kind }) => kind !== "command"),
  );
  const values = series[s]?.values ?? [];
  const ends = [traces.time[0] ?? 0, traces.time[traces.time.length - 1] ?? 1].map((v) => short(v, 8));
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < values.length; i++) {
    if (values[i] < low) low = values[i];
    if (values[i] > high) high = values[i];
  }
  return {
    name: view,
    width,
    height: 28,
    view: { style: "strip" },
    title: {
      text: "Drag over this strip to see a stretch; double-click to see all",
      fontSize: 12,
      fontWeight: 400,
      offset: 4,
    },
    data: { name: `cursor_${name}` },
    mark: { type: "line", color: quantityColor[panel?.quantity ?? "current"], strokeWidth: 1, opacity: 0.7 },
    encoding: {
      x: { field: "t", type: "quantitative", title: null, scale: { domain: ends, nice: false }, axis: null },
      y: { field: `p${p}s${s}`, type: "quantitative", axis: null, scale: { domain: axisSpan([low, high]) } },
    },
  };
}

/** Values of all panels at evenly chosen samples. */
function rowsOf(traces: Traces): readonly Record<string, number | null>[] {
  const count = Math.min(most, traces.time.length);
  return Array.from({ length: count }, (_, k) => {
    const i = count === 1 ? 0 : Math.round((k * (traces.time.length - 1)) / (count - 1));
    const row: Record<string, number | null> = { t: short(traces.time[i], 7) };
    traces.panels.forEach(({ series }, p) => {
      series.forEach(({ values }, s) => {
        row[`p${p}s${s}`] = short(values[i], 4);
      });
    });
    return row;
  });
}
