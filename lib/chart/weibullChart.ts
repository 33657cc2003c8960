import { legendLayer } from "./marks/legendLayer.js";
import { dataColor, modelColor } from "./marks/palette.js";
import { said, unitOf } from "./marks/says.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** A Weibull plot: failures on the paper, and the fitted line. */
export interface WeibullPicture {
  /** Failures: time, and the share failed by then (plotting position). */
  readonly points: readonly { readonly time: number; readonly failed: number }[];
  readonly shape: number;
  readonly scale: number;
  /** Interval of the share failed, by time. */
  readonly band?: readonly { readonly time: number; readonly low: number; readonly high: number }[];
  /** Interval of the time by which a share has failed, as `lifeBand` gives it for a fitted model. */
  readonly times?: readonly { readonly failed: number; readonly low: number; readonly high: number }[];
  /** Fitted line of another model than Weibull's, share failed by time, ascending: a curve on this paper. */
  readonly fitted?: readonly { readonly time: number; readonly failed: number }[];
  /** Interval of the shape. */
  readonly shapeInterval?: readonly [number, number];
  /** Units that failed, and units that were last seen working. */
  readonly failures?: number;
  readonly running?: number;
}

/**
 * Failures on Weibull paper: log of time across, the log of minus the log of the share left upward, so that a Weibull
 * life is a straight line whose slope is the shape.
 *
 * @example
 * const points = [{ time: 4000, failed: 0.13 }, { time: 9000, failed: 0.45 }, { time: 15000, failed: 0.8 }];
 * weibullChart({ points, shape: 1.8, scale: 12000 }, "Hours in service (h)");
 */
export function weibullChart(weibull: WeibullPicture, axis: string, options: ChartOptions = {}): Chart {
  const height = (failed: number) => Math.log(-Math.log(1 - failed));
  const inside = (failed: number) => failed > 1e-6 && failed < 1 - 1e-6;
  const points = weibull.points
    .filter((point) => inside(point.failed) && point.time > 0)
    .map((point) => ({ t: short(point.time), y: short(height(point.failed), 5), f: short(point.failed, 4) }));
  const times = [
    ...points.map((point) => point.t ?? 1),
    ...(weibull.band ?? []).map((one) => one.time),
    ...(weibull.times ?? []).flatMap(({ low, high }) => [low, high]),
  ].filter((t) => t > 0);
  const [first, last] = [Math.min(...times, weibull.scale), Math.max(...times)];
  const straight = () =>
    Array.from({ length: 25 }, (_, i) => {
      const t = first * (last / first) ** (i / 24);
      return { t: short(t), y: short(weibull.shape * Math.log(t / weibull.scale), 5) };
    });
  const line =
    weibull.fitted
      ?.filter(({ time, failed }) => inside(failed) && time > 0)
      .map(({ time, failed }) => ({ t: short(time), y: short(height(failed), 5) })) ?? straight();
  const band = (weibull.band ?? [])
    .filter((one) => inside(one.low) && inside(one.high) && one.time > 0)
    .map((one) => ({ t: short(one.time), l: short(height(one.low), 5), h: short(height(one.high), 5) }));
  const horizontal = (weibull.times ?? [])
    .filter(({ failed }) => inside(failed))
    .map(({ failed, low, high }) => ({ y: short(height(failed), 5), l: short(low), h: short(high) }));
  const ticks = [0.001, 0.01, 0.05, 0.1, 0.2, 0.5, 0.632, 0.9, 0.99];
  const x = {
    field: "t",
    type: "quantitative",
    title: axis,
    scale: { type: "log", nice: false },
    axis: { grid: true, format: "~s", tickCount: 6 },
  };
  const y = {
    field: "y",
    type: "quantitative",
    title: "Fraction failed",
    scale: { zero: false },
    axis: {
      values: ticks.map((tick) => short(height(tick), 6)),
      labelExpr: "format(1 - exp(-exp(datum.value)), '.3~%')",
    },
  };
  return chart(
    {
      width: options.width ?? 520,
      height: options.height ?? 320,
      layer: [
        legendLayer([
          { name: "failures", color: dataColor },
          { name: "fitted", color: modelColor },
        ]),
        ...(band.length > 0
          ? [
              {
                data: { values: band },
                mark: { type: "area", color: modelColor, opacity: 0.18 },
                encoding: { x, y: { ...y, field: "l" }, y2: { field: "h" } },
              },
            ]
          : []),
        ...(horizontal.length > 0
          ? [
              {
                data: { values: horizontal },
                mark: { type: "area", orient: "horizontal", color: modelColor, opacity: 0.18 },
                encoding: { x: { ...x, field: "l" }, x2: { field: "h" }, y },
              },
            ]
          : []),
        {
          data: { values: line },
          mark: { type: "line", color: modelColor, strokeWidth: 2 },
          encoding: { x, y },
        },
        {
          name: "hover_weibull",
          data: {
            values: line.map(({ t, y: v }) => ({ t, y: v, f: short(1 - Math.exp(-Math.exp(v ?? 0)), 4) })),
          },
          mark: { type: "point", opacity: 0, size: 120 },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "t", type: "quantitative", title: axis, format: ".4~g" },
              { field: "f", type: "quantitative", title: "failed by then, fitted", format: ".1%" },
            ],
          },
        },
        {
          data: { values: points },
          mark: { type: "point", color: dataColor, filled: true, size: 50, opacity: 0.9 },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "t", type: "quantitative", title: axis },
              { field: "f", type: "quantitative", title: "fraction failed", format: ".1%" },
            ],
          },
        },
      ],
    },
    {
      title: weibull.fitted ? "Failures on Weibull paper" : titleOf(weibull, axis),
      subtitle: subtitleOf(weibull, band.length + horizontal.length > 0),
      description: `${points.length} failures on Weibull paper; ${weibull.fitted ? "with a fitted curve" : `fitted shape ${short(weibull.shape, 3)} and scale ${short(weibull.scale, 4)}`}.`,
    },
    options,
  );
}

/** When a tenth has failed, and what the shape says of how they fail. */
function titleOf({ shape, scale, shapeInterval }: WeibullPicture, axis: string): string {
  const [low, high] = shapeInterval ?? [shape, shape];
  const how = low > 1 ? "they wear out" : high < 1 ? "they fail early" : "no sign of wear";
  const tenth = scale * (-Math.log(0.9)) ** (1 / shape);
  return `One in ten has failed by ${said(tenth)}${unitOf(axis)}; ${how} (shape ${said(shape)})`;
}

/** Parameters, numbers of units, and what the band is. */
function subtitleOf(
  { shape, scale, shapeInterval, failures, running, fitted }: WeibullPicture,
  banded: boolean,
): string {
  const interval = shapeInterval ? ` (${said(shapeInterval[0])} to ${said(shapeInterval[1])})` : "";
  const counts = [
    ...(failures === undefined ? [] : [`${failures} failed`]),
    ...(running === undefined ? [] : [`${running} still running`]),
  ];
  return [
    ...(fitted ? [] : [`Shape ${short(shape, 3)}${interval}, scale ${short(scale, 4)}`]),
    ...counts,
    ...(banded ? ["band: 95 % interval"] : []),
  ].join("; ");
}
