import type { SourceData, SourceTable } from "../formats/sourceTable.js";

/** Reads the same columns from all tables and puts them one after the other. */
export async function readAll(
  tables: readonly SourceTable[],
  indices: readonly number[],
): Promise<SourceData> {
  if (tables.length === 1) return tables[0].read(indices);
  const all: SourceData[] = [];
  for (const table of tables) all.push(await table.read(indices));
  const words = new Map<number, readonly string[]>();
  const origins = new Map<number, string>();
  const columns = indices.map((index, k) => {
    const lists = all.map((d) => d.words.get(index));
    if (lists.some((l) => l !== undefined)) {
      const union = [...new Set(lists.flatMap((l) => l ?? []))];
      words.set(index, union);
      return joined(
        all.map((d, i) =>
          d.columns[k].map((v) => (Number.isNaN(v) ? v : union.indexOf((lists[i] ?? [])[v]))),
        ),
      );
    }
    const starts = all.map((d) => d.origins.get(index));
    if (starts[0] !== undefined) {
      origins.set(index, starts[0]);
      const first = Date.parse(starts[0]);
      return joined(
        all.map((d, i) => {
          const shift = (Date.parse(starts[i] ?? "") - first) / 1000;
          return Number.isFinite(shift) && shift !== 0 ? d.columns[k].map((v) => v + shift) : d.columns[k];
        }),
      );
    }
    return joined(all.map((d) => d.columns[k]));
  });
  const marks = all.flatMap((d, i) => {
    const before = all.slice(0, i).reduce((sum, p) => sum + (p.columns[0]?.length ?? 0), 0);
    return (d.marks ?? []).map((m) => ({ ...m, row: m.row + before }));
  });
  return { columns, words, origins, findings: all.flatMap((d) => d.findings), owned: true, marks };
}

function joined(parts: readonly Float64Array[]): Float64Array {
  const out = new Float64Array(parts.reduce((sum, p) => sum + p.length, 0));
  let at = 0;
  for (const part of parts) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}
