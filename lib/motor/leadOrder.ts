import type { LeadOrder } from "./facts.js";

/**
 * `even` orders turn the field the same way as U-V-W, `odd` ones (two leads exchanged) the other way.
 *
 * @example
 * parity("VUW"); // => "odd"
 */
export function parity(order: LeadOrder): "even" | "odd" {
  return "UVWUV".includes(order) ? "even" : "odd";
}

/**
 * How the terminals' current vector stands on the winding: multiplied by `exp(j*shift)`, after conjugation for an odd
 * order. Electrical radians; a multiple of 2*pi/3.
 *
 * @example
 * windingShift("VWU"); // => 2.094 (2*pi/3: terminal 1 feeds lead V, whose axis stands 120 degrees ahead)
 */
export function windingShift(order: LeadOrder): number {
  const axis = { U: 0, V: (2 * Math.PI) / 3, W: (-2 * Math.PI) / 3 } as const;
  return axis[order[0] as "U" | "V" | "W"];
}

/**
 * The order after the leads on two drive terminals (1 to 3) have been exchanged.
 *
 * @example
 * exchangeTerminals("UVW", 1, 2); // => "VUW"
 */
export function exchangeTerminals(order: LeadOrder, a: 1 | 2 | 3, b: 1 | 2 | 3): LeadOrder {
  const leads = [...order];
  [leads[a - 1], leads[b - 1]] = [leads[b - 1], leads[a - 1]];
  return leads.join("") as LeadOrder;
}

/**
 * The order after two leads, wherever they sit, have been exchanged.
 *
 * @example
 * exchangeLeads("VWU", "U", "V"); // => "UWV"
 */
export function exchangeLeads(order: LeadOrder, a: "U" | "V" | "W", b: "U" | "V" | "W"): LeadOrder {
  return [...order].map((lead) => (lead === a ? b : lead === b ? a : lead)).join("") as LeadOrder;
}

/**
 * The six orders as a group: what results when leads in order `first` are moved between the terminals as `then` says
 * (`then` = "VWU": terminal 1 takes what sat on terminal 2, 2 what sat on 3, 3 what sat on 1). "UVW" changes nothing.
 *
 * @example
 * composeOrders("VWU", "VWU"); // => "WUV"
 */
export function composeOrders(first: LeadOrder, then: LeadOrder): LeadOrder {
  return [...then].map((lead) => first["UVW".indexOf(lead)]).join("") as LeadOrder;
}

/**
 * The order that undoes another: `composeOrders(order, inverseOrder(order))` is "UVW".
 *
 * @example
 * inverseOrder("VWU"); // => "WUV"
 */
export function inverseOrder(order: LeadOrder): LeadOrder {
  return [..."UVW"].map((lead) => "UVW"[order.indexOf(lead)]).join("") as LeadOrder;
}

/**
 * Pairs of terminals to exchange, one after the other, to get from one order to another: none, one or two exchanges.
 *
 * @example
 * exchangesBetween("UVW", "VWU"); // => [[1, 2], [2, 3]]
 */
export function exchangesBetween(
  from: LeadOrder,
  to: LeadOrder,
): readonly (readonly [1 | 2 | 3, 1 | 2 | 3])[] {
  const exchanges: (readonly [1 | 2 | 3, 1 | 2 | 3])[] = [];
  let now = from;
  for (const terminal of [1, 2] as const) {
    const other = (now.indexOf(to[terminal - 1]) + 1) as 1 | 2 | 3;
    if (other === terminal) continue;
    exchanges.push([terminal, other]);
    now = exchangeTerminals(now, terminal, other);
  }
  return exchanges;
}
