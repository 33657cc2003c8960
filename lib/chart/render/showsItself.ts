import { type MimeBundle, notebookWriter } from "./notebookWriter.js";
import { type Row, tableHtml, tableText } from "./tables.js";

/** How an object shows itself: contents for a notebook, and the text that stands for it in a terminal. */
export interface Showing {
  readonly data: MimeBundle;
  readonly metadata?: Readonly<Record<string, unknown>>;
}

/** The name under which Node's console looks for an object's own text (`util.inspect.custom`). */
export const inspectName = Symbol.for("nodejs.util.inspect.custom");

/**
 * Lets an object show itself when it is the last value of a notebook cell (or is logged there): a chart as a chart,
 * rows as a table. In a terminal it prints its text instead of a dump. The object stays as it is: nothing that can be
 * counted or compared is added.
 *
 * @param showing - What to show, made when it is first needed.
 * @example
 * const shown = showsItself({ rows: 3 }, () => ({ data: { "text/plain": "3 rows" } }));
 */
export function showsItself<T extends object>(object: T, showing: () => Showing): T {
  return Object.defineProperty(object, inspectName, {
    enumerable: false,
    configurable: true,
    value: () => shownText(showing()),
  });
}

/** Sends what is to be shown to the notebook and returns nothing more to print; in a terminal returns the text. */
export function shownText({ data, metadata = {} }: Showing): string {
  const write = notebookWriter();
  if (write === undefined) return String(data["text/plain"] ?? "");
  write({ data, metadata });
  dropLineEnd();
  return "";
}

/**
 * The console prints a line end after the text of an object, which is empty here: that one line end, when it comes next
 * and alone, is left out, so that no blank line stands below what was shown.
 */
function dropLineEnd(): void {
  const { stdout } = process;
  const original = stdout.write;
  const once = function write(this: unknown, ...args: Parameters<typeof original>): boolean {
    restore();
    return String(args[0]) === "\n" ? true : original.apply(stdout, args);
  } as typeof original;
  const restore = () => {
    if (stdout.write === once) stdout.write = original;
  };
  stdout.write = once;
  setImmediate(restore);
}

/**
 * Rows as what shows itself: an HTML table, plain text below it.
 *
 * @example
 * showingTable([{ order: "UVW", verdict: "tracking" }]).data["text/plain"]; // "order  verdict ..."
 */
export function showingTable(rows: readonly Row[], caption?: string): Showing {
  return { data: { "text/html": tableHtml(rows, caption), "text/plain": tableText(rows) } };
}
