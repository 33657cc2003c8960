export {
  automaticBlockLength,
  type BootstrapOptions,
  type BootstrapResult,
  blockBootstrap,
} from "./blockBootstrap.js";
export { describeFit } from "./describeFit.js";
export { fitLeastSquares } from "./fitLeastSquares.js";
export type { StepCandidate, StepFit, StepModelName, StepResponseOptions } from "./fitStepResponse.js";
export { fitStepResponse } from "./fitStepResponse.js";
export { fitStepShape, type StepShapeFit, type StepShapeOptions } from "./fitStepShape.js";
export { type ProfileInterval, type ProfileOptions, profileIntervals } from "./profileIntervals.js";
export { residualDiagnostics } from "./residualDiagnostics.js";
export { type StateLevels, stateLevels } from "./stateLevels.js";
export { type StepMeasureOptions, type StepMeasures, stepMeasures } from "./stepMeasures.js";
export type { StepShape } from "./stepShapes.js";
export { studentT } from "./studentT.js";
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
} from "./types.js";
