import type { Drawing, Figures } from "../figures.js";
import type { ReportSource } from "../types.js";
import { alikeOrders, ordersTable } from "./orders.js";
import { recordingName } from "./parts.js";
import { recordingBlock } from "./trials.js";

/** Puts a chart into the page as a figure, or nothing where there is no chart. */
export type Draw = (name: string, drawing: Drawing | null | undefined, caption: string) => Promise<string>;

/** Orders at a glance: the picture before the table. */
export async function drawnOrders({ diagnosis }: ReportSource, drawn: Figures, draw: Draw): Promise<string> {
  if (diagnosis.orderings.length === 0) return "";
  const chart = await draw(
    "orders",
    drawn.orders,
    "Speed of the shaft in each order, rev/min, with the verdict in words; orders that behave alike once.",
  );
  return `${chart}\n${ordersTable(diagnosis)}`;
}

/** Every recording with its chart and its trials; a single one is open. */
export async function drawnRecordings(
  { diagnosis }: ReportSource,
  drawn: Figures,
  draw: Draw,
): Promise<string> {
  const blocks: string[] = [];
  const repeated = new Set(alikeOrders(diagnosis).flatMap(({ orders }) => orders.slice(1)));
  for (const [i, verdict] of diagnosis.recordings.entries()) {
    const caption = `${recordingName(verdict)}: what was logged, the trials as bands.`;
    const chart = await draw(`recording-${i + 1}`, drawn.recordings[i], caption);
    const open = diagnosis.recordings.length === 1;
    const alike = verdict.ordering !== null && repeated.has(verdict.ordering);
    blocks.push(recordingBlock(verdict, { at: i + 1, chart, open, alike }));
  }
  return blocks.join("\n");
}
