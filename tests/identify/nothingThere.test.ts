import fc from "fast-check";
import { expect, test } from "vitest";
import { loopFromRun } from "../../lib/control/index.js";
import { isSigned } from "../../lib/identify/bounds.js";
import { constantsOf, stepsOf } from "../../lib/identify/index.js";
import type { ChannelRole, Recording } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { uniforms } from "../house/uniforms.js";
import { normalFrom } from "./testBench.js";

// Records in which nothing happens that a constant could be read from: the tool must say so, and nothing downstream may
// use a number of theirs.

const roles: readonly ChannelRole[] = [
  "currentCommand",
  "current",
  "torqueCommand",
  "torque",
  "voltageCommand",
  "duty",
  "speedCommand",
  "voltageQ",
  "voltageD",
  "currentD",
];

type Shape = "zero" | "constant" | "noise" | "quantised noise" | "steps";

interface Made {
  readonly shapes: Readonly<Partial<Record<ChannelRole, Shape>>>;
  readonly motion: "still" | "still with noise" | "still by counts" | "speed noise";
  readonly seed: number;
  readonly rows: number;
}

/** Columns that have nothing to do with each other, over a shaft that stands. */
function recordingOf({ shapes, motion, seed, rows }: Made): Recording {
  const normal = normalFrom(uniforms(seed));
  const time = Float64Array.from({ length: rows }, (_, k) => k * 2e-3);
  const column = (shape: Shape): Float64Array =>
    time.map((_, k) => {
      if (shape === "zero") return 0;
      if (shape === "constant") return 1.5;
      if (shape === "noise") return normal();
      if (shape === "quantised noise") return Math.round(2 * normal()) / 4;
      return [0, 2, -2, 1, 0][Math.floor((5 * k) / rows)];
    });
  const data: Partial<Record<ChannelRole, Float64Array>> = {};
  for (const [role, shape] of Object.entries(shapes)) data[role as ChannelRole] = column(shape);
  const count = (2 * Math.PI) / 4096;
  if (motion === "still") data.position = time.map(() => 0.7);
  if (motion === "still with noise") data.position = time.map(() => 0.7 + 1e-4 * normal());
  if (motion === "still by counts") data.position = time.map(() => count * Math.round(100 + 0.4 * normal()));
  if (motion === "speed noise") data.speed = time.map(() => normal());
  return {
    path: "nothing",
    time,
    channels: Object.fromEntries(
      Object.entries(data).map(([role, values]) => [
        role,
        { role, name: role, sourceUnit: "1", recognisedBy: "test", data: values },
      ]),
    ),
    machine: { polePairs: 4 },
    drive: { busVoltage: 24 },
    encoder: {},
    findings: [],
  };
}

const made = fc.record({
  shapes: fc
    .uniqueArray(
      fc.tuple(
        fc.constantFrom(...roles),
        fc.constantFrom<Shape>("zero", "constant", "noise", "quantised noise", "steps"),
      ),
      {
        selector: ([role]) => role,
        minLength: 1,
        maxLength: 5,
      },
    )
    .map((pairs) => Object.fromEntries(pairs) as Made["shapes"]),
  motion: fc.constantFrom<Made["motion"]>("still", "still with noise", "still by counts", "speed noise"),
  seed: fc.integer({ min: 31_000_001, max: 31_999_999 }),
  rows: fc.constantFrom(40, 400, 1500),
});

/** Constants that say something of a motion: none may come of a shaft that stands. */
const ofMotion =
  /nertia|riction|viscous|coulomb|drag|gravity|speedPer|speedTime|speedDead|deadBand|kv|backEmf|fluxLinkage|armatureConstant|stribeck|mechanicalTime|offsetError|torqueGain|noLoad/i;

test("records in which nothing moves give no constant of motion, no step response, no loop; whatever is given lies within its bounds", () => {
  fc.assert(
    fc.property(made, (m) => {
      const run = runOf(recordingOf(m));
      const constants = constantsOf(run);
      for (const { quantity, estimate } of constants.routes) {
        expect(Number.isFinite(estimate.high - estimate.low)).toBe(true);
        expect(estimate.low).toBeLessThanOrEqual(estimate.value);
        expect(estimate.value).toBeLessThanOrEqual(estimate.high);
        if (!isSigned(quantity)) expect(estimate.low, quantity).toBeGreaterThanOrEqual(0);
        expect(ofMotion.test(quantity), `${quantity} of a shaft that stands`).toBe(false);
      }
      for (const { fit } of stepsOf(run)) {
        expect(fit.determined, `${fit.model} of a response that is none`).toBe(false);
        expect(fit.missing).toBeDefined();
        // Nothing downstream can read a number from it.
        for (const value of [
          fit.gain,
          fit.timeConstant,
          fit.rate,
          fit.naturalFrequency,
          fit.zeroTime,
          fit.final,
        ])
          expect(value).toBeUndefined();
      }
      expect(loopFromRun(run).loop).toBeUndefined();
    }),
    { numRuns: Number(process.env.PROPERTY_RUNS ?? 60), seed: 31_000_001 },
  );
});
