import type { Quantity } from "./roles.js";

/** Codes whose quantity is remembered: each is asked for under every role of every column. */
const mostKnown = 256;
const known = new Map<string, Quantity | "angle" | undefined>();

/** Quantity of a unit, as far as motor logs go. */
export function dimension(code: string): Quantity | "angle" | undefined {
  if (known.has(code)) return known.get(code);
  const found = quantityOf(code);
  if (known.size >= mostKnown) known.clear();
  known.set(code, found);
  return found;
}

function quantityOf(code: string): Quantity | "angle" | undefined {
  if (/^[mukcd]?A$/.test(code)) return "current";
  if (/^[mkucd]?V$/.test(code)) return "voltage";
  if (/^([dcmu]?rad|deg|circ|\{rev\}|k\{rev\}|\{count\})\/(s|min)$/.test(code) || /^k?Hz$/.test(code))
    return "speed";
  if (/^([dcmu]?rad|deg|circ|\{rev\}|')$/.test(code)) return "angle";
  if (isAcceleration(code)) return "acceleration";
  if (/N\.c?m|gf\.|lbf|\[oz/.test(code)) return "torque";
  if (/^([mun]?s|min|h)$/.test(code)) return "time";
  if (/^(Cel|K|\[degF\])$/.test(code)) return "temperature";
  return undefined;
}

/** A unit of acceleration: of a shaft, or of what it moves. */
export function isAcceleration(code: string): boolean {
  return /\/(s2|min\/s)$/.test(code) || code === "[g]" || code === "m[g]";
}

/** True for a unit in which a quantity of a winding is logged, and where none is said. */
export function ofWinding(code: string | undefined): boolean {
  const quantity = code === undefined ? "current" : dimension(code);
  return quantity === "current" || quantity === "voltage" || /^(\{count\}|%|\[ppth\]|1)$/.test(code ?? "");
}
