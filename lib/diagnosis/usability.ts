import type { OrderingVerdict } from "./types.js";

/** Probability that an order holds speed from which one that is not kept yet is no order to be given up. */
const likely = 0.5;

/**
 * Whether an order can be used as it stands, in a word: an order that turns with its command and most likely holds
 * speed is not known to be usable, where the evidence is too little to keep it; that is no "no".
 *
 * @example
 * usability({ ordering: "UVW", verdict: "tracking", usable: false, reason: "", probability: 0.96 }); // => "not known"
 */
export function usability({ usable, verdict, probability = 1 }: OrderingVerdict): "yes" | "no" | "not known" {
  if (usable) return "yes";
  return verdict === "undetermined" || (verdict === "tracking" && probability > likely) ? "not known" : "no";
}
