import { quantityColor, verdictColor, verdictMark } from "./marks/palette.js";
import { endsOf, quantityOf, said, unitOf } from "./marks/says.js";
import { verdictStyle } from "./marks/theme.js";
import { short, thin } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** One case of a set of small pictures. */
export interface SmallCase {
  readonly label: string;
  readonly verdict?: keyof typeof verdictColor;
  readonly time: ArrayLike<number>;
  readonly values: ArrayLike<number>;
  readonly command?: ArrayLike<number>;
  /** A prediction to hold against what happened. */
  readonly predicted?: ArrayLike<number>;
}

/**
 * Small pictures of the same quantity side by side, on the same axes, one per case.
 *
 * @param axis - Axis title with the unit.
 * @example
 * casesChart([{ label: "ε = 0°", verdict: "tracking", time, values }], "Speed (rev/min)");
 */
export function casesChart(
  cases: readonly SmallCase[],
  axis: string,
  options: ChartOptions & { readonly columns?: number; readonly sameScale?: boolean } = {},
): Chart {
  const columns = options.columns ?? 4;
  const width = options.width ?? Math.floor((700 - 30 * columns) / columns);
  const height = options.height ?? 92;
  const all = cases
    .flatMap(({ values, command = [], predicted = [] }) => [
      ...Array.from(values),
      ...Array.from(command),
      ...Array.from(predicted),
    ])
    .filter(Number.isFinite);
  const low = all.reduce((a, b) => Math.min(a, b), 0);
  const high = all.reduce((a, b) => Math.max(a, b), 0);
  const hasPrediction = cases.some((one) => one.predicted);
  const panels = cases.map((one, index) => {
    const kept = thin(
      one.time,
      [one.values, one.command, one.predicted].filter((trace) => trace !== undefined),
      80,
    );
    const values = Array.from(kept, (i) => ({
      t: short(one.time[i], 5),
      v: short(one.values[i], 4),
      ...(one.command ? { c: short(one.command[i], 4) } : {}),
      ...(one.predicted ? { p: short(one.predicted[i], 4) } : {}),
    }));
    const bottom = index >= cases.length - columns;
    const left = index % columns === 0;
    const x = {
      field: "t",
      type: "quantitative",
      title: bottom ? "Time (s)" : null,
      scale: { nice: false },
      axis: { labels: bottom, ticks: bottom, tickCount: 4 },
    };
    const y = {
      field: "v",
      type: "quantitative",
      title: left ? axis : null,
      scale:
        options.sameScale === false
          ? { zero: true }
          : { domain: [short(low, 3), short(high, 3)], nice: true },
      axis: { tickCount: 4, labels: left || options.sameScale === false },
    };
    const color = one.verdict ? verdictColor[one.verdict] : quantityColor.speed;
    return {
      width,
      height,
      title: {
        text: one.label,
        fontSize: 13,
        fontWeight: 400,
        offset: 4,
      },
      data: { values },
      layer: [
        { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { y: { datum: 0 } } },
        ...(one.verdict ? [verdictWord(one.verdict)] : []),
        ...(one.command
          ? [
              {
                mark: { type: "line", style: "command", interpolate: "step-after" },
                encoding: { x, y: { ...y, field: "c" } },
              },
            ]
          : []),
        { mark: { type: "line", color, strokeWidth: 1.8, clip: true }, encoding: { x, y } },
        ...(one.predicted
          ? [
              {
                mark: { type: "line", style: "ink", strokeWidth: 1.6, strokeDash: [2, 3], clip: true },
                encoding: { x, y: { ...y, field: "p" } },
              },
            ]
          : []),
        {
          name: `hover_case_${index}`,
          mark: { type: "rule", opacity: 0, strokeWidth: 5 },
          encoding: {
            x,
            tooltip: [
              { field: "t", type: "quantitative", title: "Time (s)", format: ".3~g" },
              { field: "v", type: "quantitative", title: axis, format: ".4~g" },
              ...(one.command
                ? [{ field: "c", type: "quantitative", title: "asked for", format: ".4~g" }]
                : []),
              ...(one.predicted
                ? [{ field: "p", type: "quantitative", title: "predicted", format: ".4~g" }]
                : []),
            ],
          },
        },
      ],
    };
  });
  return chart(
    { concat: panels, columns, spacing: 18 },
    {
      title: titleOf(cases, axis),
      subtitle: `Line: what happened${cases.some((one) => one.command) ? "; dashed: what was asked for" : ""}${hasPrediction ? "; dotted: what was predicted" : ""}`,
      description: `Small pictures of ${axis}. ${cases.map((one) => `${one.label}${one.verdict ? `: ${one.verdict}` : ""}, ends at ${short(one.values[one.values.length - 1], 3)}`).join("; ")}.`,
    },
    options,
  );
}

/** How many cases ended how, or where they ended. */
function titleOf(cases: readonly SmallCase[], axis: string): string {
  const words = [...new Set(cases.flatMap(({ verdict }) => (verdict ? [verdict] : [])))];
  if (words.length > 0) {
    const count = (word: string) => cases.filter(({ verdict }) => verdict === word).length;
    return `${words.map((word) => `${count(word)} ${word}`).join(", ")} of ${cases.length} cases`;
  }
  const ends = endsOf(cases.map(({ values }) => values[values.length - 1]));
  if (ends === undefined) return "Nothing was recorded";
  const [low, high] = ends.map((value) => said(value));
  return low === high
    ? `${quantityOf(axis)} ends at ${low}${unitOf(axis)}`
    : `${quantityOf(axis)} ends between ${low} and ${high}${unitOf(axis)}`;
}

/** The verdict in a word and a mark, above the top left corner of a panel. */
function verdictWord(verdict: keyof typeof verdictColor): object {
  return {
    data: { values: [{}] },
    mark: { type: "text", style: verdictStyle(verdict), align: "left", baseline: "bottom", dy: -4 },
    encoding: { x: { value: 0 }, y: { value: 0 }, text: { value: `${verdictMark[verdict]} ${verdict}` } },
  };
}
