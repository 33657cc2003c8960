import { expect, test } from "vitest";
import { studentT } from "../../lib/numeric/distributions/distributions.js";
import { smallestFound } from "../../lib/numeric/distributions/smallestFound.js";

// R 4: power.t.test(n = n, sd = 1, sig.level = 0.01, power = 0.9, type = "one.sample")$delta * sqrt(n)
test.each([
  [3, 15.179114],
  [5, 6.768718],
  [30, 4.095542],
])(
  "a t test of %i values finds an effect of that many standard errors nine times out of ten",
  (n, effect) => {
    expect(smallestFound(studentT.quantile(0.995, n - 1), n - 1) / effect).toBeCloseTo(1, 3);
  },
);

test("R: two samples of eight, at one in a thousand", () => {
  // power.t.test(n = 8, sd = 1, sig.level = 0.001, power = 0.9)$delta * sqrt(8 / 2)
  expect(smallestFound(studentT.quantile(0.9995, 14), 14) / 5.695123).toBeCloseTo(1, 3);
});

test("of two values only how large the error comes out counts", () => {
  // R's noncentral t is an approximation that far out (its help: ncp above 37.62). By hand: the limit times the root of
  // the 90 % quantile of chi-square with one degree of freedom, 2.7055 (handbook tables).
  const critical = studentT.quantile(0.995, 1);
  expect(smallestFound(critical, 1) / (critical * Math.sqrt(2.7055))).toBeCloseTo(1, 3);
});
