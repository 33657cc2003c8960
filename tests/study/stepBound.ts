/**
 * How often a step of the level from the last third on can be found at all when the scatter of the days has to be
 * learnt from the days: one batch, normal errors, a search for steps alone with the whole chance for itself. Mean and
 * squares of the days are complete and sufficient when nothing happens, so whatever holds its rate for every scatter of
 * the days holds it given them: a test by the ratio of squares (Lehmann and Romano 2005, Testing Statistical
 * Hypotheses, 4.3).
 *
 * `npx tsx tests/study/stepBound.ts <seed>` prints the part found for each fleet and size.
 */
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";

/** The largest ratio of what a step takes up to what it leaves, over all days it may begin on. */
function strongest(means: readonly number[]): number {
  const n = means.length;
  const mean = means.reduce((a, b) => a + b, 0) / n;
  const squares = means.reduce((sum, m) => sum + (m - mean) ** 2, 0);
  let [best, after] = [0, 0];
  for (let k = n - 1; k >= 2; k--) {
    after += means[k] - mean;
    if (k > n - 2) continue;
    const taken = (after * after * n) / (k * (n - k));
    best = Math.max(best, taken / (squares - taken));
  }
  return best;
}

const random = seededRandom(Number(process.argv[2] ?? 1));
for (const [motors, days] of [
  [30, 10],
  [100, 33],
]) {
  const dayOf = Array.from({ length: motors }, (_, i) => Math.floor((i * days) / motors));
  const count = Array.from({ length: days }, (_, d) => dayOf.filter((own) => own === d).length);
  const moved = count.map(
    (c, d) => dayOf.filter((own, i) => own === d && i >= Math.floor((motors * 2) / 3)).length / c,
  );
  const drawn = (size: number) =>
    strongest(count.map((c, d) => random.normal() / Math.sqrt(c) + size * moved[d]));
  const sound = Float64Array.from({ length: 100_000 }, () => drawn(0)).sort();
  const cut = sound[Math.floor(sound.length * (1 - 0.01 / 3))];
  const found = [1, 1.5, 2, 3, 4].map((size) => {
    let n = 0;
    for (let k = 0; k < 4000; k++) if (drawn(size) > cut) n++;
    return `${size}: ${(n / 40).toFixed(0)} %`;
  });
  console.log(`${motors} motors on ${days} days: ${found.join(", ")}`);
}
