import type { Recording } from "../recording/types.js";
import type { Observation } from "./observation.js";

const outerRoles = new Set<string | undefined>(["positionCommand", "speedCommand"]);
const byEffort = new Set(["torque", "voltage", "duty"]);

/** From this probability on it is not the meaning of a column that is open. */
const meaningSure = 0.9;

/**
 * A column that more likely than not asks for a speed or a position and was not used, because what it asks for is open;
 * undefined where there is none, or where another such command was read.
 *
 * @param least the probability that must lie on it being such a command
 */
export function openCommand(
  {
    understanding,
    channels,
    unscaled,
    unclocked,
  }: Pick<Recording, "understanding" | "channels" | "unscaled" | "unclocked">,
  least = 0.5,
): string | undefined {
  const read = { ...unclocked, ...unscaled, ...channels };
  if (read.positionCommand !== undefined || read.speedCommand !== undefined) return undefined;
  return understanding?.find(({ role, runnerUp, probability, unused, why }) => {
    const other = outerRoles.has(runnerUp?.role) ? (runnerUp?.probability ?? 0) : 0;
    // A column without a number asks for nothing; one whose meaning is sure is unused for another reason.
    const open = probability < meaningSure && why.some(({ kind }) => kind === "numbers");
    const outer = (outerRoles.has(role) ? probability : 0) + other;
    return (unused !== undefined || role === undefined) && open && outer > least;
  })?.column;
}

/** A motion against an inner command is a loop that runs away where an outer one lies beside it: from this probability
 * of one on it is not called reversed. */
export const perhapsOuter = 0.2;

/**
 * What drives the shaft is an inner command then: the outermost command is the one that is followed or not, and a
 * motion against the inner one may be a loop that runs away.
 */
export function underOpenCommand(
  { trial, verdict, text }: Observation,
  column: string,
): Partial<Observation> {
  if (!byEffort.has(trial.kind) || verdict === "undetermined") return {};
  return {
    behaviour: "unclear",
    verdict: "undetermined",
    confidence: 0.5,
    sense: "none",
    holds: [],
    missing: [`what "${column}" asks for (--map speedCommand=... or positionCommand=...)`],
    text: `A loop seems to follow "${column}", and what that asks for is not sure. By its ${trial.kind} alone: ${text}`,
  };
}
