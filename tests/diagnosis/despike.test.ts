import { expect, test } from "vitest";
import { despiked } from "../../lib/run/despike.js";
import { uniforms } from "../house/uniforms.js";

/** Normal deviates after Box and Muller (1958). */
function noise(seed: number, n: number): Float64Array {
  const next = uniforms(seed);
  return Float64Array.from(
    { length: n },
    () => Math.sqrt(-2 * Math.log(next() + 1e-12)) * Math.cos(2 * Math.PI * next()),
  );
}

test.each(["smooth", "jumping"] as const)("noise of several steps has no spikes (%s)", (kind) => {
  const step = 0.2;
  for (let seed = 1; seed <= 20; seed += 1) {
    const speed = noise(seed, 500).map((v, i) => Math.round((v + 0.3 * i) / step) * step);
    expect(despiked(speed, kind, step).spikes).toBe(0);
  }
});

test.each(["smooth", "jumping"] as const)("a single row far off in that noise is one (%s)", (kind) => {
  for (let seed = 1; seed <= 20; seed += 1) {
    const speed = noise(seed, 500);
    speed[250] += 25;
    expect(despiked(speed, kind, 0.2).spikes).toBe(1);
  }
});
