import { stableColor, unstableColor } from "./marks/palette.js";
import { verdictStyle } from "./marks/theme.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** Poles of one closed loop. */
export interface PoleCase {
  readonly label: string;
  readonly poles: readonly { readonly re: number; readonly im: number }[];
  /** Write the label beside the right-most pole. */
  readonly named?: boolean;
}

/**
 * Poles of closed loops. Left of the line a loop is stable; with a single pole right of it the loop is unstable.
 *
 * @example
 * poleMapChart([{ label: "g = 1", poles: [{ re: -40, im: 30 }, { re: -40, im: -30 }], named: true }]);
 */
export function poleMapChart(
  cases: readonly PoleCase[],
  options: ChartOptions & {
    /** Poles in small steps of what is turned: the paths on which they move. */
    readonly locus?: PoleCase["poles"];
  } = {},
): Chart {
  const values = cases.flatMap((one, i) =>
    one.poles.map((pole) => ({
      x: short(pole.re, 4),
      y: short(pole.im, 4),
      k: one.label,
      order: i,
      side: pole.re < 0 ? "stable" : "unstable",
    })),
  );
  const right = cases.flatMap((one) => {
    if (!one.named) return [];
    const top = [...one.poles].sort((a, b) => b.re - a.re || b.im - a.im)[0];
    return top ? [{ x: short(top.re, 4), y: short(top.im, 4), text: one.label }] : [];
  });
  const reach = 1.15 * Math.max(1e-6, ...values.map((value) => Math.abs(value.x ?? 0)));
  const far = 1.25 * Math.max(reach / 4, ...values.map((value) => Math.abs(value.y ?? 0)));
  const x = {
    field: "x",
    type: "quantitative",
    title: "Real part (1/s)",
    scale: { domain: [short(-reach, 3), short(reach, 3)], nice: false },
    axis: { grid: true },
  };
  const y = {
    field: "y",
    type: "quantitative",
    title: "Imaginary part (rad/s)",
    scale: { domain: [short(-far, 3), short(far, 3)], nice: false },
  };
  const width = options.width ?? 560;
  return chart(
    {
      width,
      height: options.height ?? 260,
      layer: [
        {
          data: { values: [{}] },
          mark: { type: "rect", color: unstableColor, opacity: 0.09 },
          encoding: { x: { datum: 0 }, x2: { datum: short(reach, 3) } },
        },
        { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { y: { datum: 0 } } },
        {
          data: { values: [{}] },
          mark: { type: "rule", style: "ink", strokeWidth: 1.4 },
          encoding: { x: { datum: 0 } },
        },
        {
          data: { values: [{ text: "stable" }] },
          mark: { type: "text", style: verdictStyle("tracking"), align: "left", baseline: "top" },
          encoding: { x: { value: 6 }, y: { value: 6 }, text: { field: "text" } },
        },
        {
          data: { values: [{ text: "unstable" }] },
          mark: { type: "text", style: verdictStyle("runaway"), align: "right", baseline: "top" },
          encoding: { x: { value: width - 6 }, y: { value: 6 }, text: { field: "text" } },
        },
        ...(options.locus
          ? [
              {
                data: {
                  values: options.locus.map((pole) => ({ x: short(pole.re, 4), y: short(pole.im, 4) })),
                },
                mark: { type: "point", style: "ink", filled: true, size: 3, opacity: 0.55, clip: true },
                encoding: { x, y },
              },
            ]
          : []),
        {
          data: { values },
          mark: {
            type: "point",
            shape: "cross",
            angle: 45,
            size: 90,
            filled: true,
            opacity: 0.95,
            strokeWidth: 0,
          },
          encoding: {
            x,
            y,
            color: {
              field: "side",
              scale: { domain: ["stable", "unstable"], range: [stableColor, unstableColor] },
              legend: null,
            },
            tooltip: [
              { field: "k", title: "Case" },
              { field: "x", type: "quantitative", title: "Real part (1/s)" },
              { field: "y", type: "quantitative", title: "Imaginary part (rad/s)" },
            ],
          },
        },
        {
          data: { values: right },
          mark: { type: "text", style: "label", align: "center", dy: -14 },
          encoding: { x, y, text: { field: "text" } },
        },
      ],
    },
    {
      title: titleOf(cases),
      description: cases
        .map(
          (one) =>
            `${one.label}: poles at ${one.poles.map((pole) => `${short(pole.re, 3)}${pole.im ? ` ± ${short(Math.abs(pole.im), 3)}i` : ""}`).join(", ")}`,
        )
        .join("; "),
    },
    options,
  );
}

/** Which cases are stable: all, none, or those that are named. */
function titleOf(cases: readonly PoleCase[]): string {
  const unstable = cases.filter(({ poles }) => poles.some(({ re }) => re >= 0));
  if (unstable.length === 0) return "All poles left of zero: stable";
  if (unstable.length === cases.length) return "A pole right of zero in every case: unstable";
  return `${unstable.length} of ${cases.length} cases have a pole right of zero: unstable`;
}
