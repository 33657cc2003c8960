import type { Axis, Quantity, Side } from "./roles.js";
import type { SymbolMeaning } from "./tables/symbols.js";

/** What the words of a heading say of set or actual value and of the axis: for any quantity, or for one. */
export class MarksOfName {
  private readonly said: { readonly alternative: SymbolMeaning; readonly weight: number }[] = [];

  /** Something is said of set or actual value. */
  any(): boolean {
    return this.said.some((s) => s.alternative.side !== undefined);
  }

  add(alternative: SymbolMeaning, weight: number): void {
    if (alternative.side !== undefined || alternative.axis !== undefined)
      this.said.push({ alternative, weight });
  }

  /** The side that is said, of whatever quantity, where only one is. */
  side(): Side | undefined {
    const sides = new Set(this.said.flatMap((s) => s.alternative.side ?? []));
    return sides.size === 1 ? [...sides][0] : undefined;
  }

  sides(quantity: Quantity): { command: number; measured: number } {
    const out = { command: 0, measured: 0 };
    for (const { alternative: a, weight } of this.said) {
      if (a.side === undefined || (a.quantity !== undefined && a.quantity !== quantity)) continue;
      out[a.side] = Math.max(out[a.side], weight);
    }
    return out;
  }

  axes(quantity: Quantity): ReadonlyMap<Axis, number> {
    const out = new Map<Axis, number>();
    for (const { alternative: a, weight } of this.said) {
      if (a.axis === undefined || (a.quantity !== undefined && a.quantity !== quantity)) continue;
      out.set(a.axis, Math.max(out.get(a.axis) ?? 0, weight));
    }
    return out;
  }
}
