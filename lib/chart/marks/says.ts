/** Words for titles that say what was found. */
import { short } from "./thin.js";

/** Unit of an axis title: what stands in its last parentheses, with a space before it; nothing when there is none. */
export function unitOf(axis: string): string {
  const open = axis.indexOf(" (");
  return open < 0 || !axis.endsWith(")") ? "" : ` ${axis.slice(open + 2, -1)}`;
}

/** Quantity of an axis title, without its unit. */
export function quantityOf(axis: string): string {
  return axis.replace(/ \(.*\)$/, "");
}

/** A number of three digits for a title, with a true minus; a dash where there is none. */
export function said(value: number, digits = 3): string {
  const kept = short(value, digits);
  if (kept === null) return "–";
  return (Object.is(kept, -0) ? 0 : kept)
    .toLocaleString("en-US", { maximumFractionDigits: 12 })
    .replace("-", "−");
}

/** A span of time in ms below a second, in s above. */
export function saidTime(seconds: number): string {
  return Math.abs(seconds) < 0.9995 ? `${said(1000 * seconds)} ms` : `${said(seconds)} s`;
}

/** Names in a row: "a, b and c". */
export function listed(names: readonly string[]): string {
  return names.length < 2
    ? (names[0] ?? "")
    : `${names.slice(0, -1).join(", ")} and ${names[names.length - 1]}`;
}

/** Smallest and largest finite value, or nothing. */
export function endsOf(values: ArrayLike<number>): readonly [number, number] | undefined {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < values.length; i++) {
    if (values[i] < low) low = values[i];
    if (values[i] > high) high = values[i];
  }
  return low <= high && Number.isFinite(high - low) ? [low, high] : undefined;
}
