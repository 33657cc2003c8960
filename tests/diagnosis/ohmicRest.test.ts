import { expect, test } from "vitest";
import { turnsUnseen } from "../../lib/diagnosis/ohmicRest.js";
import { seeded } from "./secondBench.js";

const n = 2000;
const period = 1e-3;
const chirp = Float64Array.from(
  { length: n },
  (_, i) => 12 * Math.sin(2 * Math.PI * (1 + 3 * (i / n)) * (i / n) * 6),
);
const steps = Float64Array.from({ length: n }, (_, i) => (i < 1000 ? 12 : -12));

/** Current of a winding of 2 ohm and 2 mH with a motor of this mechanical time constant behind it (Euler steps of a
 * twentieth of a row: u = R i + L di/dt + K w, J dw/dt = K i); noise of 30 mA. */
function drawn(voltage: Float64Array, timeConstant: number, seed: number): Float64Array {
  const [resistance, inductance, constant] = [2, 2e-3, 0.05];
  const inertia = (timeConstant * constant ** 2) / resistance;
  const random = seeded(seed);
  let [i, w] = [0, 0];
  return voltage.map((u) => {
    for (let k = 0; k < 20; k += 1) {
      i += ((u - resistance * i - constant * w) / inductance) * (period / 20);
      w += ((constant * i) / inertia) * (period / 20);
    }
    return i + 0.03 * (random() + random() + random() - 1.5);
  });
}

test.each([
  ["a chirp", chirp],
  ["steps", steps],
  ["one step", Float64Array.from({ length: n }, () => 12)],
])("the current of a winding at rest leaves no room for a shaft that turns: %s", (_, voltage) => {
  const held = drawn(voltage, 1e9, 3);
  expect(turnsUnseen(voltage, held, period)).toBeLessThan(0.01);
  // Whichever way the sensor counts, and in whatever unit.
  const other = held.map((v) => -1000 * v);
  expect(turnsUnseen(voltage, other, period)).toBeLessThan(0.01);
});

test.each([0.01, 0.05, 0.2])(
  "that of a motor with a mechanical time constant of %d s does",
  (timeConstant) => {
    for (const voltage of [chirp, steps])
      expect(turnsUnseen(voltage, drawn(voltage, timeConstant, 4), period) ?? 1).toBeGreaterThan(0.1);
  },
);

test("a current that is not that of its voltage tells nothing", () => {
  const random = seeded(5);
  expect(
    turnsUnseen(
      steps,
      steps.map(() => random()),
      period,
    ),
  ).toBeUndefined();
  expect(turnsUnseen(steps, new Float64Array(n), period)).toBeUndefined();
  expect(turnsUnseen(steps.subarray(0, 30), steps.subarray(0, 30), period)).toBeUndefined();
});
