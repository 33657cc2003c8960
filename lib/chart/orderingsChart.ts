import type { LeadOrder } from "../motor/facts.js";
import { cellWithoutSpeed, hasSpeed, type OrderTrial, orderCell, untriedCell } from "./marks/orderCell.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

export type { OrderTrial } from "./marks/orderCell.js";

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
  const drawn = (row: OrderRow, kind: string): OrderTrial[] =>
    row.trials.filter((trial) => trial.kind === kind && hasSpeed(trial));
  const cell = (row: OrderRow, kind: string, at: number): object => {
    const place = {
      ...{ width, height, name: `${row.ordering} ${kind}` },
      heading: at === 0 ? kind : undefined,
      // The last row in which a kind is drawn carries the axis of time.
      last: !rows.slice(at + 1).some((other) => drawn(other, kind).length > 0),
      column: rows.flatMap((other) => drawn(other, kind)),
    };
    const trial = row.trials.find((one) => one.kind === kind);
    if (trial === undefined) return untriedCell(place);
    return hasSpeed(trial) ? orderCell(trial, place) : cellWithoutSpeed(trial, place);
  };
  const labelWidth = rows.some(({ alike }) => alike?.length) ? 104 : 62;
  return chart(
    {
      vconcat: rows.map((row, i) => ({
        hconcat: [orderLabel(row, labelWidth, height), ...kinds.map((kind) => cell(row, kind, i))],
        spacing: 26,
      })),
      spacing: 14,
    },
    {
      title: titleOf(rows),
      subtitle: rows.some(({ trials }) => trials.some(hasSpeed))
        ? "Shaft speed in rev/min, each row with the scale at its left; dashed: what was asked for"
        : "No speed in rev/min is known: state the lines of the encoder, or the unit of the speed",
      description: `What the shaft did in each order. ${rows.map(rowInWords).join("; ")}.`,
    },
    options,
  );
}

/** What each trial of an order showed. */
function rowInWords({ ordering, alike, trials }: OrderRow): string {
  const shown = trials.map((trial) => `${trial.kind} ${trial.words ?? trial.verdict}`).join(", ");
  return `${[ordering, ...(alike ?? [])].join(", ")}: ${shown || "not tried"}`;
}

/** The order at the left of its row. */
function orderLabel(row: OrderRow, width: number, height: number): object {
  const beside = row.alike?.length ? `and ${row.alike.join(", ")}` : isEven(row.ordering) ? "even" : "odd";
  return {
    width,
    height,
    data: { values: [{}] },
    layer: [
      {
        mark: { type: "text", style: "strong", align: "left", fontSize: 17 },
        encoding: { x: { value: 0 }, y: { value: height / 2 - 8 }, text: { value: row.ordering } },
      },
      {
        mark: { type: "text", style: "note", align: "left" },
        encoding: { x: { value: 0 }, y: { value: height / 2 + 11 }, text: { value: beside } },
      },
    ],
  };
}

/** True for the orders that are a cyclic shift of U, V, W. */
function isEven(ordering: LeadOrder): boolean {
  return "UVWUV".includes(ordering);
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
