export { type Delay, delayBetween } from "./delayBetween.js";
export { differentiate } from "./differentiate.js";
export { type FindStepsOptions, type FoundStep, findSteps, type Level, type Steps } from "./findSteps.js";
export { median, quantile, robustScale } from "./median.js";
export { noiseLevel } from "./noiseLevel.js";
export { quantisationStep } from "./quantisationStep.js";
export { range } from "./range.js";
export { type SeededRandom, seededRandom } from "./seededRandom.js";
export {
  type DerivedSpeed,
  type SpeedFromPositionOptions,
  speedFromPosition,
} from "./speedFromPosition.js";
export { unwrap } from "./unwrap.js";
