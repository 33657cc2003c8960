import { torqueSign } from "../../identify/commutation/torqueSign.js";
import type { Constants } from "../../identify/constants.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";
import type { LoopPlant, Quantity } from "../models/speedLoop.js";
import { estimatedBy as by, type Choice, given } from "./choice.js";
import type { LoopSettings } from "./settings.js";

/** The plant of a run, with what it is missing. */
export interface PlantOfRun {
  readonly plant?: LoopPlant;
  /** Only ratios to the torque constant are known: it is written as 1 (see `LoopPlant`). */
  readonly ratiosOnly: boolean;
  readonly missing: readonly string[];
}

const above = (q: Quantity | undefined): boolean =>
  q !== undefined && (typeof q === "number" ? q : q.value) > 0;

/** Inertia, torque constant, torque factor and friction: stated settings first, then estimates, then stated facts. */
export function plantOfRun(
  run: Run,
  constants: Constants,
  settings: LoopSettings,
  choice: Choice,
): PlantOfRun {
  const { machine } = run.recording;
  const { electrical, mechanical, ratios } = constants;
  const inertia = choice.quantity(
    "inertia",
    [settings.inertia, "given"],
    [mechanical.inertia, by(mechanical.inertia)],
    [machine.inertia, "stated"],
  );
  const torqueConstant = choice.quantity(
    "torqueConstant",
    [settings.torqueConstant, "given"],
    [machine.torqueConstant, "stated"],
    [electrical.torqueConstant, by(electrical.torqueConstant)],
  );
  if (inertia !== undefined && torqueConstant !== undefined && above(inertia) && above(torqueConstant))
    return {
      plant: wholePlant(run, constants, settings, choice, inertia, torqueConstant),
      ratiosOnly: false,
      missing: [],
    };
  if (ratios.inertiaOverTorqueConstant !== undefined && above(ratios.inertiaOverTorqueConstant))
    return { plant: plantOfRatios(run, constants, choice), ratiosOnly: true, missing: [] };
  return {
    ratiosOnly: false,
    missing: [
      ...(above(inertia)
        ? []
        : ["inertia: a torque trial or a coast-down that turns the shaft, or a stated value"]),
      ...(torqueConstant === undefined ? ["torque constant: dq voltages at speed, or a stated value"] : []),
    ],
  };
}

function wholePlant(
  run: Run,
  { electrical, mechanical, ratios }: Constants,
  settings: LoopSettings,
  choice: Choice,
  inertia: Quantity,
  torqueConstant: Quantity,
): LoopPlant {
  const { machine } = run.recording;
  let torqueGain = choice.quantity(
    "torqueGain",
    [settings.torqueGain, "given"],
    [electrical.torqueGain, by(electrical.torqueGain)],
  );
  if (torqueGain === undefined) {
    torqueGain = torqueSign(run);
    if (torqueGain !== undefined)
      choice.sources.torqueGain = "sign of the acceleration against the current; its size taken as 1";
  }
  return {
    inertia,
    torqueConstant,
    ...given("torqueGain", torqueGain),
    ...given(
      "viscousFriction",
      choice.quantity(
        "viscousFriction",
        [settings.viscousFriction, "given"],
        [mechanical.viscousFriction, by(mechanical.viscousFriction)],
        [machine.viscousFriction, "stated"],
      ),
    ),
    ...given(
      "coulombFriction",
      choice.quantity(
        "coulombFriction",
        [settings.coulombFriction, "given"],
        [mechanical.coulombFriction, by(mechanical.coulombFriction)],
        // Where the whole was not reported its ratios may have been: a coarse friction is nearer than none.
        [
          product(ratios.coulombOverTorqueConstant, torqueConstant),
          `${by(ratios.coulombOverTorqueConstant)}, times Kt`,
        ],
        [product(ratios.coulombOverInertia, inertia), `${by(ratios.coulombOverInertia)}, times J`],
        [machine.coulombFriction, "stated"],
      ),
    ),
    ...given(
      "staticFriction",
      choice.quantity(
        "staticFriction",
        [mechanical.staticFriction, by(mechanical.staticFriction)],
        [machine.staticFriction, "stated"],
      ),
    ),
    ...given(
      "stribeckSpeed",
      choice.quantity("stribeckSpeed", [mechanical.stribeckSpeed, by(mechanical.stribeckSpeed)]),
    ),
  };
}

function plantOfRatios(run: Run, { ratios }: Constants, choice: Choice): LoopPlant {
  const sign = torqueSign(run);
  choice.sources.inertia = `${by(ratios.inertiaOverTorqueConstant)}; divided by the torque constant, which is written as 1`;
  choice.sources.torqueConstant = "not known: ratios to it are used";
  if (sign !== undefined)
    choice.sources.torqueGain = "sign of the acceleration against the current; its size is in the ratios";
  return {
    inertia: ratios.inertiaOverTorqueConstant as Estimate,
    torqueConstant: 1,
    ...given("torqueGain", sign),
    ...given(
      "viscousFriction",
      choice.quantity("viscousFriction", [
        ratios.viscousOverTorqueConstant,
        by(ratios.viscousOverTorqueConstant),
      ]),
    ),
    ...given(
      "coulombFriction",
      choice.quantity("coulombFriction", [
        ratios.coulombOverTorqueConstant,
        by(ratios.coulombOverTorqueConstant),
      ]),
    ),
  };
}

/** A ratio times what it is a ratio to; the interval by both spreads as if independent. */
function product(ratio: Estimate | undefined, whole: Quantity): Estimate | undefined {
  if (ratio === undefined) return undefined;
  const [value, low, high] =
    typeof whole === "number" ? [whole, whole, whole] : [whole.value, whole.low, whole.high];
  const at = ratio.value * value;
  const half = (down: boolean): number =>
    Math.hypot(
      (down ? ratio.value - ratio.low : ratio.high - ratio.value) * value,
      (down ? value - low : high - value) * ratio.value,
    );
  return { ...ratio, value: at, low: at - half(true), high: at + half(false), unit: "N.m" };
}
