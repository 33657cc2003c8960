import { expect, test } from "vitest";
import { isUndetermined } from "../../../lib/study/life/lifeData.js";
import { mixedSlopes } from "../../../lib/study/population/mixedSlopes.js";
import { remainingLife } from "../../../lib/study/population/remainingLife.js";
import reference from "./reference.json" with { type: "json" };

/**
 * Increase of the operating current of 15 GaAs lasers at 80 degrees Celsius, percent, every 250 h up to 4,000 h
 * (Meeker, W. Q. and Escobar, L. A. (1998), Statistical Methods for Reliability Data, table C.17; from memory).
 */
const lasers = [
  [0.47, 0.93, 2.11, 2.72, 3.51, 4.34, 4.91, 5.48, 5.99, 6.72, 7.13, 8.0, 8.92, 9.49, 9.87, 10.94],
  [0.71, 1.22, 1.9, 2.3, 2.87, 3.75, 4.42, 4.99, 5.51, 6.07, 6.64, 7.16, 7.78, 8.42, 8.91, 9.28],
  [0.71, 1.17, 1.73, 1.99, 2.53, 2.97, 3.3, 3.94, 4.16, 4.45, 4.89, 5.27, 5.69, 6.02, 6.45, 6.88],
  [0.36, 0.62, 1.36, 1.95, 2.3, 2.95, 3.39, 3.79, 4.11, 4.5, 4.72, 4.98, 5.28, 5.61, 5.95, 6.14],
  [0.27, 0.61, 1.11, 1.77, 2.06, 2.58, 2.99, 3.38, 4.05, 4.63, 5.24, 5.62, 6.04, 6.32, 7.1, 7.59],
  [0.36, 1.39, 1.95, 2.86, 3.46, 3.81, 4.53, 5.35, 5.92, 6.71, 7.7, 8.61, 9.15, 9.95, 10.49, 11.01],
  [0.36, 0.92, 1.21, 1.46, 1.93, 2.39, 2.68, 2.94, 3.42, 4.09, 4.58, 4.84, 5.11, 5.57, 6.11, 7.17],
  [0.46, 1.07, 1.42, 1.77, 2.11, 2.4, 2.78, 3.02, 3.29, 3.75, 4.16, 4.76, 5.16, 5.46, 5.81, 6.24],
  [0.51, 0.93, 1.57, 1.96, 2.59, 3.29, 3.61, 4.11, 4.6, 4.91, 5.34, 5.84, 6.4, 6.84, 7.2, 7.88],
  [0.41, 1.49, 2.38, 3.0, 3.84, 4.5, 5.25, 6.26, 7.05, 7.8, 8.32, 8.93, 9.55, 10.45, 11.28, 12.21],
  [0.44, 1.0, 1.57, 1.96, 2.51, 2.84, 3.47, 4.01, 4.51, 4.8, 5.2, 5.66, 6.2, 6.54, 6.96, 7.42],
  [0.39, 0.8, 1.35, 1.74, 2.98, 3.59, 4.03, 4.44, 4.79, 5.22, 5.48, 5.96, 6.23, 6.99, 7.37, 7.88],
  [0.3, 0.74, 1.52, 1.85, 2.39, 2.95, 3.51, 3.92, 5.03, 5.47, 5.84, 6.5, 6.94, 7.39, 7.85, 8.09],
  [0.44, 0.7, 1.05, 1.35, 1.8, 2.55, 2.83, 3.39, 3.72, 4.09, 4.83, 5.41, 5.76, 6.14, 6.51, 6.88],
  [0.51, 0.83, 1.29, 1.52, 1.91, 2.27, 2.78, 3.42, 3.78, 4.11, 4.38, 4.63, 5.38, 5.84, 6.16, 6.62],
];
/** Published pseudo failure times at an increase of 10 %, h (the same book, chapter 13; from memory). */
const published = [3702, 4194, 5847, 6172, 5301, 3592, 6051, 6538, 5110, 3306, 5326, 4995, 4721, 5689, 6102];
const runs = lasers.flatMap((increase, i) =>
  increase.map((value, k) => ({ motor: `laser ${i + 1}`, time: 250 * (k + 1), value })),
);

test("laser degradation of Meeker and Escobar: every path reaches 10 % within half a percent of the published time", () => {
  const { motors } = mixedSlopes(runs);
  motors.forEach(({ level, slope }, i) => {
    expect(Math.abs((10 - level) / slope / published[i] - 1)).toBeLessThan(0.005);
  });
});

test("laser degradation: the three that failed are beyond the limit, the published times of the others lie in the intervals", () => {
  const life = remainingLife(runs, 10, "upper", { unit: "%", timeUnit: "h" });
  if (isUndetermined(life)) throw new Error(life.undetermined);
  life.motors.forEach((laser, i) => {
    const left = published[i] - 4000;
    if (left < 0) expect(laser.beyond).toBeGreaterThan(0.95);
    else {
      expect(laser.remaining.low).toBeLessThan(left);
      expect(laser.remaining.high).toBeGreaterThan(left);
    }
  });
  // The middle of 15 published times is the 8th, 5301 h: inside the interval of the fleet's half.
  const half = life.fleet.find((f) => f.share === 0.5)!.time;
  expect(half.low).toBeLessThan(5301);
  expect(half.high).toBeGreaterThan(5301);
});

test("mixed-effects slopes agree with lme4 (sleepstudy): levels, slopes, deviations, correlation and every subject's own line", () => {
  const { sleepstudy: r } = reference;
  const fit = mixedSlopes(r.reaction.map((value, i) => ({ motor: r.subject[i], time: r.days[i], value })));
  expect(fit.fixed[0]).toBeCloseTo(r.fixed[0], 3);
  expect(fit.fixed[1]).toBeCloseTo(r.fixed[1], 3);
  expect(Math.sqrt(fit.between.level)).toBeCloseTo(r.sd[0], 1);
  expect(Math.sqrt(fit.between.slope)).toBeCloseTo(r.sd[1], 2);
  expect(fit.between.both / Math.sqrt(fit.between.level * fit.between.slope)).toBeCloseTo(r.correlation, 2);
  expect(fit.residual).toBeCloseTo(r.residual, 2);
  for (const [k, subject] of r.names.entries()) {
    const own = fit.motors.find((m) => m.motor === subject)!;
    expect(own.level).toBeCloseTo(r.levels[k], 0);
    expect(own.slope).toBeCloseTo(r.slopes[k], 1);
  }
});
