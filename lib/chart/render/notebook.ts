import { createRequire } from "node:module";
import { escapeHtml } from "../../units/text.js";
import { chartSvg, svgPng } from "./render.js";
import type { ChartSpec } from "./spec.js";

/** Contents by MIME type, as a Jupyter front end takes them. */
export type MimeBundle = Readonly<Record<string, unknown>>;

/** What a notebook output holds: contents by MIME type, and what the front end should know of them. */
export interface ChartOutput {
  readonly data: MimeBundle;
  readonly metadata: Readonly<Record<string, unknown>>;
}

/**
 * A chart as a notebook shows it: live where the front end draws Vega-Lite (JupyterLab, VS Code), a PNG picture elsewhere (converters and
 * code hosts strip SVG), and its description where there is neither.
 *
 * @example
 * const { data } = await chartOutput(recordingChart(recording, trials));
 * data["image/png"]; // the picture, for front ends that draw no Vega-Lite
 */
export async function chartOutput(spec: ChartSpec): Promise<ChartOutput> {
  const svg = await chartSvg(spec);
  const [, width, height] = /width="(\d+)" height="(\d+)"/.exec(svg) ?? [];
  const png = await svgPng(svg, { scale: 1.6 });
  return {
    data: {
      // The front ends draw version 5 of the language, of which these charts keep to the common part.
      "application/vnd.vegalite.v5+json": {
        ...spec,
        $schema: "https://vega.github.io/schema/vega-lite/v5.json",
      },
      "image/png": Buffer.from(png).toString("base64"),
      "text/plain": spec.description,
    },
    metadata: { "image/png": { width: Number(width), height: Number(height) } },
  };
}

/**
 * Shows a chart below a notebook cell of the TypeScript kernel.
 *
 * @throws Error outside a notebook.
 * @example
 * await show(recordingChart(recording, trials));
 */
export async function show(spec: ChartSpec): Promise<void> {
  const write = writer();
  write(await chartOutput(spec));
}

/** A cell of a table. */
export type Cell = string | number | boolean | null | undefined;

/** One row of a table, by column. */
export type Row = Readonly<Record<string, Cell>>;

/**
 * Shows rows as a table below a notebook cell.
 *
 * @param rows - One object per row; the first row's keys are the columns, in order.
 * @param caption - Line above the table.
 * @throws Error outside a notebook.
 * @example
 * showTable([{ order: "UVW", verdict: "tracking" }]);
 */
export function showTable(rows: readonly Row[], caption?: string): void {
  writer()({ data: { "text/html": tableHtml(rows, caption), "text/plain": tableText(rows) }, metadata: {} });
}

/**
 * Shows Markdown text below a notebook cell.
 *
 * @throws Error outside a notebook.
 * @example
 * showMarkdown("**Blocked**: the shaft stayed within 9 degrees.");
 */
export function showMarkdown(text: string): void {
  writer()({ data: { "text/markdown": text, "text/plain": text }, metadata: {} });
}

/** Rows as an HTML table: numbers to the right, everything escaped. */
export function tableHtml(rows: readonly Row[], caption?: string): string {
  const columns = columnsOf(rows);
  const numeric = new Set(columns.filter((column) => rows.every((row) => isNumeric(row[column]))));
  const align = (column: string) => ` style="text-align:${numeric.has(column) ? "right" : "left"}"`;
  const head = columns.map((column) => `<th${align(column)}>${escapeHtml(column)}</th>`).join("");
  const body = rows.map(
    (row) =>
      `<tr>${columns.map((column) => `<td${align(column)}>${escapeHtml(shown(row[column]))}</td>`).join("")}</tr>`,
  );
  const title = caption ? `<caption>${escapeHtml(caption)}</caption>` : "";
  return `<table>${title}<thead><tr>${head}</tr></thead>\n<tbody>${body.join("\n")}</tbody></table>`;
}

/** Rows as aligned plain text. */
function tableText(rows: readonly Row[]): string {
  const columns = columnsOf(rows);
  const lines = [columns, ...rows.map((row) => columns.map((column) => shown(row[column])))];
  const widths = columns.map((_, i) => Math.max(...lines.map((line) => line[i].length)));
  return lines
    .map((line) =>
      line
        .map((cell, i) => cell.padEnd(widths[i]))
        .join("  ")
        .trimEnd(),
    )
    .join("\n");
}

function columnsOf(rows: readonly Row[]): string[] {
  return rows.length === 0 ? [] : Object.keys(rows[0]);
}

function isNumeric(cell: Cell): boolean {
  return typeof cell === "number" || cell === null || cell === undefined;
}

function shown(cell: Cell): string {
  if (cell === null || cell === undefined) return "";
  if (typeof cell !== "number") return String(cell);
  return Number.isInteger(cell) ? String(cell) : String(Number(cell.toPrecision(4)));
}

type Write = (content: { readonly data: MimeBundle; readonly metadata: object }) => void;

/**
 * The kernel's own function that sends a display message. Its public interface sends one MIME type at a time, so the whole bundle goes
 * through the function below it, found among the modules that the process has loaded.
 */
function writer(): Write {
  const { cache } = createRequire(import.meta.url);
  for (const [name, module] of Object.entries(cache)) {
    if (!/[\\/]tslab[\\/]dist[\\/]jupyter\.js$/.test(name)) continue;
    const write = (module?.exports as { lastWriteDisplayData?: Write | null } | undefined)
      ?.lastWriteDisplayData;
    if (write) return write;
  }
  throw new Error(
    "show, showTable and showMarkdown need a notebook cell of the TypeScript kernel (see npm run lab); elsewhere use chartSvg or chartPng",
  );
}
