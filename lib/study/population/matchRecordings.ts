import type { StudyRecording, StudyTables } from "../pipeline/readTables.js";

/** Which recordings of two studies are the same. */
export interface RecordingMatch {
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
    () => {},
  );
  pair(bytes, (a, b) => moved.push([a, b]));
  let changed = 0;
  pair(path, (a, b) => {
    if (a.content !== undefined && b.content !== undefined) changed++;
  });
  return { moved, changed, added: right.size, gone: left.size };
}

/** Tables in which motors that are known by the path of a moved recording alone have the name of its new place. */
export function motorsMoved(tables: StudyTables, { moved }: RecordingMatch): StudyTables {
  const byPath = ({ motor, recording }: StudyRecording) =>
    motor === recording || motor.startsWith(`${recording}#`);
  const names = new Map(
    moved.flatMap(([a, b]) => (byPath(a) && byPath(b) ? [[a.motor, b.motor] as const] : [])),
  );
  if (names.size === 0) return tables;
  const renamed = <T extends { readonly motor: string }>(one: T): T => ({
    ...one,
    motor: names.get(one.motor) ?? one.motor,
  });
  return {
    ...tables,
    recordings: tables.recordings.map(renamed),
    troubled: tables.troubled.map(renamed),
  };
}
