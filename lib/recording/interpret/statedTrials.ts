import type { ReadOptions } from "../columns/readOptions.js";
import type { Recording } from "../types.js";

/** Trials stated on the log's own clock, on the one that begins with the recording. */
export function fromOrigin(trials: Recording["declaredTrials"], origin = 0): Recording["declaredTrials"] {
  const moved = (t: number): number =>
    Math.abs(t) >= Math.abs(origin) / 2 && Number.isFinite(t) ? t - origin : t;
  return origin === 0 ? trials : trials?.map((t) => ({ ...t, start: moved(t.start), end: moved(t.end) }));
}

/** Trials that the descriptor declares, and the stretches whose kind the caller states: those come before any of the
 * descriptor's that they touch. */
export function statedTrials(
  described: Recording["declaredTrials"],
  kinds: ReadOptions["kinds"],
): Recording["declaredTrials"] {
  if (kinds === undefined || kinds.length === 0) return described;
  const stated = kinds.map((k) => ({ ...k, by: "caller" as const }));
  const apart = (described ?? []).filter((d) => stated.every((k) => d.end <= k.start || d.start >= k.end));
  return [...stated, ...apart];
}
