import type { VerdictWord } from "../diagnosis/types.js";
import type { LeadOrder } from "../motor/facts.js";
import { verdictColor, verdictMark } from "./marks/palette.js";
import { verdictStyle } from "./marks/theme.js";
import { short, thin } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

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

/** One order: a row of the chart. */
export interface OrderRow {
  readonly ordering: LeadOrder;
  /** Further orders that behaved alike and are not drawn. */
  readonly alike?: readonly LeadOrder[];
  readonly trials: readonly OrderTrial[];
}

/**
 * The orders of a set at a glance: a row per order, a column per kind of trial, in each cell the speed of the shaft and
 * the verdict in a word, a mark and a colour.
 *
 * @example
 * orderingsChart([{ ordering: "UVW", trials: [{ kind: "torque trial", verdict: "tracking", time, speed: values }] }]);
 */
export function orderingsChart(rows: readonly OrderRow[], options: ChartOptions = {}): Chart {
  const kinds = [...new Set(rows.flatMap((row) => row.trials.map((trial) => trial.kind)))];
  const width = options.width ?? Math.max(180, Math.floor(610 / Math.max(1, kinds.length)));
  const height = options.height ?? 62;
  /** True where a row is the last of those in which a kind was tried: it carries the axis of time. */
  const isLast = (kind: string, at: number): boolean =>
    !rows.slice(at + 1).some((row) => row.trials.some((trial) => trial.kind === kind));
  const cell = (trial: OrderTrial, ordering: LeadOrder, kind: string, first: boolean, last: boolean) => {
    const longest = Math.max(
      1e-9,
      ...rows.flatMap((one) =>
        one.trials.filter((t) => t.kind === kind).map((t) => t.time[t.time.length - 1] - t.time[0]),
      ),
    );
    const values = cellRows(trial);
    const common = rows.flatMap((one) => one.trials.filter((t) => t.kind === kind)).flatMap(ends);
    // One scale for all rows, but for a row that the largest one would flatten to a line though it moves.
    const own = reach(ends(trial));
    const limits = extent(own > 0 && own < reach(common) / 4 && moves(trial) ? ends(trial) : common);
    const x = {
      field: "t",
      type: "quantitative",
      title: last ? "Time in the trial (s)" : null,
      scale: { domain: [0, short(longest, 4)], nice: false },
      axis: { labels: last, ticks: last, tickCount: 5 },
    };
    const y = {
      field: "v",
      type: "quantitative",
      title: null,
      scale: { domain: limits, nice: true },
      axis: { tickCount: 3 },
    };
    const { verdict } = trial;
    return {
      width,
      height,
      ...(first ? { title: { text: kind, fontSize: 13.5, anchor: "start", offset: 8 } } : {}),
      data: { values },
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
          mark: {
            type: "line",
            color: verdictColor[verdict],
            strokeWidth: 1.8,
          },
          encoding: { x, y },
        },
        {
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
            text: { value: `${verdictMark[verdict]} ${trial.words ?? verdict}` },
          },
        },
        {
          name: `hover ${ordering} ${kind}`,
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
  };
  const untried = (kind: string, first: boolean) => ({
    width,
    height,
    ...(first ? { title: { text: kind, fontSize: 13.5, anchor: "start", offset: 8 } } : {}),
    data: { values: [{}] },
    mark: { type: "text", style: "note", align: "left" },
    encoding: { x: { value: 0 }, y: { value: height / 2 }, text: { value: "not tried" } },
  });
  const label = (row: OrderRow) => ({
    width: rows.some(({ alike }) => alike?.length) ? 104 : 62,
    height,
    data: { values: [{}] },
    layer: [
      {
        mark: { type: "text", style: "strong", align: "left", fontSize: 17 },
        encoding: { x: { value: 0 }, y: { value: height / 2 - 8 }, text: { value: row.ordering } },
      },
      {
        mark: { type: "text", style: "note", align: "left" },
        encoding: {
          x: { value: 0 },
          y: { value: height / 2 + 11 },
          text: {
            value: row.alike?.length ? `and ${row.alike.join(", ")}` : isEven(row.ordering) ? "even" : "odd",
          },
        },
      },
    ],
  });
  return chart(
    {
      vconcat: rows.map((row, i) => ({
        hconcat: [
          label(row),
          ...kinds.map((kind) => {
            const trial = row.trials.find((one) => one.kind === kind);
            return trial ? cell(trial, row.ordering, kind, i === 0, isLast(kind, i)) : untried(kind, i === 0);
          }),
        ],
        spacing: 26,
      })),
      spacing: 14,
    },
    {
      title: titleOf(rows),
      subtitle: "Shaft speed in rev/min, each row with the scale at its left; dashed: what was asked for",
      description: `What the shaft did in each order. ${rows
        .map(
          (row) =>
            `${[row.ordering, ...(row.alike ?? [])].join(", ")}: ${row.trials.map((trial) => `${trial.kind} ${trial.words ?? trial.verdict}`).join(", ") || "not tried"}`,
        )
        .join("; ")}.`,
    },
    options,
  );
}

/** True for the orders that are a cyclic shift of U, V, W. */
function isEven(ordering: LeadOrder): boolean {
  return "UVWUV".includes(ordering);
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

/** What each order did in its most telling trial, orders of one answer together. */
function titleOf(rows: readonly OrderRow[]): string {
  const groups = new Map<string, string[]>();
  for (const row of rows) {
    const last = row.trials.find(({ kind }) => kind.startsWith("speed")) ?? row.trials.at(-1);
    const words = last === undefined ? "not tried" : (last.words ?? last.verdict);
    groups.set(words, [...(groups.get(words) ?? []), row.ordering, ...(row.alike ?? [])]);
  }
  const text = [...groups].map(([words, orders]) => `${orders.join(", ")} ${words}`).join("; ");
  return text.length > 0 && text.length <= 90 ? text : "What each lead order did";
}
