import type { Finding, Recording, Trial, TrialKind } from "../recording/types.js";
import { visible } from "../units/text.js";

/** Kinds that a command decides: one of them in a name and another in the log contradict each other. */
const commanded: ReadonlySet<TrialKind> = new Set(["torque", "speed", "position"]);

/**
 * A note where the name of a recording says one kind of trial, and its commands are all of another: the log decides,
 * and the name may belong to another file.
 */
export function namedKindFinding({ named, path }: Recording, trials: readonly Trial[]): Finding[] {
  const said = named?.kind;
  const found = [...new Set(trials.map(({ kind }) => kind).filter((kind) => commanded.has(kind)))];
  if (said === undefined || !commanded.has(said) || found.length === 0 || found.includes(said)) return [];
  const name = visible(named?.from ?? "", 60);
  return [
    {
      severity: "note",
      code: "kind-contradicts",
      message: `the name "${name}" speaks of a ${said} trial, and what is commanded in the log is a ${found.join(" and a ")}`,
      meaning: "the log decides; make sure that the file is the one it is called",
      file: path,
    },
  ];
}
