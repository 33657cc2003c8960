/** What is fitted to step responses of many shapes, with much or little noise, in many or few rows, and what is known
 * beforehand; and the measures of what was not fitted. */
import type { IdentifyStepOptions } from "../../lib/identify/steps/curveStepFit.js";
import { fitStepResponse } from "../../lib/identify/steps/fitStepResponse.js";
import { identifyStep } from "../../lib/identify/steps/identifyStep.js";
import type { StepResponseOptions } from "../../lib/identify/steps/stepFitTypes.js";
import { stepMeasures } from "../../lib/identify/steps/stepMeasures.js";
import {
  bridgeSpikes,
  meanOf,
  noiseOf,
  quantisedMean,
  scatterOf,
} from "../../lib/identify/steps/stepNoise.js";
import { uniforms } from "../house/uniforms.js";
import { lettersByQuestion } from "./answerLines.js";
import type { Case } from "./cases.js";
import { bank } from "./inner.js";
import { inLetters } from "./routes.js";

/** Change by the step, `t` in s after it. */
const curves: Readonly<Record<string, (t: number) => number>> = {
  "first order": (t) => 1 - Math.exp(-t / 0.1),
  "first order, late": (t) => (t < 0.08 ? 0 : 1 - Math.exp(-(t - 0.08) / 0.15)),
  underdamped: (t) => 1 - Math.exp(-4 * t) * (Math.cos(20 * t) + 0.2 * Math.sin(20 * t)),
  "hardly damped": (t) => 1 - Math.exp(-0.5 * t) * Math.cos(30 * t),
  critical: (t) => 1 - (1 + 12 * t) * Math.exp(-12 * t),
  overdamped: (t) => 1 - 1.25 * Math.exp(-5 * t) + 0.25 * Math.exp(-25 * t),
  ramp: (t) => 3 * t,
  "ramp with a lag": (t) => 3 * (t - 0.05 * (1 - Math.exp(-t / 0.05))),
  "slew limited": (t) => Math.min(1, 4 * t),
  "with a zero": (t) => 1 - Math.exp(-9 * t) * (Math.cos(12 * t) - 1.5 * Math.sin(12 * t)),
  "stops at rest": (t) => Math.max(-1, -2.2 * t),
  drifting: (t) => 1 - Math.exp(-t / 0.05) + 0.5 * t,
  nothing: () => 0,
  "one leap": () => 1,
  growing: (t) => 0.05 * (Math.exp(4 * t) - 1),
};

interface Seen {
  readonly time: Float64Array;
  readonly values: Float64Array;
}
const made = (curve: (t: number) => number, rows: number, noise: number, grid = 0): Seen => {
  const random = uniforms(31);
  const time = Float64Array.from({ length: rows }, (_, k) => -0.2 + (1.2 * k) / rows);
  const values = time.map((t, k) => {
    const y =
      (t < 0 ? 0 : 5 * curve(t)) + 2 + noise * (random() + random() - 1) + (noise > 0 && k === 40 ? 4 : 0);
    return grid > 0 ? grid * Math.round(y / grid) : y;
  });
  return { time, values };
};
const records: readonly (readonly [string, number, number, number])[] = [
  ["plain", 240, 0.02, 0],
  ["noisy", 240, 0.8, 0],
  ["few rows", 18, 0.02, 0],
  ["coarse", 160, 0, 0.5],
];

const options: readonly StepResponseOptions[] = [
  { stepTime: 0 },
  { stepTime: 0, commandStep: 2, unit: "rad/s", commandUnit: "A", initial: 2 },
  { stepTime: 0, drift: true, level: 0.8 },
  { stepTime: 0, drift: false, dropSpikes: false, shapes: ["second-order", "first-order-dead-time"] },
  {},
];
const inputs: readonly IdentifyStepOptions[] = (["torque", "voltage", "speed", "position"] as const).map(
  (input, k) => ({
    input,
    stepTime: 0,
    commandStep: [5, -5, 2, 5][k],
    unit: "rad/s",
    commandUnit: "A",
    commandTo: [5, 0, 7, 7][k],
  }),
);

const said = (name: string, answer: () => string[]): Case => ({
  name: `responses: ${name}`,
  give: () => ({ recordings: [] }),
  answer: () => lettersByQuestion(answer()),
});
const tried = (name: string, ask: () => unknown): string[] => inLetters([[name, ask]]);

const ofCurves = Object.entries(curves).map(([name, curve], n) =>
  said(name, () =>
    records.flatMap(([kind, rows, noise, grid], k) => {
      const { time, values } = made(curve, rows, noise, grid);
      const at = (j: number): string => `${kind.replace(" ", "-")} ${j}`;
      const { fit: _, ...plain } = fitStepResponse(time, values, options[0]) as unknown as Record<
        string,
        unknown
      >;
      return [
        ...tried(at(0), () => plain),
        ...tried(at(1), () => fitStepResponse(time, values, options[1 + ((n + k) % (options.length - 1))])),
        ...tried(at(2), () => identifyStep(time, values, inputs[(n + k) % inputs.length])),
        ...tried(at(3), () => identifyStep(time, values, inputs[(n + k + 1) % inputs.length])),
        ...tried(at(4), () => stepMeasures(time, values, { stepTime: 0 })),
        ...tried(at(5), () =>
          stepMeasures(time, values, {
            stepTime: 0,
            initial: 2,
            final: 7,
            target: 7.5,
            endShare: 0.4,
            unit: "rad/s",
          }),
        ),
      ];
    }),
  ),
);

const ofNoise = said("noise of columns", () =>
  [...bank()].flatMap(([name, values]) => {
    const at = name.replaceAll(" ", "-");
    const whole = Float64Array.from(values, (v) => (Number.isNaN(v) ? 0 : v));
    const time = Float64Array.from(whole, (_, k) => 0.01 * k);
    const { noise, resolution } = noiseOf(whole);
    const bridged = Float64Array.from(whole);
    return [
      ...tried(`${at} noise`, () => [
        noise,
        resolution,
        bridgeSpikes(bridged, noise, resolution),
        ...bridged,
      ]),
      ...tried(`${at} mean`, () => ({
        mean: meanOf(whole),
        on: quantisedMean(whole, resolution),
        scatter: scatterOf(time, whole),
      })),
      ...[2, 3, 5, 7, 8, 9].flatMap((n) =>
        tried(`${at} short ${n}`, () => ({
          mean: meanOf(whole.subarray(0, n)),
          scatter: scatterOf(time.subarray(0, n), whole.subarray(0, n)),
        })),
      ),
      ...tried(`${at} measures`, () => stepMeasures(time, whole, { stepTime: 0.4 })),
    ];
  }),
);

/** All of them. */
export const responseCases: readonly Case[] = [...ofCurves, ofNoise];
