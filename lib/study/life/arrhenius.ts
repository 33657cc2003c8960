import type { Estimate } from "../../units/estimate.js";
import { isUndetermined, type Life, type Undetermined } from "./lifeData.js";
import { fitLife, type LifeModel } from "./lifeModel.js";
import type { LifeDistribution } from "./lifeShapes.js";

/** Boltzmann constant, eV/K (exact in the SI of 2019). */
const boltzmann = 8.617333262145179e-5;

/** Life that shortens with temperature by Arrhenius's law. */
export interface ArrheniusModel {
  readonly model: LifeModel;
  /** Activation energy, eV. */
  readonly activationEnergy: Estimate;
  /** Time by which a share has failed at a temperature (degrees Celsius). */
  readonly lifeAt: (share: number, celsius: number) => Estimate;
  /** How many times faster life runs at `hot` than at `cold` (degrees Celsius). */
  readonly acceleration: (hot: number, cold: number) => Estimate;
}

/**
 * 1/(kT), the covariate of an Arrhenius model, in 1/eV.
 *
 * @param celsius temperature in degrees Celsius
 * @example
 * inverseTemperature(25); // => 38.92
 */
export function inverseTemperature(celsius: number): number {
  return 1 / (boltzmann * (celsius + 273.15));
}

/**
 * Fits log(life) = a + E/(kT) + sigma * error to lives run at several temperatures, with one spread for all (Nelson, W.
 * and Hahn, G. J. (1972), Technometrics 14, 247-269 for the model; maximum likelihood with profile intervals as in
 * `fitLife`).
 *
 * @param lives - each with `temperature` in degrees Celsius
 * @returns `Undetermined` when failures at two temperatures are not there
 * @throws RangeError when a life has no temperature
 * @example
 * const model = fitArrhenius("weibull", lives, { unit: "h" });
 * if (!isUndetermined(model)) model.lifeAt(0.1, 40); // B10 at 40 degrees Celsius with its interval
 */
export function fitArrhenius(
  distribution: LifeDistribution,
  lives: readonly Life[],
  settings: { readonly level?: number; readonly unit?: string } = {},
): ArrheniusModel | Undetermined {
  const missing = lives.findIndex((life) => !Number.isFinite(life.temperature ?? Number.NaN));
  if (missing >= 0) throw new RangeError(`life ${missing + 1} has no temperature`);
  const failedAt = new Set(lives.filter((life) => life.by !== Infinity).map((life) => life.temperature));
  if (failedAt.size < 2)
    return { undetermined: `failures at ${failedAt.size} temperature(s): at least two are needed` };
  // Centred: the covariate is counted from its mean, which keeps the fit well conditioned; the slope is the same.
  const xs = lives.map((life) => inverseTemperature(life.temperature as number));
  const middle = xs.reduce((a, b) => a + b, 0) / xs.length;
  const model = fitLife(distribution, lives, {
    ...settings,
    covariates: (life) => [inverseTemperature(life.temperature as number) - middle],
    names: ["1/(kT)"],
  });
  if (isUndetermined(model)) return model;
  const slope = model.coefficients[1];
  const activationEnergy: Estimate = { ...slope, unit: "eV", method: `Arrhenius slope, ${slope.method}` };
  return {
    model,
    activationEnergy,
    lifeAt: (share, celsius) => model.life(share, [inverseTemperature(celsius) - middle]),
    acceleration: (hot, cold) => {
      const d = inverseTemperature(cold) - inverseTemperature(hot);
      const ends = [Math.exp(slope.low * d), Math.exp(slope.high * d)];
      return {
        value: Math.exp(slope.value * d),
        low: Math.min(...ends),
        high: Math.max(...ends),
        unit: "1",
        level: slope.level,
        method: "Arrhenius acceleration from the activation energy",
      };
    },
  };
}
