import { caseColors, caseDashes } from "./marks/palette.js";
import { said } from "./marks/says.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** One survival curve. */
export interface SurvivalPicture {
  readonly label: string;
  /** Steps: from `time` on, the share that is left, with its interval. */
  readonly steps: readonly {
    readonly time: number;
    readonly survival: number;
    readonly low?: number;
    readonly high?: number;
  }[];
  /** What a fitted model says of the same: a thin line through the steps. */
  readonly model?: readonly { readonly time: number; readonly survival: number }[];
  /** Units in all, and those that failed. */
  readonly units?: number;
  readonly failures?: number;
  /** Times at which a motor was taken out still alive. */
  readonly censored?: readonly number[];
}

/**
 * Fraction of motors still working against time, as steps with interval bands; ticks mark motors that left the study
 * alive.
 *
 * @param axis - Time axis title with the unit.
 * @example
 * survivalChart([{ label: "all", steps: [{ time: 0, survival: 1 }, { time: 90, survival: 0.8 }] }], "Hours in service (h)");
 */
export function survivalChart(
  curves: readonly SurvivalPicture[],
  axis: string,
  options: ChartOptions = {},
): Chart {
  const labels = curves.map((curve) => curve.label);
  const values = curves.flatMap((curve) =>
    curve.steps.map((step) => ({
      t: short(step.time),
      s: short(step.survival, 4),
      l: step.low === undefined ? null : short(step.low, 4),
      h: step.high === undefined ? null : short(step.high, 4),
      k: curve.label,
    })),
  );
  const ticks = curves.flatMap((curve) =>
    (curve.censored ?? []).map((time) => ({
      t: short(time),
      s: short(curve.steps.filter((step) => step.time <= time).at(-1)?.survival ?? 1, 4),
      k: curve.label,
    })),
  );
  const models = curves.flatMap(({ label, model = [] }) =>
    model.map(({ time, survival }) => ({ t: short(time), s: short(survival, 4), k: label })),
  );
  const x = {
    field: "t",
    type: "quantitative",
    title: axis,
    scale: { nice: false },
    axis: { grid: true, tickCount: (options.width ?? 640) > 400 ? 8 : 4 },
  };
  const y = {
    field: "s",
    type: "quantitative",
    title: "Fraction still working",
    // Room above, so that a line at 100 % is drawn whole.
    scale: { domain: [0, 1.02], nice: false },
    axis: { format: "%", values: [0, 0.2, 0.4, 0.6, 0.8, 1] },
  };
  const color = {
    field: "k",
    scale: { domain: labels, range: caseColors.slice(0, labels.length) },
    legend: labels.length > 1 ? {} : null,
  };
  return chart(
    {
      width: options.width ?? 560,
      height: options.height ?? 270,
      layer: [
        {
          data: { values: values.filter((value) => value.l !== null && value.h !== null) },
          mark: { type: "area", interpolate: "step-after", opacity: 0.18 },
          encoding: { x, y: { ...y, field: "l" }, y2: { field: "h" }, color },
        },
        {
          data: { values },
          mark: { type: "line", interpolate: "step-after", strokeWidth: 2.2 },
          encoding: {
            x,
            y,
            color,
            strokeDash: {
              field: "k",
              scale: { domain: labels, range: caseDashes.slice(0, labels.length) },
              legend: labels.length > 1 ? {} : null,
            },
          },
        },
        ...(models.length > 0
          ? [
              {
                data: { values: models },
                mark: { type: "line", strokeWidth: 1.2 },
                encoding: { x, y, color },
              },
            ]
          : []),
        {
          name: "hover_survival",
          data: { values },
          mark: { type: "point", opacity: 0, size: 120 },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "k", title: "Group" },
              { field: "t", type: "quantitative", title: axis },
              { field: "s", type: "quantitative", title: "still working", format: ".1%" },
              { field: "l", type: "quantitative", title: "at least", format: ".1%" },
              { field: "h", type: "quantitative", title: "at most", format: ".1%" },
            ],
          },
        },
        ...(ticks.length > 0
          ? [
              {
                data: { values: ticks },
                mark: { type: "tick", orient: "vertical", size: 10, thickness: 1.5, opacity: 0.9 },
                encoding: { x, y, color },
              },
            ]
          : []),
      ],
    },
    {
      title: titleOf(curves, axis),
      subtitle: subtitleOf(
        curves,
        values.some(({ l }) => l !== null),
        models.length > 0,
      ),
      description: curves
        .map(
          (curve) =>
            `${curve.label}: ${short(100 * (curve.steps.at(-1)?.survival ?? 1), 3)} percent left at ${short(curve.steps.at(-1)?.time ?? 0, 4)}`,
        )
        .join("; "),
    },
    options,
  );
}

/** What is drawn, and of how many units. */
function subtitleOf(
  curves: readonly SurvivalPicture[],
  banded: boolean,
  modelled: boolean,
): readonly string[] {
  const counts = curves.flatMap(({ label, units, failures }) =>
    units === undefined || failures === undefined
      ? []
      : [`${failures} of ${units} failed${curves.length > 1 ? ` (${label})` : ""}`],
  );
  const marks = [
    banded ? "steps with band: found, with its interval" : "steps: found, without an interval",
    ...(modelled ? ["thin line: model"] : []),
    ...(curves.some(({ censored = [] }) => censored.length > 0) ? ["ticks: left still working"] : []),
  ];
  const text = marks.join("; ");
  return [...(counts.length > 0 ? [counts.join(", ")] : []), `${text[0].toUpperCase()}${text.slice(1)}`];
}

/** What is left of each group at the last time that all of them reach. */
function titleOf(curves: readonly SurvivalPicture[], axis: string): string {
  const common = Math.min(...curves.map(({ steps }) => steps.at(-1)?.time ?? 0));
  if (!(common > 0)) return "How many still work";
  const unit = /\(([^)]*)\)$/.exec(axis)?.[1] ?? "";
  const left = curves.map(({ label, steps }) => {
    const there = steps.filter(({ time }) => time <= common).at(-1)?.survival ?? 1;
    return `${Math.round(100 * there)} %${curves.length > 1 ? ` of ${label}` : ""}`;
  });
  return `After ${said(common)}${unit === "" ? "" : ` ${unit}`}, ${left.join(" and ")} still work`;
}
