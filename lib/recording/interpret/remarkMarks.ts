import { readAll } from "../columns/readAll.js";
import { factsFromNames } from "../factsFromNames.js";
import type { Mark, SourceTable } from "../formats/sourceTable.js";

/** Remarks in a column of text that name orders of the leads, as titles of the rows that follow. */
export async function remarkMarks(tables: readonly SourceTable[], known: readonly number[]): Promise<Mark[]> {
  const { columns } = tables[0];
  const index = columns.findIndex(
    ({ kind, samples }, k) =>
      kind === "text" &&
      !known.includes(k) &&
      samples.some((s) => factsFromNames([s]).ordering !== undefined),
  );
  if (index < 0) return [];
  const data = await readAll(tables, [index]);
  const words = data.words.get(index) ?? [];
  const orders = words.map((word) => factsFromNames([word]).ordering);
  const out: Mark[] = [];
  let last: string | undefined;
  for (const [row, k] of data.columns[0].entries()) {
    const order = orders[k];
    if (order !== undefined && order !== last) out.push({ row, title: words[k], by: "remark" });
    last = order ?? last;
  }
  return out;
}
