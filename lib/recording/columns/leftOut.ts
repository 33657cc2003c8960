import { visible } from "../../units/text.js";
import { CannotRead } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";

/** A run of a table in which nothing can be used, beside others that are read. */
export interface RunLeftOut {
  readonly label: string;
  readonly rows: number;
  readonly error: CannotRead;
}

/** What is told of runs that were left out; thrown where nothing else of the table was read. */
export function runsLeftOut(left: readonly RunLeftOut[], read: number, file: string): Finding[] {
  if (read === 0 && left.length > 0) throw left[0].error;
  return left.map(({ label, rows, error }) => ({
    severity: "warning",
    code: "run-not-read",
    message: `${rows === 1 ? "1 row" : `${rows} rows`} (${visible(label, 60)}) left out: ${error.finding.message}`,
    value: rows,
    meaning: error.finding.meaning,
    file,
  }));
}

/** What is told of the columns of a motor that were left out beside those of others. */
export function motorLeftOut(motor: string | undefined, error: unknown, file: string): Finding {
  if (!(error instanceof CannotRead)) throw error;
  return {
    severity: "warning",
    code: "columns-not-read",
    message: `the columns of "${visible(motor ?? "", 60)}" left out: ${error.finding.message}`,
    meaning: error.finding.meaning,
    file,
  };
}
