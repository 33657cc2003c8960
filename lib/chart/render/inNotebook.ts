import { createRequire } from "node:module";
import { chartOutputNow } from "./notebook.js";
import { notebookWriter } from "./notebookWriter.js";
import { loadDrawingSoon } from "./render.js";
import { saveChart } from "./saveChart.js";
import { inspectName } from "./showsItself.js";
import { chartsShowBy } from "./spec.js";
import { arqueroShowsItself } from "./tablesOfOthers.js";

/**
 * Makes charts and tables show themselves when they are the last value of a notebook cell: called once when the package
 * is imported. In a notebook it begins to load what draws, so that the first chart already has its picture; elsewhere
 * it loads nothing.
 */
export function showInNotebooks(): void {
  chartsShowBy(chartOutputNow, saveChart);
  if (notebookWriter() === undefined) return;
  errorsAreOneLine();
  void loadDrawingSoon();
  // At once, not by import(): a cell that requires arquero while an import of it is under way gets an error of Node's.
  const { ColumnTable } = createRequire(import.meta.url)("arquero") as typeof import("arquero");
  arqueroShowsItself(ColumnTable.prototype);
}

/** An error below a cell is its name and message, which hold the remedy; where it arose stays in its `stack`. */
function errorsAreOneLine(): void {
  Object.defineProperty(Error.prototype, inspectName, {
    configurable: true,
    value(this: Error) {
      return `${this.name}: ${this.message}`;
    },
  });
}
