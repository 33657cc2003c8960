import { liveHtml } from "./liveHtml.js";
import { type MimeBundle, notebookWriter } from "./notebookWriter.js";
import { chartSvg, chartSvgNow, svgPng, svgPngNow } from "./render.js";
import type { ChartSpec } from "./spec.js";
import { type Row, tableHtml, tableText } from "./tables.js";
import { zoomable } from "./zoomable.js";

export type { MimeBundle } from "./notebookWriter.js";
export { type Cell, type Row, tableHtml } from "./tables.js";

/** What a notebook output holds: contents by MIME type, and what the front end should know of them. */
export interface ChartOutput {
  readonly data: MimeBundle;
  readonly metadata: Readonly<Record<string, unknown>>;
}

/**
 * A chart as a notebook shows it: as HTML that becomes live where the front end runs scripts (classic Notebook,
 * JupyterLab for a trusted notebook, an editor's frame, pages made of notebooks), with what draws inside the first
 * chart of a notebook, and is a picture where it does not; as Vega-Lite for a front end that draws that itself; as PNG
 * and as text elsewhere. Nothing is fetched.
 *
 * @example
 * const { data } = await chartOutput(recordingChart(recording, trials));
 * data["image/png"]; // the picture, for front ends that draw no Vega-Lite
 */
export async function chartOutput(spec: ChartSpec): Promise<ChartOutput> {
  const svg = await chartSvg(spec);
  return outputOf(spec, svg, await svgPng(svg, { scale: pngScale }));
}

/** The same at once; without its picture where the drawing packages are not loaded (yet). */
export function chartOutputNow(spec: ChartSpec): ChartOutput {
  const svg = chartSvgNow(spec);
  return outputOf(spec, svg, svg === undefined ? undefined : svgPngNow(svg, { scale: pngScale }));
}

const pngScale = 1.6;

function outputOf(spec: ChartSpec, svg: string | undefined, png: Uint8Array | undefined): ChartOutput {
  const [, width, height] = /width="(\d+)" height="(\d+)"/.exec(svg ?? "") ?? [];
  const picture = png && { data: Buffer.from(png).toString("base64"), width, height };
  const live = zoomable(spec);
  const html = liveHtml(live, picture);
  return {
    data: {
      // The front ends draw version 5 of the language, of which these charts keep to the common part.
      "application/vnd.vegalite.v5+json": {
        ...live,
        $schema: "https://vega.github.io/schema/vega-lite/v5.json",
      },
      ...(html === undefined ? {} : { "text/html": html }),
      ...(picture ? { "image/png": picture.data } : {}),
      "text/plain": spec.description,
    },
    metadata: png ? { "image/png": { width: Number(width), height: Number(height) } } : {},
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
  const write = needWriter();
  write(await chartOutput(spec));
}

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
  needWriter()({
    data: { "text/html": tableHtml(rows, caption), "text/plain": tableText(rows) },
    metadata: {},
  });
}

/**
 * Shows Markdown text below a notebook cell.
 *
 * @throws Error outside a notebook.
 * @example
 * showMarkdown("**Blocked**: the shaft stayed within 9 degrees.");
 */
export function showMarkdown(text: string): void {
  needWriter()({ data: { "text/markdown": text, "text/plain": text }, metadata: {} });
}

/**
 * Shows a piece of HTML below a notebook cell, such as the explorer of a speed loop.
 *
 * @param text - What is shown where HTML is not.
 * @throws Error outside a notebook.
 * @example
 * showHtml(explorerHtml(machine), "Speed loop at an offset error, with sliders");
 */
export function showHtml(html: string, text: string): void {
  needWriter()({ data: { "text/html": html, "text/plain": text }, metadata: {} });
}

function needWriter(): ReturnType<typeof notebookWriter> & object {
  const write = notebookWriter();
  if (write) return write;
  throw new Error(
    "show, showTable, showHtml and showMarkdown need a notebook cell of the TypeScript kernel (see npm run lab); elsewhere use chartSvg or chartPng",
  );
}
