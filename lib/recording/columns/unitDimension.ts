import { Kept } from "./kept.js";
import type { Quantity } from "./roles.js";

/** Quantities of codes: each is asked for under every role of every column. */
const known = new Kept<Quantity | "angle" | undefined>(256);

/** Quantity of a unit, as far as motor logs go. */
export function dimension(code: string): Quantity | "angle" | undefined {
  return known.of(code, quantityOf);
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
