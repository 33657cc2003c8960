import type { Recording } from "../recording/types.js";
import type { Run } from "./run.js";
import { decideScales, type ScaleDecision } from "./scaleDecision.js";
import type { ScaleEvidence } from "./scaleEvidence.js";

/** What is needed of a log for its scale to be decided with those of its motor. */
export interface ScaledLog {
  readonly evidence: ScaleEvidence | undefined;
}

type Named = Pick<Recording, "motor" | "ordering">;

/** Logs of one motor, as they are judged together: those that state their lead order, by the motor's name. */
export const byMotor = ({ motor, ordering }: Named): string | undefined =>
  ordering === undefined ? undefined : (motor ?? "");

/**
 * What is decided of the scale of each log: together over the logs of one motor with the same columns, since a wrong
 * unit belongs to the rig; by itself where a log stands alone. Undefined where a log holds no two scales.
 *
 * @param setOf logs that give the same belong together; undefined for one that stands alone
 * @example
 * scalesOfSets([{ motor: "M1", ordering: "UVW", evidence }], byMotor).length; // => 1
 */
export function scalesOfSets<Log extends ScaledLog>(
  logs: readonly Log[],
  setOf: (log: Log) => string | undefined,
): (ScaleDecision | undefined)[] {
  const sets = new Map<string, number[]>();
  logs.forEach((log, k) => {
    if (log.evidence === undefined) return;
    const set = setOf(log);
    const key = set === undefined ? `alone ${k}` : `${JSON.stringify(set)} ${log.evidence.rig}`;
    sets.set(key, [...(sets.get(key) ?? []), k]);
  });
  const out = new Array<ScaleDecision | undefined>(logs.length).fill(undefined);
  for (const places of sets.values())
    decideScales(places.map((k) => logs[k].evidence as ScaleEvidence)).forEach((decision, j) => {
      out[places[j]] = decision;
    });
  return out;
}

/**
 * Runs with the scales that all runs of their motor show together: the same run where that is what it shows by itself,
 * else its recording analysed anew.
 *
 * @example
 * withSetScales([run]); // => [run]
 */
export function withSetScales(runs: readonly Run[]): Run[] {
  const decisions = scalesOfSets(
    runs.map((run) => ({ motor: run.motor, ordering: run.ordering, evidence: run.scaleEvidence })),
    byMotor,
  );
  return runs.map((run, k) => run.withScale(decisions[k]));
}
