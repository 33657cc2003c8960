export type {
  AngleHarmonic,
  ConstantName,
  Constants,
  MissingConstant,
  Route,
} from "./constants.js";
export { constantNames } from "./constants.js";
export { type EstimateOptions, estimateConstants } from "./estimateConstants.js";
export { fitSteps, type StepOfTrial } from "./fitSteps.js";
export { type Motion, type MotionOptions, motionFromPosition } from "./motion.js";
export { type TorqueSpeedLine, torqueSpeedLine } from "./torqueSpeedLine.js";
