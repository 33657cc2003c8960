/**
 * How often the life part says of sound Weibull lives that the model does not fit or that two modes show, and of lives
 * of two modes that they do. `npx tsx tests/study/lifeChecks.ts <tables> <seed>` prints a Markdown table.
 */
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { goodnessOfFit } from "../../lib/study/life/goodnessOfFit.js";
import { isUndetermined, type Life } from "../../lib/study/life/lifeData.js";
import { fitLife } from "../../lib/study/life/lifeModel.js";
import { twoModes } from "../../lib/study/life/twoModes.js";

/** Lives of one mode (Weibull shape 2, characteristic life 1000), or a third of them of an early mode (shape
 * 1, 100). */
export function madeLives(units: number, kind: Kind, random: () => number): Life[] {
  return Array.from({ length: units }, (_, i): Life => {
    const early = kind.early && i % 3 === 0;
    const time = (early ? 100 : 1000) * (-Math.log(random())) ** (1 / (early ? 1 : 2));
    if (kind.looks > 0) {
      const look = Math.floor(time / kind.looks) * kind.looks;
      return look >= 900 ? { after: 900, by: Infinity } : { after: look, by: look + kind.looks };
    }
    // Half of what lives long is still running.
    const end = kind.censored ? 600 + 600 * random() : Infinity;
    return time <= end ? { after: time, by: time } : { after: end, by: Infinity };
  });
}

export interface Kind {
  readonly early: boolean;
  readonly censored: boolean;
  /** Time between looks; 0: times are known. */
  readonly looks: number;
}

if (process.argv[1]?.endsWith("lifeChecks.ts")) {
  const [tables, seed] = process.argv.slice(2).map(Number);
  const random = seededRandom(seed);
  const uniform = () => random.uniform() + 2 ** -33;
  console.log("| units | lives | said not to fit at 1 %, 5 % | two modes noticed |\n|---|---|---|---|");
  for (const early of [false, true])
    for (const [censored, looks] of [
      [false, 0],
      [true, 0],
      [true, 100],
    ] as const)
      for (const units of [20, 50, 200]) {
        let [at1, at5, modes, n] = [0, 0, 0, 0];
        for (let k = 0; k < tables; k++) {
          const lives = madeLives(units, { early, censored, looks }, uniform);
          const model = fitLife("weibull", lives, { intervals: "none" });
          if (isUndetermined(model)) continue;
          const fit = goodnessOfFit(lives, model);
          const two = twoModes(lives);
          if (isUndetermined(fit) || isUndetermined(two)) continue;
          n++;
          if (fit.p < 0.01) at1++;
          if (fit.p < 0.05) at5++;
          if (two.noticed) modes++;
        }
        const kind = `${early ? "a third early" : "one mode"}, ${looks > 0 ? "looks every 100 to 900" : censored ? "some running" : "all failed"}`;
        const percent = (c: number) => ((100 * c) / n).toFixed(1);
        console.log(`| ${units} | ${kind} | ${percent(at1)}, ${percent(at5)} | ${percent(modes)} |`);
      }
}
