import { openTable } from "../formats/openTable.js";
import { type TableUnderstanding, understandTable } from "./understand.js";

/** Opens a file and says what its columns were taken for, without making a recording of it. */
export async function understandFile(path: string): Promise<TableUnderstanding> {
  const table = await openTable(path);
  try {
    const numeric = table.columns
      .map((c, i) => ({ c, i }))
      .filter(({ c }) => c.kind === "number" || c.kind === "stamp")
      .slice(0, 64);
    const data = await table.read(numeric.map(({ i }) => i));
    const values = new Map(numeric.map(({ i }, k) => [i, data.columns[k]] as const));
    return understandTable(table, values, new Map());
  } finally {
    await table.close?.();
  }
}
