import type { SearchedFit } from "../../numeric/optimise/fitLeastSquares.js";
import type { FitResult } from "../../numeric/optimise/types.js";
import type { Estimate } from "../../units/estimate.js";
import { curveIntervals } from "../curveIntervals.js";
import type { StepCandidate, StepFit, StepResponseOptions } from "./stepFitTypes.js";
import type { StepCurveModel, StepInput } from "./stepKinds.js";

/** What is known of a step whose physics is known. */
export interface IdentifyStepOptions extends StepResponseOptions {
  /** What was stepped: a torque or current, a voltage or duty, the reference of a speed loop, or that of a position
   * loop. */
  readonly input: StepInput;
  /** The command after the step; needed where friction is to be told from the gain. */
  readonly commandTo?: number;
  /** Time from which rows are fitted where the response is not steady before the step, s: earlier ones then only show
   * whether the one before had ended. */
  readonly fitFrom?: number;
}

/** A curve fitted to a step, before it is described. */
export interface CurveOfStep {
  readonly model: StepCurveModel;
  readonly fit: SearchedFit;
}

/** What is known about the choice of the curve. */
export interface CurveChoice {
  readonly stepTime: number;
  readonly candidates: readonly StepCandidate[];
  readonly independent: number;
  /** What was seen of the record when the linear shapes were fitted: spikes and warnings. */
  readonly linear: Pick<StepFit, "excluded" | "warnings">;
}

/** A fitted curve in the terms of a step response, each number with its interval. */
export function curveStepFit(
  { model, fit: searched }: CurveOfStep,
  t: Float64Array,
  y: Float64Array,
  options: IdentifyStepOptions,
  { stepTime, candidates, independent, linear }: CurveChoice,
): StepFit {
  const fit = searched.describe();
  const { parameters, free, count: m } = fit;
  const moving = free.filter((index) => !parameters[index].atBound);
  const columns = moving.map((index) => {
    const j = free.indexOf(index);
    return Float64Array.from({ length: m }, (_, i) => -fit.jacobian[i * free.length + j]);
  });
  const { of } = curveIntervals({
    values: moving.map((index) => fit.values[index]),
    residuals: fit.residuals,
    columns,
  });
  const unit = options.unit ?? "1";
  const words = `step response, ${model.name.replace(/-/g, " ")}`;
  /** A function of all parameters, those on a bound held there. */
  const estimate = (
    f: (p: Readonly<Record<string, number>>) => number,
    code: string,
    positive = false,
  ): Estimate => {
    const all = Object.fromEntries(parameters.map((q) => [q.name, q.value]));
    const found = of((v) => {
      const p = { ...all };
      moving.forEach((index, k) => {
        p[parameters[index].name] = v[k];
      });
      return f(p);
    }, positive);
    return { ...found, unit: code, method: words, level: 0.95, samples: m };
  };
  const fitted = y.map((v, i) => v - fit.residuals[i]);
  const x = t.map((v) => v + stepTime);
  const result: FitResult = { ...fit, x, observed: y, fitted };
  return {
    model: model.name,
    drift: false,
    determined: true,
    stepTime,
    initial: estimate((p) => p.initial, unit),
    ...numbersOf(
      model.name,
      parameters.map((q) => q.name),
      estimate,
      unit,
      options,
    ),
    candidates,
    effectiveSamples: independent,
    excluded: linear.excluded,
    fit: result,
    warnings: warningsOf(linear.warnings, candidates),
  };
}

type Numbers = Partial<
  Pick<
    StepFit,
    | "amplitude"
    | "final"
    | "gain"
    | "timeConstant"
    | "fastTimeConstant"
    | "deadTime"
    | "dampingRatio"
    | "naturalFrequency"
    | "zeroTime"
    | "rate"
    | "rateGain"
    | "friction"
    | "deadBand"
    | "slewLimit"
    | "loopGain"
  >
>;

function numbersOf(
  name: CurveOfStep["model"]["name"],
  names: readonly string[],
  estimate: (
    f: (p: Readonly<Record<string, number>>) => number,
    code: string,
    positive?: boolean,
  ) => Estimate,
  unit: string,
  options: IdentifyStepOptions,
): Numbers {
  const step = options.commandStep ?? 1;
  const to = options.commandTo ?? step;
  const { commandUnit } = options;
  const over = (code: string): string =>
    commandUnit === undefined || commandUnit === "1"
      ? code
      : `${code}/${/[./]/.test(commandUnit) ? `(${commandUnit})` : commandUnit}`;
  const perSecond = unit === "rad/s" ? "rad/s2" : `${unit}/s`;
  const deadTime = (): Estimate | undefined => {
    if (!names.includes("dead time")) return undefined;
    const found = estimate((p) => p["dead time"], "s");
    return found.value > 0 ? { ...found, low: Math.max(0, found.low) } : undefined;
  };
  const delay = deadTime();
  const late = delay === undefined ? {} : { deadTime: delay };
  switch (name) {
    case "integrator":
      return {
        rate: estimate((p) => p.rate, perSecond),
        rateGain: estimate((p) => p.rate / step, over(perSecond)),
        ...late,
      };
    case "integrator-lag":
      return {
        rate: estimate((p) => p.rate, perSecond),
        rateGain: estimate((p) => p.rate / step, over(perSecond)),
        timeConstant: estimate((p) => p.lag, "s", true),
      };
    case "integrator-friction":
      return {
        rate: estimate((p) => p.rate, perSecond),
        ...(to === 0 ? {} : { rateGain: estimate((p) => p.rate / to, over(perSecond)) }),
        friction: estimate((p) => p["friction rate"], perSecond),
      };
    case "first-order-friction":
      return {
        friction: estimate((p) => p.friction, unit),
        timeConstant: estimate((p) => p["time constant"], "s", true),
        ...(to === 0
          ? {}
          : {
              gain: estimate((p) => p["final without friction"] / to, over(unit)),
              deadBand: estimate(
                (p) => Math.abs((p.friction * to) / p["final without friction"]),
                commandUnit ?? "1",
              ),
            }),
        ...late,
      };
    case "second-order-zero":
      return {
        amplitude: estimate((p) => p.amplitude, unit),
        final: estimate((p) => p.initial + p.amplitude, unit),
        gain: estimate((p) => p.amplitude / step, over(unit)),
        dampingRatio: estimate((p) => p["damping ratio"], "1", true),
        naturalFrequency: estimate((p) => p["natural frequency"], "rad/s", true),
        zeroTime: estimate((p) => p["zero time"], "s"),
      };
    case "integrator-limited": {
      const way = (p: Readonly<Record<string, number>>): number => Math.sign(p.amplitude) * p["slew limit"];
      return {
        rate: estimate(way, perSecond),
        // It stood or ran at its limit before: all of the slope is the doing of the command it now has.
        ...(to === 0 ? {} : { rateGain: estimate((p) => way(p) / to, over(perSecond)) }),
        amplitude: estimate((p) => p.amplitude, unit),
        final: estimate((p) => p.initial + p.amplitude, unit),
        ...late,
      };
    }
    case "slew-limited":
      return {
        amplitude: estimate((p) => p.amplitude, unit),
        final: estimate((p) => p.initial + p.amplitude, unit),
        gain: estimate((p) => p.amplitude / step, over(unit)),
        slewLimit: estimate((p) => p["slew limit"], perSecond, true),
        loopGain: estimate((p) => p["loop gain"], "s-1", true),
        timeConstant: estimate((p) => 1 / p["loop gain"], "s", true),
        ...(names.includes("lag") ? { fastTimeConstant: estimate((p) => p.lag, "s", true) } : {}),
        ...late,
      };
  }
}

function warningsOf(said: readonly string[], candidates: readonly StepCandidate[]): string[] {
  const warnings = [...said];
  const rival = candidates[1];
  if (rival !== undefined && candidates[0].weight < 0.9 && rival.model !== "none")
    warnings.push(
      `The choice of model is not clear: ${rival.model.replace(/-/g, " ")}${rival.drift ? " with slope" : ""} has ${Math.round(rival.weight * 100)} % of the weight.`,
    );
  return warnings;
}
