import { caseColors, caseDashes } from "./marks/palette.js";
import { said } from "./marks/says.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** One open loop in the complex plane. */
export interface NyquistCase {
  readonly label: string;
  /** rad/s, rising. */
  readonly frequency: ArrayLike<number>;
  readonly real: ArrayLike<number>;
  readonly imaginary: ArrayLike<number>;
}

/** Half the width of the plane that is drawn: the neighbourhood of -1, where stability is decided. */
const reach = 2.6;

/**
 * Open loops in the complex plane near the point -1, with the circle of unit gain. Points farther out are cut off.
 *
 * @example
 * nyquistChart([{ label: "g = 1", frequency: [1, 10, 100], real: [-2, -0.4, 0], imaginary: [-2, -1, -0.1] }]);
 */
export function nyquistChart(cases: readonly NyquistCase[], options: ChartOptions = {}): Chart {
  const size = options.width ?? 360;
  const labels = cases.map((one) => one.label);
  const values = cases.flatMap((one) =>
    Array.from({ length: one.frequency.length }, (_, i) => ({
      x: short(one.real[i], 4) as number,
      y: short(one.imaginary[i], 4) as number,
      f: short(one.frequency[i], 4) as number,
      k: one.label,
    })).filter(({ x, y }) => Math.hypot(x, y) < 4 * reach),
  );
  const axis = (field: string, title: string) => ({
    field,
    type: "quantitative",
    title,
    scale: { domain: [-reach, reach], nice: false },
    axis: { grid: true, tickCount: 5 },
  });
  const [x, y] = [axis("x", "Real part"), axis("y", "Imaginary part")];
  const circle = Array.from({ length: 73 }, (_, i) => ({
    x: short(Math.cos((i * Math.PI) / 36), 4),
    y: short(Math.sin((i * Math.PI) / 36), 4),
    o: i,
  }));
  const several = cases.length > 1 ? {} : null;
  return chart(
    {
      width: size,
      height: options.height ?? size,
      data: { values },
      layer: [
        { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { y: { datum: 0 } } },
        { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { x: { datum: 0 } } },
        {
          data: { values: circle },
          mark: { type: "line", style: "limit" },
          encoding: { x, y, order: { field: "o", type: "quantitative" } },
        },
        {
          mark: { type: "line", strokeWidth: 2, clip: true },
          encoding: {
            x,
            y,
            order: { field: "f", type: "quantitative" },
            color: {
              field: "k",
              scale: { domain: labels, range: caseColors.slice(0, labels.length) },
              legend: several,
            },
            strokeDash: {
              field: "k",
              scale: { domain: labels, range: caseDashes.slice(0, labels.length) },
              legend: several,
            },
          },
        },
        {
          name: "hover_nyquist",
          mark: { type: "point", opacity: 0, size: 90 },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "k", title: "Loop" },
              { field: "f", type: "quantitative", title: "Frequency (rad/s)", format: ".4~g" },
              { field: "x", type: "quantitative", title: "Real part", format: ".3~g" },
              { field: "y", type: "quantitative", title: "Imaginary part", format: ".3~g" },
            ],
          },
        },
        {
          data: { values: [{ x: -1, y: 0 }] },
          mark: { type: "point", shape: "cross", angle: 45, size: 110, style: "ink" },
          encoding: { x, y },
        },
        {
          data: { values: [{ x: -1, y: 0 }] },
          mark: { type: "text", style: "note", align: "right", dx: -9, dy: 14 },
          encoding: { x, y, text: { value: "−1" } },
        },
      ],
    },
    {
      title: titleOf(cases),
      subtitle: "Open loop in the complex plane; dotted: unit gain",
      description: `Open loops near the point -1: ${cases
        .map((one) => `${one.label} comes as near as ${short(nearest(one), 3)}`)
        .join("; ")}.`,
    },
    options,
  );
}

/** How near the curves come to -1: the reciprocal of the largest sensitivity. */
function titleOf(cases: readonly NyquistCase[]): string {
  const all = cases.map((one) => `${said(nearest(one), 2)}${cases.length > 1 ? ` (${one.label})` : ""}`);
  const text = `Nearest to −1: ${all.join(", ")}`;
  return text.length <= 60 ? text : `Nearest to −1: ${said(Math.min(...cases.map(nearest)), 2)}`;
}

/** Smallest distance of a curve's points from -1. */
function nearest(one: NyquistCase): number {
  let found = Number.POSITIVE_INFINITY;
  for (let i = 0; i < one.frequency.length; i++)
    found = Math.min(found, Math.hypot(one.real[i] + 1, one.imaginary[i]));
  return found;
}
