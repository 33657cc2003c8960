import type { LeadOrder } from "./facts.js";

/** `even` orders turn the field the same way as U-V-W, `odd` ones (two leads exchanged) the other way. */
export function parity(order: LeadOrder): "even" | "odd" {
  return "UVWUV".includes(order) ? "even" : "odd";
}

/**
 * How the terminals' current vector stands on the winding: multiplied by `exp(j*shift)`, after conjugation for an odd order.
 * Electrical radians; a multiple of 2*pi/3.
 *
 * @example
 * windingShift("VWU"); // +2*pi/3: terminal 1 feeds lead V, whose axis stands 120 degrees ahead
 */
export function windingShift(order: LeadOrder): number {
  const axis = { U: 0, V: (2 * Math.PI) / 3, W: (-2 * Math.PI) / 3 } as const;
  return axis[order[0] as "U" | "V" | "W"];
}

/** The order after the leads on two drive terminals (1 to 3) have been exchanged. */
export function exchangeTerminals(order: LeadOrder, a: 1 | 2 | 3, b: 1 | 2 | 3): LeadOrder {
  const leads = [...order];
  [leads[a - 1], leads[b - 1]] = [leads[b - 1], leads[a - 1]];
  return leads.join("") as LeadOrder;
}
