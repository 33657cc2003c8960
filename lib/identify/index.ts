export type {
  AngleHarmonic,
  ConstantName,
  Constants,
  MissingConstant,
  Route,
} from "./constants.js";
export { constantNames } from "./constants.js";
export { type TorqueSpeedLine, torqueSpeedLine } from "./electrical/torqueSpeedLine.js";
export { constantsOf, type EstimateOptions, estimateConstants } from "./estimateConstants.js";
export { fitStepResponse } from "./steps/fitStepResponse.js";
export { fitStepShape, type StepShapeFit, type StepShapeOptions } from "./steps/fitStepShape.js";
export { fitSteps, type StepOfTrial, stepsOf } from "./steps/fitSteps.js";
export type { StepCandidate, StepFit, StepModelName, StepResponseOptions } from "./steps/stepFitTypes.js";
export type { StepCurveName } from "./steps/stepKinds.js";
export { type StepMeasureOptions, type StepMeasures, stepMeasures } from "./steps/stepMeasures.js";
export type { StepShape } from "./steps/stepShapes.js";
