import type { Trial } from "../types.js";

/**
 * What a trial asks, as a key: its kind, its command and the levels that the command takes. Trials that repeat one
 * another have the same, as far as fiftieths of their largest level tell.
 *
 * @example
 * askedOf(first) === askedOf(second); // => true
 */
export function askedOf({ kind, command, steps }: Pick<Trial, "kind" | "command" | "steps">): string {
  const largest = Math.max(0, ...steps.map(({ from, to }) => Math.max(Math.abs(from), Math.abs(to))));
  if (!(largest > 0)) return `${kind} ${command ?? ""}`;
  const level = (value: number): number => Math.round((50 * value) / largest) + 0;
  const levels = steps.map(({ from, to }) => `${level(from)}>${level(to)}`);
  return `${kind} ${command ?? ""} ${largest.toPrecision(2)} ${levels.join(" ")}`;
}
