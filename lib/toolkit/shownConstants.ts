import { showingTable, showsItself } from "../chart/render/showsItself.js";
import type { Row } from "../chart/render/tables.js";
import type { Constants } from "../identify/constants.js";
import { constantRows } from "../report/constantRows.js";

/** Constants that show themselves in a notebook as a table. */
export interface ShownConstants extends Constants {
  /** One row for each constant, in units for people. */
  table(): readonly Row[];
}

/** The same constants, with a table that is no part of their data. */
export function constantsThatShow(constants: Constants): ShownConstants {
  const table = (): readonly Row[] =>
    constantRows(constants).map(({ name, value, interval, how }) => ({
      constant: name,
      value,
      "interval, 95 %": interval,
      "convention, method": how,
    }));
  const shown = showsItself({ ...constants }, () => showingTable(table(), "Constants, with 95 % intervals"));
  return Object.defineProperty(shown, "table", { enumerable: false, value: table }) as ShownConstants;
}
