import { createHash } from "node:crypto";
import { legendLayer } from "./marks/legendLayer.js";
import { commandColor, modelColor, quantityColor } from "./marks/palette.js";
import { said, saidTime, unitOf } from "./marks/says.js";
import { short, thin } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** A step response and what was fitted to it. */
export interface StepPicture {
  /** s, from the step. */
  readonly time: ArrayLike<number>;
  readonly measured: ArrayLike<number>;
  readonly command?: ArrayLike<number>;
  /** The fitted response on the same times, with its interval when known. */
  readonly fit?: ArrayLike<number>;
  readonly low?: ArrayLike<number>;
  readonly high?: ArrayLike<number>;
  /** Axis title with the unit. */
  readonly axis: string;
  readonly quantity?: keyof typeof quantityColor;
  /** Levels to mark, such as the 10 and 90 percent lines or the settling band. */
  readonly levels?: readonly { readonly value: number; readonly text: string }[];
  /** Instants to mark, s. */
  readonly instants?: readonly { readonly time: number; readonly text: string }[];
}

/**
 * A step response: measured, commanded, the fit with its interval, and below it what the fit leaves over.
 *
 * @example
 * const fit = time.map((t) => 40 * (1 - Math.exp(-t / 0.098)));
 * stepChart({ time, measured: values, fit, axis: "Speed (rev/min)" });
 */
export function stepChart(step: StepPicture, options: ChartOptions = {}): Chart {
  const width = options.width ?? 620;
  const color = quantityColor[step.quantity ?? "speed"];
  const kept = thin(
    step.time,
    [step.measured, step.command, step.fit].filter((trace) => trace !== undefined),
    220,
  );
  const values = Array.from(kept, (i) => ({
    t: short(step.time[i], 6),
    m: short(step.measured[i]),
    ...(step.command ? { c: short(step.command[i]) } : {}),
    ...(step.fit ? { f: short(step.fit[i]), r: short(step.measured[i] - step.fit[i], 4) } : {}),
    ...(step.low && step.high ? { l: short(step.low[i]), h: short(step.high[i]) } : {}),
  }));
  const mark = createHash("sha256").update(JSON.stringify(values)).digest("hex").slice(0, 8);
  const x = (labels: boolean) => ({
    field: "t",
    type: "quantitative",
    title: labels ? "Time from the step (s)" : null,
    scale: { nice: false },
    axis: { labels, ticks: labels, tickCount: 8 },
  });
  const y = { type: "quantitative", title: step.axis, scale: { zero: false } };
  const top: object[] = [];
  if (step.low && step.high) {
    top.push({
      mark: { type: "area", color: modelColor, opacity: 0.18 },
      encoding: { x: x(!step.fit), y: { field: "l", ...y }, y2: { field: "h" } },
    });
  }
  for (const level of step.levels ?? []) {
    top.push(
      {
        data: { values: [{}] },
        mark: { type: "rule", style: "limit" },
        encoding: { y: { datum: level.value, ...y } },
      },
      {
        data: { values: [{}] },
        mark: { type: "text", style: "note", align: "right", baseline: "bottom", dx: -2, dy: -2 },
        encoding: { y: { datum: level.value }, x: { value: width }, text: { value: level.text } },
      },
    );
  }
  (step.instants ?? []).forEach((instant, i) => {
    top.push(
      {
        data: { values: [{ t: short(instant.time, 6) }] },
        mark: { type: "rule", style: "limit" },
        encoding: { x: x(!step.fit) },
      },
      {
        data: { values: [{ t: short(instant.time, 6) }] },
        mark: { type: "text", style: "note", align: "left", baseline: "bottom", dx: 4 },
        encoding: {
          x: x(!step.fit),
          y: { value: (options.height ?? 240) - 6 - 15 * (i % 3) },
          text: { value: instant.text },
        },
      },
    );
  });
  top.push({
    mark: { type: "line", color, strokeWidth: 2.4, opacity: 0.55 },
    encoding: { x: x(!step.fit), y: { field: "m", ...y } },
  });
  if (step.command) {
    top.push({
      mark: { type: "line", style: "command", interpolate: "step-after" },
      encoding: { x: x(!step.fit), y: { field: "c", ...y } },
    });
  }
  if (step.fit) {
    top.push({
      mark: { type: "line", color: modelColor, strokeWidth: 1.6 },
      encoding: { x: x(false), y: { field: "f", ...y } },
    });
  }
  top.push(
    legendLayer([
      { name: "measured", color },
      ...(step.command ? [{ name: "commanded", color: commandColor, dash: [5, 3] }] : []),
      ...(step.fit ? [{ name: step.low ? "fitted, with its interval" : "fitted", color: modelColor }] : []),
    ]),
  );
  top.push({
    name: "hover",
    params: [
      {
        name: `at_${mark}`,
        select: { type: "point", fields: ["t"], nearest: true, on: "pointermove", clear: "pointerout" },
      },
    ],
    mark: { type: "rule", style: "zero" },
    encoding: {
      x: x(!step.fit),
      opacity: { condition: { param: `at_${mark}`, empty: false, value: 1 }, value: 0 },
      tooltip: [
        { field: "t", type: "quantitative", title: "Time (s)", format: ".4~g" },
        { field: "m", type: "quantitative", title: "measured", format: ".4~g" },
        ...(step.fit ? [{ field: "f", type: "quantitative", title: "fitted", format: ".4~g" }] : []),
      ],
    },
  });
  const panels: object[] = [{ width, height: options.height ?? 240, layer: top }];
  if (step.fit) {
    panels.push({
      width,
      height: 70,
      layer: [
        { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { y: { datum: 0 } } },
        {
          mark: { type: "point", size: 8, color, opacity: 0.7 },
          encoding: {
            x: x(true),
            y: { field: "r", type: "quantitative", title: "Residual", axis: { tickCount: 3 } },
          },
        },
      ],
    });
  }
  return chart(
    { data: { values }, vconcat: panels, spacing: 10 },
    {
      title: titleOf(step),
      description: `Step response over ${short(step.time[step.time.length - 1] - step.time[0], 3)} s, ${step.axis}, from ${short(step.measured[0], 3)} to ${short(step.measured[step.measured.length - 1], 3)}${step.fit ? ", with the fitted response and, below, the difference between the two" : ""}.`,
    },
    options,
  );
}

/** From where to where the answer went, how fast, and how far beyond, as measured. */
function titleOf({ time, measured, axis }: StepPicture): string {
  const kept = Array.from({ length: measured.length }, (_, i) => i).filter((i) =>
    Number.isFinite(measured[i]),
  );
  if (kept.length < 9) return "Step response: too few samples";
  // The middle one of five, so that noise makes no overshoot.
  const middle = (k: number) => {
    const near = kept.slice(Math.max(0, k - 2), k + 3).map((i) => measured[i]);
    return near.sort((a, b) => a - b)[Math.floor(near.length / 2)];
  };
  const curve = kept.map((_, k) => middle(k));
  const mean = (values: readonly number[]) => values.reduce((sum, v) => sum + v, 0) / values.length;
  const before = curve.filter((_, k) => time[kept[k]] <= 0);
  const first = before.length > 2 ? mean(before) : curve[0];
  const last = mean(curve.slice(-Math.max(1, Math.round(curve.length / 20))));
  const span = last - first;
  const reached = (fraction: number) =>
    curve.findIndex((value, k) => time[kept[k]] >= 0 && (value - first) / span >= fraction);
  const [low, high] = [reached(0.1), reached(0.9)];
  // What is small beside the step is zero for a title.
  const level = (value: number) => said(Math.abs(value) < 0.01 * Math.abs(span) ? 0 : value, 4);
  const path = `From ${level(first)} to ${level(last)}${unitOf(axis)}`;
  if (!(span !== 0 && low >= 0 && high > low)) return path;
  const beyond = curve.reduce((most, value) => Math.max(most, (value - last) / span), 0);
  const over = beyond > 0.02 ? `, overshoot ${said(100 * beyond, 2)} %` : "";
  return `${path}: 10 to 90 % in ${saidTime(time[kept[high]] - time[kept[low]])}${over}`;
}
