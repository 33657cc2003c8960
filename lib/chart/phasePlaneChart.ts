import { stableColor, unstableColor, verdictColor, verdictShape } from "./marks/palette.js";
import { verdictStyle } from "./marks/theme.js";
import { short, thin } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** A path through the plane. */
export interface PhasePath {
  readonly label: string;
  readonly verdict: keyof typeof verdictColor;
  readonly time: ArrayLike<number>;
  /** rev/min. */
  readonly speed: ArrayLike<number>;
  /** A. */
  readonly current: ArrayLike<number>;
}

/**
 * Speed against current while a loop is closed. A loop of the right sign comes to rest at the commanded speed; with the
 * sign turned, the current that should brake drives instead, and the path leaves for a corner.
 *
 * @param command - Commanded speed, rev/min.
 * @example
 * const current = values.map((speed) => (300 - speed) / 100); // A
 * phasePlaneChart([{ label: "UVW", verdict: "tracking", time, speed: values, current }], 300);
 */
export function phasePlaneChart(
  paths: readonly PhasePath[],
  command?: number,
  options: ChartOptions = {},
): Chart {
  const values: object[] = [];
  const ends: object[] = [];
  for (const path of paths) {
    const kept = thin(path.time, [path.speed, path.current], 110);
    const row = (i: number) => ({
      w: short(path.speed[i], 4),
      i: short(path.current[i], 4),
      t: short(path.time[i], 5),
      label: path.label,
    });
    for (const i of kept) values.push(row(i));
    const { label, verdict } = path;
    if (kept.length > 0) ends.push({ ...row(kept[kept.length - 1]), verdict, text: `${label}: ${verdict}` });
  }
  const all = paths.flatMap((path) => [Array.from(path.speed), Array.from(path.current)]);
  const widest = (at: number) =>
    1.12 *
    Math.max(
      1e-6,
      ...all
        .filter((_, i) => i % 2 === at)
        .map((list) => list.reduce((top, v) => Math.max(top, Math.abs(v) || 0), 0)),
    );
  const [w, i] = [widest(0), widest(1)];
  const labels = paths.map((path) => path.label);
  const x = {
    field: "w",
    type: "quantitative",
    title: "Shaft speed (rev/min)",
    scale: { domain: [short(-w, 3), short(w, 3)], nice: false },
    axis: { grid: true, tickCount: 6 },
  };
  const y = {
    field: "i",
    type: "quantitative",
    title: "Current (A)",
    scale: { domain: [short(-i, 3), short(i, 3)], nice: false },
  };
  const colors = paths.map((path) => verdictColor[path.verdict]);
  return chart(
    {
      width: options.width ?? 480,
      height: options.height ?? 360,
      data: { values },
      layer: [
        ...[
          [0, w, 0, i],
          [-w, 0, -i, 0],
        ].map(([x1, x2, y1, y2]) => ({
          data: { values: [{}] },
          mark: { type: "rect", color: stableColor, opacity: 0.07 },
          encoding: { x: { datum: x1 }, x2: { datum: x2 }, y: { datum: y1 }, y2: { datum: y2 } },
        })),
        ...[
          [-w, 0, 0, i],
          [0, w, -i, 0],
        ].map(([x1, x2, y1, y2]) => ({
          data: { values: [{}] },
          mark: { type: "rect", color: unstableColor, opacity: 0.07 },
          encoding: { x: { datum: x1 }, x2: { datum: x2 }, y: { datum: y1 }, y2: { datum: y2 } },
        })),
        { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { y: { datum: 0 } } },
        { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { x: { datum: 0 } } },
        ...(command === undefined
          ? []
          : [
              {
                data: { values: [{}] },
                mark: { type: "rule", style: "command" },
                encoding: { x: { datum: command } },
              },
              {
                data: { values: [{}] },
                mark: { type: "text", style: "note", align: "left", baseline: "bottom", dx: 4, dy: -4 },
                encoding: {
                  x: { datum: command },
                  y: { value: options.height ?? 360 },
                  text: { value: "commanded" },
                },
              },
            ]),
        {
          mark: { type: "line", strokeWidth: 2, opacity: 0.9 },
          encoding: {
            x,
            y,
            order: { field: "t", type: "quantitative" },
            color: { field: "label", scale: { domain: labels, range: colors }, legend: null },
            detail: { field: "label" },
          },
        },
        {
          name: "hover_phase",
          mark: { type: "point", opacity: 0, size: 80 },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "label", title: "Order" },
              { field: "t", type: "quantitative", title: "Time (s)", format: ".3~g" },
              { field: "w", type: "quantitative", title: "Speed (rev/min)", format: ".4~g" },
              { field: "i", type: "quantitative", title: "Current (A)", format: ".3~g" },
            ],
          },
        },
        {
          data: { values: ends },
          mark: { type: "point", size: 120, filled: true, opacity: 1 },
          encoding: {
            x,
            y,
            color: { field: "label", scale: { domain: labels, range: colors }, legend: null },
            shape: {
              field: "verdict",
              scale: { domain: Object.keys(verdictShape), range: Object.values(verdictShape) },
              legend: null,
            },
            tooltip: [
              { field: "text", title: "Ends as" },
              { field: "w", type: "quantitative", title: "Speed (rev/min)" },
              { field: "i", type: "quantitative", title: "Current (A)" },
            ],
          },
        },
        ...paths.map((path, p) => {
          const end = ends[p] as { w: number; i: number; text: string };
          // A path that ends near standstill is named beyond its end, away from the paths of turning shafts.
          const still = Math.abs(end.w) < 0.05 * w;
          const right = end.w > 0.3 * w;
          const top = end.i > 0 !== still;
          return {
            data: { values: [end] },
            mark: {
              type: "text",
              style: verdictStyle(path.verdict),
              align: still ? "center" : right ? "right" : "left",
              dx: still ? 0 : right ? -12 : 12,
              dy: top ? 16 : -14,
            },
            encoding: { x, y, text: { field: "text" } },
          };
        }),
      ],
    },
    {
      title: titleOf(paths),
      subtitle: "Green quadrants: the shaft turns the way the current asks. Orange: it turns against it",
      description: `Paths of speed against current. ${paths.map((path) => `${path.label} is ${path.verdict} and ends at ${short(path.speed[path.speed.length - 1], 3)} rev/min with ${short(path.current[path.current.length - 1], 3)} A`).join("; ")}.`,
    },
    options,
  );
}

function titleOf(paths: readonly PhasePath[]): string {
  const text = paths.map(({ label, verdict }) => `${label} ${verdict}`).join("; ");
  return text.length > 0 && text.length <= 70
    ? `Speed against current, loop closed: ${text}`
    : "Speed against current, loop closed";
}
