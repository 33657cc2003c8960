import type { DriveFacts, EncoderFacts, LeadOrder, MachineFacts } from "../../motor/facts.js";
import type { Finding } from "../types.js";

/** A place in a table where the source itself shows a break: a title, a heading that is repeated, another file. */
export interface Mark {
  /** Row before which it stands. */
  readonly row: number;
  /** Title that was found there. */
  readonly title?: string;
  /** What makes it a break: a heading written anew, or a title alone; a remark is a title only where the clock breaks,
   * and one that names an order of the leads always. */
  readonly by: "heading" | "title" | "remark" | "order";
}

/** What a column of a source holds, before anyone knows what it means. */
export type ColumnKind = "number" | "stamp" | "text" | "empty";

/** One column of a source. */
export interface SourceColumn {
  readonly name: string;
  /** Unit as spelled beside the heading; what stands within the heading is read with it (`splitHeading`). */
  readonly unit?: string;
  /** Where the unit was found: `units row`, `attribute`, `cells`. */
  readonly unitFrom?: string;
  readonly kind: ColumnKind;
  /** What the source says of the column beside its name: a channel's label or description. */
  readonly label?: string;
  /** A few values as text, for recognition. */
  readonly samples: readonly string[];
  /** Its counts are steps of Hall signals: six in an electrical turn. */
  readonly hall?: boolean;
}

/** Values of the columns asked for, in the order asked. */
export interface SourceData {
  readonly columns: readonly Float64Array[];
  /** For columns read as text: the words, and `columns` holds indices into them (NaN where empty). */
  readonly words: ReadonlyMap<number, readonly string[]>;
  /** For stamp columns: the stamp (ISO 8601) that stands at zero. */
  readonly origins: ReadonlyMap<number, string>;
  readonly findings: readonly Finding[];
  /** True when the arrays are nobody else's, so that they may be converted in place. */
  readonly owned?: boolean;
  /** Every how manieth row was kept, when not all fitted into memory. */
  readonly kept?: number;
  /** Breaks between rows that the source itself shows: headings written anew, titles. */
  readonly marks?: readonly Mark[];
  /** Row number in the file (1-based line) of the first data row, when the source is text. */
  readonly firstLine?: number;
}

/** One table of numbers found in a file, its columns not yet read. */
export interface SourceTable {
  /** The file, and after a `#` the member, sheet or block of it. */
  readonly path: string;
  /** Name of the member, sheet or block, or its title. */
  readonly label?: string;
  /** What the lines above its heading call it. */
  readonly title?: string;
  /** Files it was read from, where that is not the path. */
  readonly files?: readonly string[];
  /** Rows a second as the source states it, for a table without a time, and where it says so. */
  readonly rate?: { readonly hertz: number; readonly from: string };
  /** Format in words: `CSV`, `Parquet`, `MAT-file level 5`... */
  readonly format: string;
  /** Dialect in words, for text. */
  readonly dialect?: string;
  readonly columns: readonly SourceColumn[];
  /** Facts stated inside the file (preamble lines, scalar variables). */
  readonly facts?: {
    readonly ordering?: LeadOrder;
    readonly motor?: string;
    readonly title?: string;
    readonly machine?: MachineFacts;
    readonly drive?: DriveFacts;
    readonly encoder?: EncoderFacts;
    /** What of these stands in lines of text, as written. */
    readonly said?: readonly string[];
  };
  readonly findings: readonly Finding[];
  /** True when columns have no names of their own, so that nothing may be guessed from them. */
  readonly nameless?: boolean;
  /** Reads the columns with these indices. */
  read(indices: readonly number[]): Promise<SourceData>;
  /** Lets go of what the source holds (temporary files). */
  close?(): Promise<void>;
}

/** The finding that says a table was thinned to fit into memory; nothing when it was not. */
export function thinned(file: string, kept: number, rows: number): Finding[] {
  if (kept === 1) return [];
  return [
    {
      severity: "warning",
      code: "thinned",
      message: `the table has ${rows} rows, more than are held in memory: only one row in ${kept} was kept`,
      value: kept,
      unit: "1",
      meaning:
        "what happens within that many samples is not seen; cut the file, or keep fewer columns with --map, to have every row",
      file,
    },
  ];
}

/** Thrown by readers for a file that cannot be used; the message is the whole finding. */
export class CannotRead extends Error {
  override readonly name = "CannotRead";
  constructor(readonly finding: Finding) {
    super(finding.message);
  }
}

/** Thrown while columns are read, when the file turns out to hold other tables than the one that was opened: they are
 * to be read in its stead. */
export class SeveralTables extends Error {
  override readonly name = "SeveralTables";
  constructor(readonly tables: readonly SourceTable[]) {
    super(`the file holds ${tables.length} ${tables.length === 1 ? "table" : "tables"} of another shape`);
  }
}
