import type { StudyTables } from "../pipeline/readTables.js";

/**
 * Tables in which one name that stands in two batches is two motors: serial numbers begin anew with many makers. Each
 * gets its batch behind its name; recordings of that name without a batch stay by themselves.
 *
 * @param among - all tables whose names count: a name that stands in one batch here and in another there is two motors
 */
export function keptApart(tables: StudyTables, among: readonly StudyTables[] = [tables]): StudyTables {
  const batches = new Map<string, Set<string>>();
  for (const { motor, batch } of among.flatMap((each) => each.recordings))
    if (batch !== null) batches.set(motor, (batches.get(motor) ?? new Set()).add(batch));
  const twice = new Set([...batches].flatMap(([motor, set]) => (set.size > 1 ? [motor] : [])));
  if (twice.size === 0) return tables;
  const named = (motor: string, batch: string | null) =>
    twice.has(motor) && batch !== null ? `${motor} (batch ${batch})` : motor;
  const batchOf = new Map(tables.recordings.map((r) => [`${r.recording}\u0000${r.motor}`, r.batch]));
  return {
    ...tables,
    recordings: tables.recordings.map((r) => ({ ...r, motor: named(r.motor, r.batch) })),
    troubled: tables.troubled.map((t) => ({
      ...t,
      motor: named(t.motor, batchOf.get(`${t.recording}\u0000${t.motor}`) ?? null),
    })),
  };
}
