export { analyseLoop, type LoopOptions, type LoopReport, type MarginReport } from "./analyseLoop.js";
export { type BenchCheck, type BenchStep, benchForCheck, type CheckBench } from "./benchCheck.js";
export { compareStep, type StepComparison } from "./compareStep.js";
export type { Complex } from "./complex.js";
export {
  type ControllerForm,
  convertGains,
  type FormGains,
  formText,
  fromForm,
  toForm,
} from "./controllerForm.js";
export { currentLoopFromTrial } from "./currentLoopFromTrial.js";
export { type CurrentShortfall, currentShortfall } from "./currentShortfall.js";
export { integratingRule, polePlacement, sensitivityLimited, symmetricalOptimum } from "./gainRules.js";
export { growthFromTrial, type ObservedGrowth } from "./growthFromTrial.js";
export { type GrowthLags, growthTime } from "./growthTime.js";
export { type GainIdentification, type GainMixup, gainMixups, identifyGains } from "./identifyGains.js";
export { type LimitCycle, limitCycles } from "./limitCycles.js";
export {
  type LoopDocument,
  type LoopTrial,
  loopOfRecording,
  type RecordingLoop,
  type RecordingLoopOptions,
} from "./loopDocument.js";
export {
  type LoopOfRecording,
  type LoopSettings,
  loopFromRecording,
  torqueSign,
} from "./loopFromRecording.js";
export type { Pole } from "./loopMargins.js";
export { type Margins, margins, type Response } from "./margins.js";
export { noiseGain } from "./noiseGain.js";
export { type OffsetTolerance, offsetTolerance } from "./offsetTolerance.js";
export { padeDelay } from "./pade.js";
export type { Polynomial } from "./polynomial.js";
export {
  type GainProposal,
  type GainProposals,
  type GainRule,
  type ProposalOptions,
  proposeGains,
} from "./proposeGains.js";
export { polynomialRoots } from "./roots.js";
export { type RouthTable, routhTable } from "./routh.js";
export { type SampleTimeSeen, sampleTimeFromTrial } from "./sampleTimeFromTrial.js";
export { type SaturatedRunaway, saturatedRunaway } from "./saturatedRunaway.js";
export { type LimitedStretch, type SaturationReport, saturation } from "./saturation.js";
export { type LoopProgram, type LoopSimulation, type LoopTrace, simulateLoop } from "./simulateLoop.js";
export { speedLagFromTrial } from "./speedLagFromTrial.js";
export {
  type FixedLoop,
  fixLoop,
  type Integration,
  type LoopPlant,
  type Quantity,
  type SpeedGains,
  type SpeedLoop,
} from "./speedLoop.js";
export { type StepFigures, type StepOptions, type StepPrediction, stepPrediction } from "./stepPrediction.js";
export { type Agreement, type BesideFigures, type StepBeside, stepsBeside } from "./stepsBeside.js";
export {
  closedLoopPoles,
  feedback,
  frequencyResponse,
  series,
  stepResponse,
  type TransferFunction,
} from "./transferFunction.js";
