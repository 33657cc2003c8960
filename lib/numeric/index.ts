export { type SeededRandom, seededRandom } from "./distributions/seededRandom.js";
export { studentT } from "./distributions/studentT.js";
export {
  automaticBlockLength,
  type BootstrapOptions,
  type BootstrapResult,
  blockBootstrap,
} from "./optimise/blockBootstrap.js";
export { describeFit } from "./optimise/describeFit.js";
export { fitLeastSquares } from "./optimise/fitLeastSquares.js";
export { type ProfileInterval, type ProfileOptions, profileIntervals } from "./optimise/profileIntervals.js";
export { residualDiagnostics } from "./optimise/residualDiagnostics.js";
export type {
  CovarianceKind,
  FitParameter,
  FitParameterInput,
  FitResult,
  LeastSquaresOptions,
  LeastSquaresProblem,
  LossName,
  ModelProblem,
  ResidualDiagnostics,
  ResidualProblem,
  StopCode,
} from "./optimise/types.js";
export { type Delay, delayBetween } from "./series/delayBetween.js";
export { differentiate } from "./series/differentiate.js";
export {
  type FindStepsOptions,
  type FoundStep,
  findSteps,
  type Level,
  type Steps,
} from "./series/findSteps.js";
export { median, quantile, robustScale } from "./series/median.js";
export { noiseLevel } from "./series/noiseLevel.js";
export { quantisationStep } from "./series/quantisationStep.js";
export { range } from "./series/range.js";
export {
  type DerivedSpeed,
  type SpeedFromPositionOptions,
  speedFromPosition,
} from "./series/speedFromPosition.js";
export { type StateLevels, stateLevels } from "./series/stateLevels.js";
export { unwrap } from "./series/unwrap.js";
