import { dataColor, unstableColor, verdictColor, verdictShape } from "./marks/palette.js";
import { listed, said } from "./marks/says.js";
import { verdictStyle } from "./marks/theme.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** One order or motor on the curve. */
export interface GainPoint {
  readonly label: string;
  /** Offset error, electrical degrees. */
  readonly offset: number;
  /** Torque gain; the cosine of the offset when absent. */
  readonly gain?: number;
  readonly low?: number;
  readonly high?: number;
  readonly verdict?: keyof typeof verdictColor;
}

/**
 * Torque gain against offset error: the share of the torque that is left when the drive's angle is off, and where it
 * turns negative.
 *
 * @example
 * torqueGainChart([{ label: "VWU", offset: 120, verdict: "runaway" }]);
 */
export function torqueGainChart(points: readonly GainPoint[], options: ChartOptions = {}): Chart {
  const width = options.width ?? 560;
  const height = options.height ?? 270;
  const curve = Array.from({ length: 73 }, (_, i) => {
    const offset = -180 + 5 * i;
    return { e: offset, g: short(Math.cos((offset * Math.PI) / 180), 4) };
  });
  const values = points.map((point) => {
    const gain = point.gain ?? Math.cos((point.offset * Math.PI) / 180);
    return {
      e: short(point.offset, 4),
      g: short(gain, 4),
      l: point.low ?? null,
      h: point.high ?? null,
      label: point.label,
      verdict: point.verdict ?? "undetermined",
    };
  });
  const x = {
    field: "e",
    type: "quantitative",
    title: "Offset error ε (electrical degrees)",
    scale: { domain: [-180, 180] },
    axis: { values: [-180, -120, -90, -60, 0, 60, 90, 120, 180], grid: true },
  };
  const y = {
    field: "g",
    type: "quantitative",
    title: "Torque factor g = cos ε",
    scale: { domain: [-1.15, 1.15], nice: false },
    axis: { values: [-1, -0.5, 0, 0.5, 1] },
  };
  const words = [
    { e: -112, g: 1.04, text: "g > 0: the loop pushes the right way", verdict: "tracking" as const },
    {
      e: 0,
      g: -0.9,
      text: "g < 0: the loop's sign is turned, speed control runs away",
      verdict: "runaway" as const,
    },
  ];
  const verdicts = [...new Set(values.map((value) => value.verdict))] as (keyof typeof verdictColor)[];
  return chart(
    {
      width,
      height,
      layer: [
        {
          data: { values: [{}] },
          mark: { type: "rect", color: unstableColor, opacity: 0.09 },
          encoding: { y: { datum: -1.15 }, y2: { datum: 0 } },
        },
        {
          data: { values: curve },
          mark: { type: "line", color: dataColor, strokeWidth: 2 },
          encoding: { x, y },
        },
        {
          name: "hover_factor",
          data: { values: curve },
          mark: { type: "point", opacity: 0, size: 80 },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "e", type: "quantitative", title: "Offset error (deg)" },
              { field: "g", type: "quantitative", title: "Torque factor", format: ".3~f" },
            ],
          },
        },
        { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { y: { datum: 0 } } },
        ...words.map((word) => ({
          data: { values: [word] },
          mark: { type: "text", style: verdictStyle(word.verdict), align: "center" },
          encoding: { x, y, text: { field: "text" } },
        })),
        {
          data: { values: values.filter((value) => value.l !== null && value.h !== null) },
          mark: { type: "rule", style: "ink", strokeWidth: 2 },
          encoding: { x, y: { ...y, field: "l" }, y2: { field: "h" } },
        },
        {
          data: { values },
          mark: { type: "point", size: 130, filled: true, opacity: 1 },
          encoding: {
            x,
            y,
            color: {
              field: "verdict",
              scale: { domain: verdicts, range: verdicts.map((one) => verdictColor[one]) },
              legend: points.some((point) => point.verdict) ? {} : null,
            },
            shape: {
              field: "verdict",
              scale: { domain: verdicts, range: verdicts.map((one) => verdictShape[one]) },
              legend: points.some((point) => point.verdict) ? {} : null,
            },
            tooltip: [
              { field: "label", title: "Order" },
              { field: "e", type: "quantitative", title: "Offset error (deg)", format: ".3~g" },
              { field: "g", type: "quantitative", title: "Torque factor", format: ".3~g" },
            ],
          },
        },
        // Beside the curve: to the left where it rises, to the right where it falls.
        ...([-1, 1] as const).map((side) => ({
          data: { values: values.filter(({ e }) => (e !== null && e < 0 ? -1 : 1) === side) },
          mark: { type: "text", style: "strong", align: side < 0 ? "right" : "left", dx: 11 * side, dy: -10 },
          encoding: { x, y, text: { field: "label" } },
        })),
      ],
    },
    {
      title: titleOf(values),
      description: `Torque factor against offset error, a cosine. ${values.map((value) => `${value.label}: offset ${value.e} degrees, gain ${value.g}`).join("; ")}. Below zero the speed loop runs away.`,
    },
    options,
  );
}

/** What is left of the torque in each order, or which orders have its sign turned. */
function titleOf(values: readonly { readonly label: string; readonly g: number | null }[]): string {
  if (values.length === 0) return "The torque falls with the cosine of the offset error";
  const parts = values.map(({ label, g }) => `${label} ${said(100 * (g ?? Number.NaN), 2)} %`);
  const text = `Left of the torque: ${parts.join(", ")}`;
  if (text.length <= 70) return text;
  const turned = values.filter(({ g }) => g !== null && g < 0).map(({ label }) => label);
  return turned.length === 0
    ? "No order has the sign of its torque turned"
    : turned.length <= 4
      ? `The sign of the torque is turned in ${listed(turned)}`
      : `The sign of the torque is turned in ${turned.length} of ${values.length}`;
}
