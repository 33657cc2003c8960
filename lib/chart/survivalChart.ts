import { caseColors, caseDashes } from "./marks/palette.js";
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
  /** Times at which a motor was taken out still alive. */
  readonly censored?: readonly number[];
}

/**
 * Fraction of motors still working against time, as steps with interval bands; ticks mark motors that left the study alive.
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
  const x = { field: "t", type: "quantitative", title: axis, scale: { nice: false }, axis: { grid: true } };
  const y = {
    field: "s",
    type: "quantitative",
    title: "Fraction still working",
    scale: { domain: [0, 1] },
    axis: { format: "%" },
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
        {
          data: { values: ticks },
          mark: { type: "tick", orient: "vertical", size: 10, thickness: 1.5, opacity: 0.9 },
          encoding: { x, y, color },
        },
      ],
    },
    {
      title: titleOf(curves, axis),
      subtitle: `${values.some(({ l }) => l !== null) ? "Band: interval of the curve" : "Without intervals"}${ticks.length > 0 ? "; ticks: left the study still working" : ""}`,
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

/** What is left of each group at the last time that all of them reach. */
function titleOf(curves: readonly SurvivalPicture[], axis: string): string {
  const common = Math.min(...curves.map(({ steps }) => steps.at(-1)?.time ?? 0));
  if (!(common > 0)) return "How many still work";
  const unit = /\(([^)]*)\)$/.exec(axis)?.[1] ?? "";
  const left = curves.map(({ label, steps }) => {
    const there = steps.filter(({ time }) => time <= common).at(-1)?.survival ?? 1;
    return `${Math.round(100 * there)} %${curves.length > 1 ? ` of ${label}` : ""}`;
  });
  return `After ${short(common, 3)}${unit === "" ? "" : ` ${unit}`}, ${left.join(" and ")} still work`;
}
