import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";
import type { Constants } from "../constants.js";
import { constantsOf } from "../estimateConstants.js";
import { combined } from "../quantity.js";
import { type StepOfTrial, stepsOfTrial } from "../steps/fitSteps.js";
import { type GainIdentification, identifyGains } from "./identifyGains.js";

/** Least fraction of a step response that the model with a zero must explain before gains are read from it. */
const leastExplained = 0.95;

/**
 * Gains of a speed loop from its step responses where no current command was logged: a PI controller on an inertia
 * makes a second order with a zero,
 *
 *     w/ref = (b*kp*s + ki) / ((J/Kt)*s^2 + (kp + B/Kt)*s + ki)
 *
 * so that natural frequency, damping and zero give `ki = (J/Kt)*wn^2`, `kp = 2*zeta*wn*(J/Kt) - B/Kt`, and the
 * reference weight `b = ki*Tz/kp` (Astrom and Hagglund, Advanced PID Control, 2006,
 * section 4.4 and the algebra of the loop above). The machine must be known: J/Kt, or J and Kt. Delays and filters of
 * the loop are not in the model: where they are not short beside the response the damping
 * is not that of kp; then b comes out of its range and the gains are withheld.
 *
 * @param constants other constants than the run's own
 * @returns `missing` where there is no such response, or the machine is not known
 * @example
 * const { kp, ki } = gainsFromSteps(run, trial);
 * ki?.value; // A/rad
 */
export function gainsFromSteps(
  run: Run,
  trial: Trial,
  constants: Constants = constantsOf(run),
): GainIdentification {
  const none = (missing: string): GainIdentification => ({
    rows: 0,
    saturatedShare: 0,
    missing,
    findings: [],
  });
  const inertia = inertiaOverKt(run, constants);
  if (inertia === undefined)
    return none("the machine: J/Kt from a current logged beside the motion, or J and Kt stated");
  const friction = constants.ratios.viscousOverTorqueConstant;
  const found = stepsOfTrial(run, trial)
    .filter((s) => s.trial === "speed")
    .map((s) => gainsOfStep(s, inertia, friction, run.interval))
    .filter((g) => g !== undefined);
  if (found.length === 0) return none("a step of the reference whose response is a second order with a zero");
  const width = (g: StepGains): number => (g.kp.high - g.kp.low) / g.kp.value;
  const { kp, ki, weight, step } = found.reduce((a, b) => (width(b) < width(a) ? b : a));
  const apart = found.some(
    (g) => g.kp.high < kp.low || g.kp.low > kp.high || g.ki.high < ki.low || g.ki.low > ki.high,
  );
  if (apart) return none("steps that agree: those of this trial give different gains");
  return {
    kp,
    ki,
    referenceWeight: weight,
    explained: step.fit.explained ?? 1,
    rows: kp.samples ?? 0,
    saturatedShare: 0,
    findings: [],
  };
}

/**
 * Gains in use in a speed trial: by regression of the current command where one was logged, else from the step
 * responses and the machine.
 *
 * @example
 * gainsOfTrial(run, trial).kp?.value; // A per rad/s
 */
export function gainsOfTrial(run: Run, trial: Trial): GainIdentification {
  const regression = inRange(identifyGains(run, trial));
  if (regression.kp !== undefined || run.channel("currentCommand") !== undefined) return regression;
  const steps = inRange(
    run.once(`gains by steps ${trial.from} ${trial.to}`, () => gainsFromSteps(run, trial)),
  );
  return steps.kp !== undefined
    ? steps
    : { ...regression, missing: `${regression.missing}; from step responses: ${steps.missing}` };
}

/** The gains, or that they are none: values at the end of the range of a number (1e300) leave sums that are no
 * numbers. */
function inRange(found: GainIdentification): GainIdentification {
  const { kp, ki, rows, saturatedShare, findings } = found;
  if ([kp, ki].every((gain) => gain === undefined || Number.isFinite(gain.value))) return found;
  return { rows, saturatedShare, findings, missing: "values small enough to reckon with" };
}

interface StepGains {
  readonly kp: Estimate;
  readonly ki: Estimate;
  readonly weight: Estimate;
  readonly step: StepOfTrial;
}

function gainsOfStep(
  step: StepOfTrial,
  inertia: Estimate,
  friction: Estimate | undefined,
  interval: number,
): StepGains | undefined {
  const { fit } = step;
  const { naturalFrequency: wn, dampingRatio: zeta } = fit;
  // The reference stepped somewhere between two rows.
  const zeroTime = fit.zeroTime && {
    ...fit.zeroTime,
    low: fit.zeroTime.low - interval / 2,
    high: fit.zeroTime.high + interval / 2,
  };
  if (!fit.determined || fit.model !== "second-order-zero" || !(fit.explained! >= leastExplained)) return;
  if (wn === undefined || zeta === undefined || zeroTime === undefined) return;
  const labels = (unit: string) => ({
    unit,
    method: `speed step at ${Number(step.time.toPrecision(4))} s as a second order with a zero, and J/Kt (${inertia.method})`,
    convention: "parallel form, A peak per rad/s of the shaft; no delay in the loop",
    samples: fit.fit?.count ?? 0,
    channels: [step.command, step.response],
  });
  const square = combined(wn, wn, "times", labels("s-2"));
  const ki = combined(inertia, doubled(square, wn), "times", labels("A/rad"));
  const rate = combined(zeta, wn, "times", labels("s-1"));
  const whole = combined(inertia, scaled(rate, 2), "times", labels("A.s/rad"));
  const kp = friction === undefined ? whole : less(whole, friction);
  if (!(kp.low > 0) || !(ki.low > 0)) return;
  const product = combined(ki, zeroTime, "times", labels("A.s/rad"));
  const weight = combined(product, kp, "over", labels("1"));
  // A weight that no controller has: the response is not that of a PI controller on an inertia.
  if (!weight || weight.low > 1.1 || weight.high < 0) return;
  return { kp, ki, weight, step };
}

/** The square of an estimate: its two factors err together. */
function doubled(square: Estimate, of: Estimate): Estimate {
  return { ...square, low: Math.max(0, of.low) ** 2, high: of.high ** 2 };
}

function scaled(e: Estimate, by: number): Estimate {
  return { ...e, value: e.value * by, low: e.low * by, high: e.high * by };
}

function less(e: Estimate, f: Estimate): Estimate {
  const value = e.value - f.value;
  return {
    ...e,
    value,
    low: value - Math.hypot(e.value - e.low, f.high - f.value),
    high: value + Math.hypot(e.high - e.value, f.value - f.low),
  };
}

/** J/Kt as the loop sees it: from current and motion, else from J and Kt that are estimated or stated. */
function inertiaOverKt(run: Run, { electrical, mechanical, ratios }: Constants): Estimate | undefined {
  const own = ratios.inertiaOverTorqueConstant;
  if (own !== undefined) return own.low > 0 ? own : undefined;
  const { machine } = run.recording;
  const stated = (value: number | undefined, unit: string): Estimate | undefined =>
    value === undefined ? undefined : { value, low: value, high: value, unit, method: "as stated" };
  const J = mechanical.inertia ?? stated(machine.inertia, "kg.m2");
  const Kt = electrical.torqueConstant ?? stated(machine.torqueConstant, "N.m/A");
  if (J === undefined || Kt === undefined) return undefined;
  return combined(J, Kt, "over", { unit: "A.s2/rad", method: "J over Kt" }) ?? undefined;
}
