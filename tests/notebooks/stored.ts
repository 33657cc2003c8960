/** What the stored notebooks show, for tests that hold pictures against tables. */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { notebookFolder } from "../../notebooks/tools/kernelSpec.js";

/** A chart as it is stored. */
export type Spec = Record<string, unknown> & { readonly title?: { readonly text?: string } };

/** A table as it is stored: one object per row, cells as text. */
export type Table = readonly Readonly<Record<string, string>>[];

/** One notebook: texts written by hand, and what its cells show, in order. */
export interface Stored {
  readonly name: string;
  readonly markdown: readonly string[];
  readonly code: readonly string[];
  readonly charts: readonly Spec[];
  readonly tables: readonly Table[];
  /** Printed and computed text. */
  readonly text: string;
}

export const notebookNames = readdirSync(notebookFolder)
  .filter((name) => name.endsWith(".ipynb"))
  .sort();

/** Reads one by the start of its name. */
export function stored(start: string): Stored {
  const name = notebookNames.find((one) => one.startsWith(start)) as string;
  const { cells } = JSON.parse(readFileSync(join(notebookFolder, name), "utf8")) as {
    cells: {
      cell_type: string;
      source: string[];
      outputs?: { data?: Record<string, unknown>; text?: string[] }[];
    }[];
  };
  const outputs = cells.flatMap((cell) => cell.outputs ?? []);
  const data = outputs.map((output) => output.data ?? {});
  const joined = (value: unknown) => (Array.isArray(value) ? value.join("") : String(value ?? ""));
  return {
    name,
    markdown: cells.filter((cell) => cell.cell_type === "markdown").map(({ source }) => source.join("")),
    code: cells.filter((cell) => cell.cell_type === "code").map(({ source }) => source.join("")),
    charts: data.flatMap((one) => {
      const spec = one["application/vnd.vegalite.v5+json"] as Spec | undefined;
      return spec === undefined ? [] : [spec];
    }),
    tables: data
      .filter((one) => !("application/vnd.vegalite.v5+json" in one))
      .map((one) => joined(one["text/html"]))
      .filter((html) => html.startsWith("<table>"))
      .map(tableOf),
    text: outputs
      .map(({ text, data: shown = {} }) =>
        "text/html" in shown ? "" : joined(text) + joined(shown["text/markdown"] ?? shown["text/plain"]),
      )
      .filter((text) => text.trim() !== "")
      .join("\n"),
  };
}

function tableOf(html: string): Table {
  const plain = (cell: string) =>
    cell
      .replace(/<[^>]*>/g, "")
      .replace(/&lt;/g, "<")
      .replace(/&gt;/g, ">")
      .replace(/&quot;/g, '"')
      .replace(/&#39;/g, "'")
      .replace(/&amp;/g, "&");
  const heads = [...html.matchAll(/<th[^>]*>(.*?)<\/th>/gs)].map((match) => plain(match[1]));
  const [, body = ""] = /<tbody>(.*)<\/tbody>/s.exec(html) ?? [];
  return [...body.matchAll(/<tr>(.*?)<\/tr>/gs)].map((row) => {
    const cells = [...row[1].matchAll(/<td[^>]*>(.*?)<\/td>/gs)].map((match) => plain(match[1]));
    return Object.fromEntries(heads.map((head, i) => [head, cells[i] ?? ""]));
  });
}

/** What the cells of a notebook show as HTML, in order, by its file name. */
export function htmlOutputs(name: string): readonly string[] {
  const { cells } = JSON.parse(readFileSync(join(notebookFolder, name), "utf8")) as {
    cells: { outputs?: { data?: Record<string, string | string[]> }[] }[];
  };
  return cells.flatMap(({ outputs = [] }) =>
    outputs.flatMap(({ data = {} }) => {
      const html = data["text/html"];
      return html === undefined ? [] : [Array.isArray(html) ? html.join("") : html];
    }),
  );
}

/** A table by a column that it has. */
export function tableWith({ tables, name }: Stored, column: string): Table {
  const found = tables.find(([row]) => row !== undefined && column in row);
  if (!found) throw new Error(`${name} has no table with a column "${column}"`);
  return found;
}

/** A chart by words of its title. */
export function chartWith({ charts, name }: Stored, words: string): Spec {
  const found = charts.find((spec) => String(spec.title?.text ?? "").includes(words));
  if (!found) throw new Error(`${name} has no chart "${words}"`);
  return found;
}

/** One drawn layer: its mark, its encoding, its rows (those of its view where it has none of its own). */
export interface Layer {
  readonly mark: string;
  readonly encoding: Readonly<
    Record<string, { field?: string; datum?: number; value?: unknown; title?: string }>
  >;
  readonly rows: readonly Readonly<Record<string, number | string | null>>[];
}

/** All layers of a chart, in order. */
export function layersOf(part: unknown, outer: Layer["rows"] = []): Layer[] {
  if (Array.isArray(part)) return part.flatMap((one) => layersOf(one, outer));
  if (part === null || typeof part !== "object") return [];
  const spec = part as Record<string, unknown>;
  const rows = ((spec.data as { values?: Layer["rows"] } | undefined)?.values ?? outer) as Layer["rows"];
  const mark = typeof spec.mark === "string" ? spec.mark : (spec.mark as { type?: string } | undefined)?.type;
  const own = mark ? [{ mark, encoding: (spec.encoding ?? {}) as Layer["encoding"], rows }] : [];
  const inner = ["layer", "vconcat", "hconcat", "concat"].flatMap((key) => layersOf(spec[key] ?? [], rows));
  return [...own, ...inner];
}
