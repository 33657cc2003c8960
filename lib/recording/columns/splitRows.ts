import type { LeadOrder } from "../../motor/facts.js";
import { type LeadLetters, readLeadOrder } from "../../motor/leadLetters.js";
import type { SourceData } from "../formats/sourceTable.js";
import type { Choice } from "./chooseChannels.js";
import type { ColumnRole } from "./roles.js";

/** Rows of one recording within the data of a source. */
export interface Part {
  readonly label: string;
  readonly rows: Int32Array | undefined;
  readonly motor?: string;
  readonly ordering?: LeadOrder;
  /** The letters the column writes its orders in. */
  readonly letters?: LeadLetters;
}

/** More parts than this are runs only when each has rows enough to be one. */
const manyParts = 50;
const fewRows = 5;

/**
 * One part per run, motor or order that the table's own columns tell apart. Columns that change so often that what lies
 * between two changes is no run (a label that counts up with the rows, for instance) tell nothing apart: these are
 * `left`.
 */
export function splitRows(
  data: SourceData,
  indices: readonly number[],
  splitting: readonly Choice[],
  rows: number,
): { readonly parts: Part[]; readonly left: readonly Choice[] } {
  let telling = splitting;
  for (;;) {
    const parts = partsBy(data, indices, telling, rows);
    if (parts.length <= manyParts || parts.length <= rows / fewRows)
      return { parts, left: splitting.filter((c) => !telling.includes(c)) };
    const distinct = (c: Choice): number => new Set(data.columns[indices.indexOf(c.index)]).size;
    const worst = telling.reduce((a, b) => (distinct(b) > distinct(a) ? b : a));
    telling = telling.filter((c) => c !== worst);
  }
}

function partsBy(
  data: SourceData,
  indices: readonly number[],
  splitting: readonly Choice[],
  rows: number,
): Part[] {
  const telling = splitting.filter((c) => {
    const values = data.columns[indices.indexOf(c.index)];
    return values.some((v) => !Number.isNaN(v));
  });
  if (telling.length === 0) return [{ label: "", rows: undefined }];
  const groups = new Map<string, { rows: number[]; words: string[] }>();
  for (let i = 0; i < rows; i += 1) {
    const words = telling.map((c) => {
      const v = data.columns[indices.indexOf(c.index)][i];
      const list = data.words.get(c.index);
      return Number.isNaN(v) ? "" : (list?.[v] ?? String(v));
    });
    const key = words.join("\u0000");
    const group = groups.get(key);
    if (group === undefined) groups.set(key, { rows: [i], words });
    else group.rows.push(i);
  }
  return [...groups.values()].map(({ rows: own, words }) => {
    const word = (role: ColumnRole): string | undefined => {
      const k = telling.findIndex((c) => c.role === role);
      return k < 0 || words[k] === "" ? undefined : words[k];
    };
    const written = readLeadOrder(word("ordering") ?? "");
    return {
      label:
        groups.size === 1
          ? ""
          : telling.map((c, k) => `${c.role}=${words[k] === "" ? "none" : words[k]}`).join(","),
      rows: groups.size === 1 ? undefined : Int32Array.from(own),
      motor: word("motor"),
      ordering: written?.order,
      letters: written?.letters,
    };
  });
}
