import { visible } from "../../units/text.js";
import type { SourceTable } from "../formats/sourceTable.js";
import { spelledUnit } from "./unitText.js";

const timeWord = /date|time|zeit|datum|stamp|fecha|hora|heure|data|ora|日期|时间|日時|時刻/i;
const day = 86_400;

/**
 * A table whose moments are counted in days, as spreadsheets and numerical programs do (since about 1900, today some
 * 45,000; or since the year 0, some 740,000), with these in seconds; any other as it is. (Day numbers of spreadsheets:
 * ISO/IEC 29500-1, 18.17.4.1, from memory.)
 */
export function daysInSeconds(table: SourceTable): SourceTable {
  const days = table.columns.flatMap((c, k) =>
    c.kind === "number" && spelledUnit(c) === undefined && areSerialDays(c.name, c.samples) ? [k] : [],
  );
  if (days.length !== 1) return table;
  const [at] = days;
  const { name } = table.columns[at];
  return {
    ...table,
    columns: table.columns.map((c, k) =>
      k === at
        ? { ...c, unit: "s", unitFrom: "values", samples: c.samples.map((s) => String(day * numberOf(s))) }
        : c,
    ),
    findings: [
      ...table.findings,
      {
        severity: "note",
        code: "day-numbers",
        message: `"${visible(name, 40)}" counts days, as spreadsheets do; it was turned into seconds`,
        file: table.path,
        column: name,
      },
    ],
    read: async (indices) => {
      const data = await table.read(indices);
      const columns = data.columns.map((v, j) => (indices[j] === at ? v.map((d) => d * day) : v));
      return { ...data, columns };
    },
  };
}

function numberOf(text: string): number {
  return Number(text.replace(",", "."));
}

/** Days within a few, with the time of day in at least five decimals. */
function areSerialDays(name: string, samples: readonly string[]): boolean {
  if (!timeWord.test(name) || samples.length < 3) return false;
  const values = samples.map(numberOf);
  const between = (from: number, to: number): boolean => values.every((v) => v > from && v < to);
  if (!between(20_000, 80_000) && !between(690_000, 780_000)) return false;
  if (samples.filter((s) => /[.,]\d{5,}$/.test(s)).length < 0.8 * samples.length) return false;
  return Math.abs(values[values.length - 1] - values[0]) < 3;
}
