import { inspectName, showingTable, shownText } from "./showsItself.js";
import type { Row } from "./tables.js";

/** Rows of a foreign table that are shown. */
const most = 20;

/** What is used of an arquero table. */
interface ArqueroTable {
  numRows(): number;
  numCols(): number;
  objects(options: { readonly limit: number }): Row[];
}

/** What is used of a danfojs frame. */
interface DanfoFrame {
  readonly shape: readonly [number, number];
  readonly columns: readonly string[];
  readonly values: readonly (readonly unknown[])[];
}

/**
 * Lets arquero tables show themselves in a notebook as tables. The class is changed, so this is done in a notebook
 * only.
 *
 * @param prototype - `ColumnTable.prototype` of the arquero in use.
 */
export function arqueroShowsItself(prototype: object): void {
  Object.defineProperty(prototype, inspectName, {
    configurable: true,
    value(this: ArqueroTable) {
      const rows = this.objects({ limit: most });
      return shownText(showingTable(rows, sizeText(this.numRows(), this.numCols())));
    },
  });
}

/** The same for danfojs frames. */
export function danfoShowsItself(prototype: object): void {
  Object.defineProperty(prototype, inspectName, {
    configurable: true,
    value(this: DanfoFrame) {
      const rows = this.values
        .slice(0, most)
        .map((values) => Object.fromEntries(this.columns.map((name, i) => [name, values[i]])) as Row);
      return shownText(showingTable(rows, sizeText(...this.shape)));
    },
  });
}

function sizeText(rows: number, columns: number): string {
  const size = `${rows} ${rows === 1 ? "row" : "rows"}, ${columns} ${columns === 1 ? "column" : "columns"}`;
  return rows > most ? `${size}; the first ${most} rows` : size;
}
