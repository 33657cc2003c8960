import { expect, test } from "vitest";
import { lagSums } from "../../lib/numeric/series/lagSums.js";

/** Sums of the closed form: a unit step through a lag is 1 - exp(-t/T), and what was there before fades as
 * exp(-t/T). */
function closedForm(time: Float64Array, output: Float64Array, timeConstant: number, from: number) {
  const sums = { xx: 0, xy: 0, yy: 0 };
  for (let i = 0; i < time.length; i += 1) {
    const fade = timeConstant > 0 ? Math.exp(-(time[i] - time[0]) / timeConstant) : 0;
    const risen =
      i < from ? 0 : timeConstant > 0 ? 1 - Math.exp(-(time[i] - time[from - 1]) / timeConstant) : 1;
    const rest = output[i] - output[0] * fade;
    sums.xx += risen * risen;
    sums.xy += risen * rest;
    sums.yy += rest * rest;
  }
  return sums;
}

/** To a thousand millionth: stamps far from zero are themselves rounded to some 1e-8 of their step. */
const close = (found: { xx: number; xy: number; yy: number }, wanted: typeof found): void => {
  for (const name of ["xx", "xy", "yy"] as const)
    expect(Math.abs(found[name] - wanted[name]), name).toBeLessThan(
      1e-9 * Math.max(1, Math.abs(wanted[name])),
    );
};

test.each([
  ["even stamps", (i: number) => 0.01 * i],
  ["stamps far from zero", (i: number) => 1e5 + 0.001 * i],
  ["uneven stamps", (i: number) => 0.01 * i + 0.004 * Math.sin(i)],
])("a step through a lag has the sums of its closed form, %s", (_, stamp) => {
  const time = Float64Array.from({ length: 400 }, (_, i) => stamp(i));
  const input = time.map((_, i) => (i < 100 ? 0 : 1));
  const output = time.map((_, i) => 2 + Math.cos(0.1 * i));
  const span = time[399] - time[0];
  const constants = [0, 1e-4 * span, 0.01 * span, 0.3 * span, 3 * span];
  const found = lagSums({ time, input, output }, 0, constants);
  constants.forEach((constant, k) => {
    close(found[k], closedForm(time, output, constant, 100));
  });
});

test("a dead time shifts the input to later rows", () => {
  const time = Float64Array.from({ length: 200 }, (_, i) => i);
  const output = time.map((t) => Math.sin(t));
  const early = time.map((t) => (t < 50 ? 0 : 1));
  const late = time.map((t) => (t < 57 ? 0 : 1));
  const [shifted] = lagSums({ time, input: early, output }, 7, [12]);
  const [held] = lagSums({ time, input: late, output }, 0, [12]);
  close(shifted, held);
  close(shifted, closedForm(time, output, 12, 57));
});
