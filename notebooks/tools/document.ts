/** Notebooks as Markdown sources: text, and code in ```ts fences. From a source a Jupyter document (nbformat 4.5) is
 * made. */
import { createHash } from "node:crypto";
import { kernelName } from "../../lib/toolkit/kernel/kernelSpec.js";
import type { Output } from "./kernel.js";

/** One cell of a source. */
export interface SourceCell {
  readonly kind: "markdown" | "code";
  readonly text: string;
}

/** A cell of a Jupyter document. */
export interface NotebookCell {
  readonly cell_type: "markdown" | "code";
  readonly id: string;
  readonly metadata: object;
  readonly source: string[];
  readonly execution_count?: number;
  readonly outputs?: readonly unknown[];
}

/** A Jupyter document. */
export interface Notebook {
  readonly cells: readonly NotebookCell[];
  readonly metadata: object;
  readonly nbformat: 4;
  readonly nbformat_minor: 5;
}

/** Cuts a source into cells. A line of three dashes alone starts a new text cell. Throws when a fence is left open. */
export function readSource(text: string): SourceCell[] {
  const cells: SourceCell[] = [];
  let kind: SourceCell["kind"] = "markdown";
  let lines: string[] = [];
  const finish = () => {
    const content = lines.join("\n").trim();
    if (content !== "") cells.push({ kind, text: content });
    lines = [];
  };
  for (const line of text.split(/\r?\n/)) {
    if (kind === "markdown" && (line === "```ts" || line === "---")) {
      finish();
      if (line === "```ts") kind = "code";
    } else if (kind === "code" && line === "```") {
      finish();
      kind = "markdown";
    } else {
      lines.push(line);
    }
  }
  if (kind === "code") throw new Error("a ```ts fence is not closed");
  finish();
  return cells;
}

/** Puts cells and what they showed together. */
export function notebook(cells: readonly SourceCell[], outputs: readonly (readonly Output[])[]): Notebook {
  let count = 0;
  const made = cells.map((cell, i): NotebookCell => {
    const base = { id: cellId(cell, i), metadata: {}, source: linesOf(cell.text) };
    if (cell.kind === "markdown") return { cell_type: "markdown", ...base };
    count++;
    return {
      cell_type: "code",
      ...base,
      execution_count: count,
      outputs: (outputs[count - 1] ?? []).map(stored),
    };
  });
  return {
    cells: made,
    metadata: {
      kernelspec: { display_name: "TypeScript with shaftwise", language: "typescript", name: kernelName },
      language_info: {
        codemirror_mode: { mode: "typescript", name: "javascript", typescript: true },
        file_extension: ".ts",
        mimetype: "text/typescript",
        name: "typescript",
        version: "3.7.2",
      },
    },
    nbformat: 4,
    nbformat_minor: 5,
  };
}

/** The document as the file holds it: indented, but a chart's specification on one line (it is several times smaller
 * so). */
export function writeNotebook(document: Notebook): string {
  const compact: string[] = [];
  const text = JSON.stringify(
    document,
    (key, value) =>
      key.startsWith("application/") ? `\u0001${compact.push(JSON.stringify(value)) - 1}\u0001` : value,
    1,
  );
  return `${text.replace(/"\\u0001(\d+)\\u0001"/g, (_, place) => compact[Number(place)])}\n`;
}

/** An output as the file holds it: text as lines. */
function stored(output: Output): unknown {
  if (output.output_type === "stream") return { ...output, text: linesOf(output.text) };
  const data: Record<string, unknown> = {};
  for (const [type, content] of Object.entries(output.data)) {
    data[type] = typeof content === "string" ? linesOf(content) : content;
  }
  return { ...output, data };
}

function linesOf(text: string): string[] {
  return text.split(/(?<=\n)/);
}

function cellId(cell: SourceCell, place: number): string {
  return createHash("sha256").update(`${place} ${cell.text}`).digest("hex").slice(0, 8);
}
