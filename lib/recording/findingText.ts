import { sentences } from "../units/forPeople.js";
import type { Finding } from "./types.js";

/**
 * A finding in whole sentences: what was found, and what it means or asks for. It begins as its message does, to stand
 * behind a lead such as `warning: `.
 *
 * @example
 * findingText({ severity: "note", code: "x", message: "a gap of 2 s", meaning: "what happened in it is unknown" });
 * // => "a gap of 2 s. What happened in it is unknown."
 */
export function findingText({ message, meaning }: Pick<Finding, "message" | "meaning">): string {
  const text = sentences(message, meaning);
  return `${message.trim()[0] ?? ""}${text.slice(1)}`;
}

/** Equal findings together, in the order in which they first came. */
export function equalFindings<T extends Finding>(findings: readonly T[]): T[][] {
  const groups = new Map<string, T[]>();
  for (const finding of findings) {
    const key = `${finding.severity}|${finding.message}|${finding.meaning ?? ""}`;
    groups.set(key, [...(groups.get(key) ?? []), finding]);
  }
  return [...groups.values()];
}

/** Code of what is said of a file that is read all the same: another of a different lead order has its bytes. */
export const copyOfOtherOrder = "same-bytes-of-other-order";

/** What is said of inputs, apart: what was not read, and what was read and is to be looked at. */
export function byReading<T extends Finding>(
  problems: readonly T[],
): { readonly notRead: readonly T[]; readonly read: readonly T[] } {
  return {
    notRead: problems.filter(({ code }) => code !== copyOfOtherOrder),
    read: problems.filter(({ code }) => code === copyOfOtherOrder),
  };
}
