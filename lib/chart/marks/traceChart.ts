import { type Chart, type ChartOptions, chart } from "../render/spec.js";
import { axisSpan } from "./axisSpan.js";
import { legendLayer } from "./legendLayer.js";
import { commandColor, quantityColor, verdictMark } from "./palette.js";
import { endsOf, quantityOf, said, unitOf } from "./says.js";
import { verdictStyle } from "./theme.js";
import { short, thin } from "./thin.js";
import { inView, pointerOf, zoomedTime } from "./tracePointer.js";
import type { TraceMark, TraceSeries, Traces } from "./traces.js";

export type { TraceMark, TracePanel, TraceSeries, Traces } from "./traces.js";

/**
 * Traces over time, one panel per quantity, with their commands, limits and marked trials. Long traces are thinned
 * without losing peaks. Live, one line follows the pointer through all panels and says every value, and dragging over
 * the strip below shows a stretch of time.
 *
 * @example
 * traceChart({ time, panels: [{ title: "Speed (rev/min)", quantity: "speed", series: [{ name: "measured", values }] }] });
 */
export function traceChart(
  traces: Traces,
  options: ChartOptions & { readonly buckets?: number } = {},
): Chart {
  const width = options.width ?? 680;
  const marks = traces.marks ?? [];
  const span = traces.time.length > 0 ? [traces.time[0], traces.time[traces.time.length - 1]] : [0, 1];
  const pointer = pointerOf(traces, width);
  const x = {
    field: "t",
    type: "quantitative",
    title: "Time (s)",
    scale: { domain: span.map((v) => short(v, 8)), nice: false, ...zoomedTime(pointer.name) },
  };
  const panels = traces.panels.map((panel, at) => {
    const last = at === traces.panels.length - 1;
    const kept = thin(
      traces.time,
      panel.series.map((series) => series.values),
      options.buckets ?? 320,
    );
    const values = Array.from(kept, (i) => {
      const row: Record<string, number | null> = { t: short(traces.time[i], 7) };
      panel.series.forEach((series, s) => {
        row[`v${s}`] = short(series.values[i]);
      });
      return row;
    });
    const colors = panel.series.map(
      (series) =>
        series.color ??
        (series.kind === "command" ? commandColor : quantityColor[panel.quantity ?? "current"]),
    );
    const dashes = panel.series.map((series) =>
      series.kind === "command" ? [5, 3] : series.kind === "model" ? [7, 2, 1.5, 2] : undefined,
    );
    const lowest = Math.min(...panel.series.map((series) => smallest(series.values)));
    const highest = Math.max(...panel.series.map((series) => largest(series.values)));
    const limited = (panel.limits ?? []).map(({ value }) => value);
    const y = {
      type: "quantitative",
      title: panel.title,
      scale: { domain: axisSpan([lowest, highest, ...limited, ...(panel.span ?? [])]), nice: false },
      axis: { tickCount: 5 },
    };
    const axisX = {
      ...x,
      axis: { title: last ? "Time (s)" : null, labels: last, ticks: last, tickCount: 8, domain: true },
    };
    const layers: object[] = [];
    if (marks.length > 0)
      layers.push(
        bandLayer(marks, axisX),
        ...(at === 0 ? [labelLayer(marks, axisX, span, width, pointer.name)] : []),
      );
    if (lowest < 0 && highest > 0) {
      layers.push({
        mark: { type: "rule", style: "zero" },
        data: { values: [{}] },
        encoding: { y: { datum: 0, ...y } },
      });
    }
    for (const limit of panel.limits ?? []) {
      layers.push(
        {
          mark: { type: "rule", style: "limit" },
          data: { values: [{}] },
          encoding: { y: { datum: limit.value, ...y } },
        },
        {
          mark: {
            type: "text",
            style: "note",
            align: "right",
            baseline: limit.value < 0 ? "top" : "bottom",
            dx: -3,
            dy: limit.value < 0 ? 3 : -3,
          },
          data: { values: [{}] },
          encoding: { y: { datum: limit.value }, x: { value: width }, text: { value: limit.text } },
        },
      );
    }
    // A command is drawn last: a measured line that follows it would hide it.
    const order = panel.series.map((series, s) => ({ series, s }));
    order.sort((a, b) => Number(a.series.kind === "command") - Number(b.series.kind === "command"));
    order.forEach(({ series, s }) => {
      layers.push({
        mark: {
          type: "line",
          clip: true,
          color: colors[s],
          ...(dashes[s] ? { strokeDash: dashes[s] } : {}),
          interpolate: series.kind === "command" ? "step-after" : "linear",
          strokeWidth: series.kind === "measured" || series.kind === undefined ? 1.4 : 1.6,
        },
        encoding: {
          x: axisX,
          y: { field: `v${s}`, ...y },
        },
      });
    });
    layers.push(...asideLayers(panel.series, axisX, y));
    if (panel.series.length > 1) {
      layers.push(
        legendLayer(
          panel.series.map((series, s) => ({ name: series.name, color: colors[s], dash: dashes[s] })),
          at === 0 && marks.length > 0 ? { offset: 24 } : {},
        ),
      );
    }
    layers.push(pointer.layer(at, axisX));
    return {
      width,
      height: panel.height ?? options.height ?? (at === 0 ? 150 : 130),
      data: { values },
      layer: layers,
    };
  });
  return chart(
    {
      vconcat: [...panels, pointer.strip],
      spacing: 14,
      params: pointer.params,
      datasets: pointer.datasets,
      resolve: { scale: { color: "independent", strokeDash: "independent" } },
    },
    {
      title: rangeText(traces),
      description: describe(traces),
    },
    options,
  );
}

/** Samples left out of the lines. */
function asideLayers(
  series: readonly TraceSeries[],
  x: object,
  y: { readonly scale: { readonly domain: readonly [number, number] }; readonly title: string },
): object[] {
  const [low, high] = y.scale.domain;
  const values = series.flatMap(({ aside = [] }) =>
    aside.map(({ time, value }) => ({
      t: short(time, 7),
      v: short(Math.min(high, Math.max(low, value))),
      found: short(value),
    })),
  );
  if (values.length === 0) return [];
  const tooltip = [
    { field: "t", type: "quantitative", title: "Time (s)", format: ".4~f" },
    { field: "found", type: "quantitative", title: `Left out: ${y.title}`, format: ".4~g" },
  ];
  const mark = { type: "point", shape: "cross", angle: 45, size: 55, filled: true, opacity: 1, style: "ink" };
  return [{ data: { values }, mark, encoding: { x, y: { field: "v", ...y }, tooltip } }];
}

/** How far the shaft's speed (or the first quantity there is) went. */
export function rangeText({ panels }: Pick<Traces, "panels">): string {
  const panel = panels.find(({ quantity }) => quantity === "speed") ?? panels.at(0);
  const series = panel?.series.find(({ kind }) => kind !== "command") ?? panel?.series.at(0);
  const ends = series && endsOf(series.values);
  if (panel === undefined || ends === undefined) return "Nothing was recorded";
  return `${quantityOf(panel.title)} from ${said(ends[0])} to ${said(ends[1])}${unitOf(panel.title)}`;
}

function describe(traces: Traces): string {
  const what = traces.panels.map((panel) => {
    const measured = panel.series.find((series) => series.kind !== "command") ?? panel.series[0];
    const [low, high] = [smallest(measured.values), largest(measured.values)];
    return `${panel.title} from ${short(low, 3)} to ${short(high, 3)}`;
  });
  const marks = (traces.marks ?? []).map(
    (mark) => `${mark.label} from ${short(mark.start, 4)} to ${short(mark.end, 4)} s`,
  );
  return `Traces over ${traces.time.length} samples: ${what.join("; ")}.${marks.length > 0 ? ` Marked: ${marks.slice(0, 12).join("; ")}.` : ""}`;
}

function bandLayer(marks: readonly TraceMark[], x: object): object {
  const values = marks.map((mark) => ({ t: short(mark.start, 7), end: short(mark.end, 7) }));
  return {
    data: { values },
    layer: [
      { mark: { type: "rect", style: "band", clip: true }, encoding: { x, x2: { field: "end" } } },
      { mark: { type: "rule", style: "zero", opacity: 0.45, clip: true }, encoding: { x } },
    ],
  };
}

function labelLayer(
  marks: readonly TraceMark[],
  x: object,
  span: readonly number[],
  width: number,
  name: string,
): object {
  const perSecond = width / (span[1] - span[0] || 1);
  const values = marks.map((mark) => ({
    t: short(mark.start, 7),
    label: fitting(mark, (mark.end - mark.start) * perSecond),
    verdict: mark.verdict,
    room: (mark.end - mark.start) * perSecond,
  }));
  const drawn = values.filter((value) => value.label !== "");
  return {
    layer: drawn.map((value) => ({
      data: { values: [value] },
      mark: {
        type: "text",
        style: value.verdict ? verdictStyle(value.verdict) : "strong",
        align: "left",
        baseline: "bottom",
        dx: 1,
        dy: -4,
      },
      encoding: { x, y: { value: 0 }, text: { field: "label" }, opacity: inView(name) },
    })),
  };
}

/** The longest way to name a mark that its room holds, pixels: in full, the verdict alone, its sign alone, or
 * nothing. */
function fitting(mark: TraceMark, room: number): string {
  const sign = mark.verdict ? verdictMark[mark.verdict] : "";
  const ways = mark.verdict ? [`${sign} ${mark.label}`, `${sign} ${mark.verdict}`, sign] : [mark.label];
  return ways.find((way) => way.length * widestCharacter <= room) ?? "";
}

/** Generous width of a character of a mark's label, pixels: 12.5 pixels bold, mean of English text 6.3. */
const widestCharacter = 6.9;

function smallest(values: ArrayLike<number>): number {
  let found = Number.POSITIVE_INFINITY;
  for (let i = 0; i < values.length; i++) if (values[i] < found) found = values[i];
  return found;
}

function largest(values: ArrayLike<number>): number {
  let found = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < values.length; i++) if (values[i] > found) found = values[i];
  return found;
}
