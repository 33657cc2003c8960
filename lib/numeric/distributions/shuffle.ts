import type { SeededRandom } from "./seededRandom.js";

/** Puts numbers in a random order, in place (Fisher and Yates): every order is as likely as any other. */
export function shuffle(list: Float64Array | Int32Array | number[], random: SeededRandom): void {
  for (let i = list.length - 1; i > 0; i--) {
    const j = Math.floor(random.uniform() * (i + 1));
    const held = list[i];
    list[i] = list[j];
    list[j] = held;
  }
}
