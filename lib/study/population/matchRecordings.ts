import type { StudyRecording, StudyTables } from "../pipeline/readTables.js";

/** Which recordings of two studies are the same. */
export interface RecordingMatch {
  /** The same bytes, earlier and later, under one path or two. */
  readonly same: readonly (readonly [earlier: StudyRecording, later: StudyRecording])[];
  /** The same bytes under another path, earlier and later. */
  readonly moved: readonly (readonly [earlier: StudyRecording, later: StudyRecording])[];
  /** Recordings under one path with other bytes. */
  readonly changed: number;
  /** Recordings that only the later study has, and only the earlier one had. */
  readonly added: number;
  readonly gone: number;
}

/**
 * Pairs the recordings of two studies: first those with the same bytes, under the same path where there is one, then
 * those that are left under one path. The bytes are known by their digest, which needs neither a motor's name nor a
 * clock; where a table lacks it (it was cut down, or is of an older version), paths alone decide.
 */
export function matchRecordings(
  earlier: readonly StudyRecording[],
  later: readonly StudyRecording[],
): RecordingMatch {
  const same: [StudyRecording, StudyRecording][] = [];
  const moved: [StudyRecording, StudyRecording][] = [];
  const [left, right] = [new Set(earlier), new Set(later)];
  const pair = (
    keyOf: (r: StudyRecording) => string | undefined,
    found: (a: StudyRecording, b: StudyRecording) => void,
  ) => {
    const waiting = new Map<string, StudyRecording[]>();
    for (const r of left) {
      const key = keyOf(r);
      const list = key === undefined ? undefined : waiting.get(key);
      if (list !== undefined) list.push(r);
      else if (key !== undefined) waiting.set(key, [r]);
    }
    for (const r of right) {
      const one = waiting.get(keyOf(r) ?? "")?.shift();
      if (one === undefined) continue;
      left.delete(one);
      right.delete(r);
      found(one, r);
    }
  };
  const path = (r: StudyRecording) => `${r.recording}\u0000${r.part ?? ""}`;
  const bytes = (r: StudyRecording) =>
    r.content === undefined ? undefined : `${r.content}\u0000${r.part ?? ""}`;
  pair(
    (r) => (r.content === undefined ? undefined : `${bytes(r)}\u0000${path(r)}`),
    (a, b) => same.push([a, b]),
  );
  pair(bytes, (a, b) => {
    same.push([a, b]);
    moved.push([a, b]);
  });
  let changed = 0;
  pair(path, (a, b) => {
    if (a.content !== undefined && b.content !== undefined) changed++;
  });
  return { same, moved, changed, added: right.size, gone: left.size };
}

/**
 * Both tables with one name for a motor that either knows by the path of a recording alone, when the other has the same
 * recording: the name that was stated, or else that of the new place.
 */
export function motorsNamedAlike(
  earlier: StudyTables,
  later: StudyTables,
  { same }: RecordingMatch,
): [StudyTables, StudyTables] {
  const byPath = ({ motor, recording }: StudyRecording) =>
    motor === recording || motor.startsWith(`${recording}#`);
  const [before, now] = [new Map<string, string>(), new Map<string, string>()];
  for (const [a, b] of same)
    if (byPath(a)) before.set(a.motor, b.motor);
    else if (byPath(b)) now.set(b.motor, a.motor);
  return [renamed(earlier, before), renamed(later, now)];
}

/** The earlier study with the batches that the later one gives to the same recordings: a batch that was named anew is
 * the same batch. */
export function batchesNamedAlike(earlier: StudyTables, { same }: RecordingMatch): StudyTables {
  const later = new Map(same.map(([a, b]) => [a, b.batch]));
  return {
    ...earlier,
    recordings: earlier.recordings.map((r) => {
      const batch = later.get(r) ?? null;
      return batch === null || batch === r.batch ? r : { ...r, batch };
    }),
  };
}

function renamed(tables: StudyTables, names: ReadonlyMap<string, string>): StudyTables {
  if (names.size === 0) return tables;
  const one = <T extends { readonly motor: string }>(row: T): T => ({
    ...row,
    motor: names.get(row.motor) ?? row.motor,
  });
  return { ...tables, recordings: tables.recordings.map(one), troubled: tables.troubled.map(one) };
}
