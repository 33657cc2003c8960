import { type StampForm, stampForm } from "../../columns/stamps.js";
import { labelsOfChannels } from "../channelRemarks.js";
import { isMissingText } from "../missingText.js";
import type { ColumnKind, SourceColumn } from "../sourceTable.js";
import { isNumberText, type TextDialect } from "../textDialect.js";
import type { PlainText } from "./plainCopy.js";

/** A column of a text, and how its stamps are written where it holds some. */
export interface TextColumn {
  readonly column: SourceColumn;
  readonly stamp?: StampForm;
}

/** One table in a text of one dialect, as the fast readers take it. */
export interface TextTable {
  /** The file, as findings name it. */
  readonly path: string;
  /** Where its text lies for the column engine. */
  readonly plain: PlainText;
  readonly dialect: TextDialect;
  readonly columns: readonly TextColumn[];
  /** Rows to make room for. */
  readonly expected: number;
  /** The file ends in the middle of its last row. */
  readonly cut: boolean;
}

/** The columns of a table by its heading and first rows. */
export function describeColumns(dialect: TextDialect): TextColumn[] {
  const { fields, names, units, rows, decimal, thousands } = dialect;
  const labels = labelsOfChannels(names ?? [], dialect.preamble);
  const out: TextColumn[] = [];
  for (let k = 0; k < fields; k += 1) {
    const heading = names?.[k] ?? "";
    const unitCell = units?.[k]?.replace(/^[[(<{]\s*|\s*[\])>}]$/g, "").trim();
    const samples = rows.map((r) => r[k] ?? "");
    const some = samples.filter((s) => !isMissingText(s)).slice(0, 50);
    const stamp = stampForm(some);
    const numeric = some.filter((s) =>
      isNumberText(thousands ? s.split(thousands).join("") : s, decimal),
    ).length;
    const kind: ColumnKind =
      some.length === 0
        ? "empty"
        : stamp !== undefined
          ? "stamp"
          : numeric > some.length / 2
            ? "number"
            : "text";
    out.push({
      stamp,
      column: {
        name: heading === "" ? `column ${k + 1}` : heading,
        ...(unitCell === undefined || unitCell === "" ? {} : { unit: unitCell, unitFrom: "units row" }),
        kind,
        samples: some.slice(0, 20),
        ...(labels[k] === undefined ? {} : { label: labels[k] }),
      },
    });
  }
  return out;
}

/** True when a column begins with whole numbers, none above 999, and goes on with fractions: it may be grouped in
 * thousands. */
export function maybeGrouped({ column }: TextColumn, values: Float64Array): boolean {
  if (column.kind !== "number" || column.samples.length === 0) return false;
  if (!column.samples.every((s) => /^-?\d{1,3}$/.test(s))) return false;
  for (let i = 0; i < values.length; i += 1) {
    const v = values[i];
    if (v !== Math.floor(v) && !Number.isNaN(v)) return true;
  }
  return false;
}
