import type { VerdictWord } from "../../diagnosis/types.js";
import { verdictColor, verdictMark } from "./palette.js";
import { verdictStyle } from "./theme.js";
import { short, thin } from "./thin.js";

/** What one trial of an order did, in outline. */
export interface OrderTrial {
  /** Column it stands in, for instance `torque trial`. */
  readonly kind: string;
  readonly verdict: VerdictWord;
  /** Said in the cell instead of the verdict's own word. */
  readonly words?: string;
  /** s. */
  readonly time: ArrayLike<number>;
  /** rev/min. */
  readonly speed: ArrayLike<number>;
  /** What was asked for, rev/min. */
  readonly command?: ArrayLike<number>;
}

/** Where a cell stands in the grid of orders and kinds of trials. */
export interface CellPlace {
  readonly width: number;
  readonly height: number;
  /** Heading of the column, for the cell at its top. */
  readonly heading?: string;
  /** The cell carries the axis of time of its column. */
  readonly last: boolean;
  /** Name under which the marks of the cell are found. */
  readonly name: string;
  /** Trials of the same kind that are drawn: their scales are common. */
  readonly column: readonly OrderTrial[];
}

/** True where a trial has a speed to draw. */
export function hasSpeed({ speed }: OrderTrial): boolean {
  return Array.prototype.some.call(speed, Number.isFinite);
}

/** Speed and command of a trial, with its verdict. */
export function orderCell(trial: OrderTrial, place: CellPlace): object {
  const { x, y } = cellAxes(trial, place);
  return {
    ...cellFrame(place),
    data: { values: cellRows(trial) },
    layer: [
      {
        data: { values: [{}] },
        mark: { type: "rule", style: "zero" },
        encoding: { y: { datum: 0 } },
      },
      ...(trial.command
        ? [
            {
              mark: { type: "line", style: "command", interpolate: "step-after" },
              encoding: { x, y: { ...y, field: "c" } },
            },
          ]
        : []),
      {
        mark: { type: "line", color: verdictColor[trial.verdict], strokeWidth: 1.8 },
        encoding: { x, y },
      },
      verdictWords(trial, place.width),
      {
        name: `hover ${place.name}`,
        mark: { type: "rule", opacity: 0, strokeWidth: 5 },
        encoding: {
          x,
          tooltip: [
            { field: "t", type: "quantitative", title: "Time (s)", format: ".3~g" },
            { field: "v", type: "quantitative", title: "Speed (rev/min)", format: ".4~g" },
          ],
        },
      },
    ],
  };
}

/** A trial whose verdict is known and whose speed is not: a position in counts of an encoder without lines, say. */
export function cellWithoutSpeed(trial: OrderTrial, place: CellPlace): object {
  return {
    ...cellFrame(place),
    data: { values: [{}] },
    layer: [noteIn("no speed in rev/min", place.height), verdictWords(trial, place.width)],
  };
}

/** The cell of an order for which no such trial was recorded. */
export function untriedCell(place: Pick<CellPlace, "width" | "height" | "heading">): object {
  return { ...cellFrame(place), data: { values: [{}] }, ...noteIn("not tried", place.height) };
}

function cellFrame({ width, height, heading }: Pick<CellPlace, "width" | "height" | "heading">): object {
  return {
    width,
    height,
    ...(heading === undefined
      ? {}
      : { title: { text: heading, fontSize: 13.5, anchor: "start", offset: 8 } }),
  };
}

function noteIn(words: string, height: number): object {
  return {
    mark: { type: "text", style: "note", align: "left" },
    encoding: { x: { value: 0 }, y: { value: height / 2 }, text: { value: words } },
  };
}

function verdictWords({ verdict, words }: OrderTrial, width: number): object {
  return {
    data: { values: [{}] },
    mark: {
      type: "text",
      style: verdictStyle(verdict),
      align: "right",
      baseline: "bottom",
      dy: -2,
    },
    encoding: {
      x: { value: width },
      y: { value: 0 },
      text: { value: `${verdictMark[verdict]} ${words ?? verdict}` },
    },
  };
}

/** Axes of a cell: time is common to its column, and so is speed, but for a row that the largest one would flatten to a
 * line though it moves. */
function cellAxes(
  trial: OrderTrial,
  { column, last }: CellPlace,
): { readonly x: object; readonly y: object } {
  const longest = Math.max(1e-9, ...column.map((t) => t.time[t.time.length - 1] - t.time[0]));
  const common = column.flatMap(ends);
  const own = reach(ends(trial));
  const limits = extent(own > 0 && own < reach(common) / 4 && moves(trial) ? ends(trial) : common);
  return {
    x: {
      field: "t",
      type: "quantitative",
      title: last ? "Time in the trial (s)" : null,
      scale: { domain: [0, short(longest, 4)], nice: false },
      axis: { labels: last, ticks: last, tickCount: 5 },
    },
    y: {
      field: "v",
      type: "quantitative",
      title: null,
      scale: { domain: limits, nice: true },
      axis: { tickCount: 3 },
    },
  };
}

function cellRows(trial: OrderTrial): object[] {
  const start = trial.time[0];
  const kept = thin(trial.time, trial.command ? [trial.speed, trial.command] : [trial.speed], 90);
  return Array.from(kept, (i) => ({
    t: short(trial.time[i] - start, 4),
    v: short(trial.speed[i], 4),
    ...(trial.command ? { c: short(trial.command[i], 4) } : {}),
  }));
}

function extent(values: readonly number[]): [number, number] {
  return [Math.min(0, ...values), Math.max(...values, 1e-9)];
}

function low(values: ArrayLike<number>): number {
  let found = Number.POSITIVE_INFINITY;
  for (let i = 0; i < values.length; i++) if (values[i] < found) found = values[i];
  return found;
}

function high(values: ArrayLike<number>): number {
  let found = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < values.length; i++) if (values[i] > found) found = values[i];
  return found;
}

/** Lowest and highest of a trial's speed and command. */
function ends(trial: OrderTrial): number[] {
  const { speed, command } = trial;
  return [low(speed), high(speed), ...(command ? [low(command), high(command)] : [])];
}

const reach = (values: readonly number[]): number => Math.max(0, ...values.map(Math.abs));

/** True for a shaft that turned: its own scale then shows how; a shaft at rest stays a line on the common one. */
function moves({ verdict }: OrderTrial): boolean {
  return verdict === "tracking" || verdict === "reversed" || verdict === "runaway";
}
