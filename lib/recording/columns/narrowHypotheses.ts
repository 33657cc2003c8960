import type { ColumnFacts } from "./columnFacts.js";
import { type Hypothesis, unweighed } from "./hypotheses.js";
import { meaningKey } from "./likeColumns.js";
import type { StatedColumn } from "./statedColumns.js";

/** What is stated is not questioned; a stated role keeps the units that fit it. */
export function restrict(
  list: readonly Hypothesis[],
  { heading, kind }: ColumnFacts,
  stated: StatedColumn | undefined,
): Hypothesis[] {
  if (kind === "empty" && stated?.role === undefined) return [plainOther];
  if (stated === undefined) return [...list];
  if (stated.ignored) return [plainOther];
  let kept = [...list];
  if (stated.role !== undefined) {
    const role = stated.role;
    kept = kept.filter((h) => h.role === role);
    if (kept.length === 0) kept = [{ ...unweighed, role, unit: heading.unit?.code }];
  }
  if (stated.unit !== undefined) {
    const code = heading.unit?.code;
    const same = kept.filter((h) => h.unit === code);
    if (same.length > 0) kept = same;
    else if (stated.role !== undefined) kept = [{ ...kept[0], unit: code, factor: undefined, habit: 0 }];
  }
  return kept;
}

const plainOther: Hypothesis = { ...unweighed, role: "other", unit: undefined };

/** With what tables of the same hand add to each meaning. */
export function withSaid(list: readonly Hypothesis[], said: ReadonlyMap<string, number>): Hypothesis[] {
  return list
    .map((h) => ({ ...h, score: h.score + (said.get(meaningKey(h)) ?? 0) }))
    .sort((a, b) => b.score - a.score);
}
