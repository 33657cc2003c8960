import { expect, test } from "vitest";
import { goodnessOfFit } from "../../../lib/study/life/goodnessOfFit.js";
import { isUndetermined, type Life } from "../../../lib/study/life/lifeData.js";
import { fitLife } from "../../../lib/study/life/lifeModel.js";
import reference from "./reference.json" with { type: "json" };

// The score test of Bagdonavicius and Nikulin (2011) by R's survreg and numerical derivatives (reference.R), for data
// sets of R's package survival with units that were still alive.
test.each(reference.fit)(
  "whether a Weibull life fits $name agrees with R",
  ({ time, failed, statistic, df, p }) => {
    const lives = time.map((t, i): Life => ({ after: t, by: failed[i] === 1 ? t : Infinity }));
    const model = fitLife("weibull", lives, { intervals: "none" });
    if (isUndetermined(model)) throw new Error(model.undetermined);
    const fit = goodnessOfFit(lives, model);
    if (isUndetermined(fit)) throw new Error(fit.undetermined);
    expect(fit.df).toBe(df);
    expect(Math.abs(fit.statistic / statistic - 1)).toBeLessThan(1e-5);
    expect(Math.abs(fit.p / p - 1)).toBeLessThan(1e-5);
    // Failures expected in all stretches together are those that were seen (the score of the location is zero).
    const { stretches } = fit;
    const expected = stretches.reduce((total, one) => total + one.expected, 0);
    const observed = stretches.reduce((total, one) => total + one.observed, 0);
    expect(expected).toBeCloseTo(observed, 3);
  },
);
