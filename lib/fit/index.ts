export { fitLeastSquares } from "./fitLeastSquares.js";
export { residualDiagnostics } from "./residualDiagnostics.js";
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
