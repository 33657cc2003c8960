import type { TrialKind } from "../recording/types.js";
import type { Diagnosis, RecordingVerdict, TrialVerdict, VerdictWord } from "./types.js";
import { verdictWords } from "./types.js";
import { usability } from "./usability.js";

/** What stands first wherever a shaft ran away or turned against its command. */
export const doNotClose =
  "Do not close a speed or position loop on it: no gain tames it, and reversing the reference does not stop it.";

/** A trial that can hurt someone when a loop is closed on what it showed. */
export interface Danger {
  readonly recording: RecordingVerdict;
  readonly trial: TrialVerdict;
}

/** Runaways and reversed trials, runaways first. */
export function dangers(diagnosis: Pick<Diagnosis, "recordings">): Danger[] {
  const of = (word: VerdictWord): Danger[] =>
    diagnosis.recordings.flatMap((recording) =>
      recording.trials.filter(({ verdict }) => verdict === word).map((trial) => ({ recording, trial })),
    );
  return [...of("runaway"), ...of("reversed")];
}

/** A trial that asked something of the shaft; a coast-down and a rest ask nothing. */
export const asks = ({ kind }: { readonly kind?: TrialKind }): boolean => kind !== "coast" && kind !== "idle";

/** `1 of 3 trials turns against its command.` Undefined where none does. */
export function dangerSentence(
  all: readonly { readonly verdict: VerdictWord; readonly kind?: TrialKind }[],
): string | undefined {
  const trials = all.filter(asks);
  const count = (word: VerdictWord): number => trials.filter(({ verdict }) => verdict === word).length;
  const [away, against] = [count("runaway"), count("reversed")];
  const of = trials.length > 1 ? ` of ${trials.length} trials` : " trial";
  const parts = [
    ...(away > 0 ? [`${away}${of} ran away`] : []),
    ...(against > 0
      ? [
          `${against}${away > 0 ? "" : of} ${against === 1 ? "turns against its" : "turn against their"} command`,
        ]
      : []),
  ];
  return parts.length > 0 ? `${parts.join(", ")}.` : undefined;
}

/** `3 trials: 1 turns against its command, 2 tracking.` The ones that can hurt stand first. */
export function countSentence(trials: readonly Pick<TrialVerdict, "verdict">[]): string {
  const counts = verdictWords
    .map((word) => ({ word, count: trials.filter((trial) => trial.verdict === word).length }))
    .filter(({ count }) => count > 0)
    .map(({ word, count }) =>
      word === "reversed"
        ? `${count} ${count === 1 ? "turns against its" : "turn against their"} command`
        : `${count} ${word}`,
    );
  if (trials.length > 1 && counts.length === 1)
    return `All ${trials.length} trials: ${trials[0].verdict === "reversed" ? "they turn against their command" : trials[0].verdict}.`;
  return trials.length === 1
    ? `One trial: ${trials[0].verdict === "reversed" ? "it turns against its command" : trials[0].verdict}.`
    : `${trials.length} trials: ${counts.join(", ")}.`;
}

/** What the trials beside the dangerous ones did: `The others: 2 tracking.` Empty where there are none. */
function othersSentence(trials: readonly Pick<TrialVerdict, "verdict">[]): string {
  const rest = trials.filter(({ verdict }) => verdict !== "runaway" && verdict !== "reversed");
  if (rest.length === 0) return "";
  const [first] = rest;
  return rest.length === 1
    ? `The other one: ${first.verdict}.`
    : countSentence(rest).replace(/^(?:\d+|All \d+) trials:/, "The others:");
}

/**
 * The answer in one or two sentences. What can hurt someone stands first wherever no order is stated to keep instead;
 * "keep" never stands alone beside an order that turns against its command.
 *
 * @example
 * headline({ orderings: [], recordings: [{ trials: [{ verdict: "reversed" }] }] } as never);
 * // => "1 trial turns against its command. Do not close a speed or position loop on it: no gain tames it, and reversing the reference does not stop it."
 */
export function headline(diagnosis: Pick<Diagnosis, "orderings" | "recordings">): string {
  const ordered = new Set<string | null>(diagnosis.orderings.map(({ ordering }) => ordering));
  const loose = diagnosis.recordings
    .filter(({ ordering }) => ordering === null || !ordered.has(ordering))
    .flatMap(({ trials }) => trials)
    .filter(asks);
  const danger = dangerSentence(loose);
  const first = danger ? `${danger} ${doNotClose} ` : "";
  if (diagnosis.orderings.length > 0) return `${first}${orderSentence(diagnosis)}`;
  if (loose.length === 0)
    return diagnosis.recordings.some(({ trials }) => trials.length > 0)
      ? "Nothing was asked of the shaft in these recordings."
      : "No trial was found in these recordings.";
  return `${first}${danger ? othersSentence(loose) : countSentence(loose)}`.trim();
}

function orderSentence({ orderings }: Pick<Diagnosis, "orderings">): string {
  const usable = orderings.filter((o) => o.usable).map((o) => o.ordering);
  const against = orderings
    .filter((o) => !o.usable && (o.verdict === "runaway" || o.verdict === "reversed"))
    .map((o) => o.ordering);
  const warning =
    against.length === 0
      ? ""
      : ` Close no loop on ${list(against, "or")}: ${against.length === 1 ? "it turns" : "they turn"} against ${against.length === 1 ? "its" : "their"} command.`;
  if (usable.length === 0) return `${warning.trim()} ${noneUsable(orderings)}`.trim();
  const said =
    usable.length === 1
      ? `Keep ${usable[0]}: the one usable order in this set.`
      : `Usable: ${list(usable, "and")}. Choose by the wanted sense of rotation.`;
  return `${said}${warning}`;
}

/** No order is usable, or none is known to be. */
function noneUsable(orderings: Diagnosis["orderings"]): string {
  const known = orderings.filter((o) => usability(o) === "not known");
  const open = known.filter(({ verdict }) => verdict === "undetermined").map(({ ordering }) => ordering);
  const early = known.filter(({ verdict }) => verdict === "tracking").map(({ ordering }) => ordering);
  const one = orderings.length === 1;
  if (open.length === orderings.length)
    return one
      ? `Whether order ${open[0]} is usable cannot be told from this log.`
      : "Whether an order in this set is usable cannot be told from these logs.";
  if (early.length > 0)
    return `${list(early, "and")} ${early.length === 1 ? "turns" : "turn"} with the command, on too little evidence to keep yet.`;
  if (one) return `Order ${orderings[0].ordering} is not usable as it stands.`;
  return open.length === 0
    ? "No order in this set is usable as it stands."
    : `No order in this set is known to be usable; ${list(open, "and")} could not be judged.`;
}

const list = (names: readonly string[], word: string): string =>
  names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} ${word} ${names[names.length - 1]}`;

/** How the logs write lead orders, where not in U, V, W: `The lead orders are written in other letters: ...`. */
export function lettersSentence({ recordings }: Pick<Diagnosis, "recordings">): string | undefined {
  const told = recordings.flatMap(({ findings }) => findings).filter(({ code }) => code === "lead-letters");
  const words = [...new Set(told.map(({ message }) => message))];
  return words.length === 0 ? undefined : words.map((w) => `${w[0].toUpperCase()}${w.slice(1)}.`).join(" ");
}
