export { torqueSign } from "../identify/commutation/torqueSign.js";
export { currentLoopFromTrial } from "../identify/loop/currentLoopFromTrial.js";
export { type CurrentShortfall, currentShortfall } from "../identify/loop/currentShortfall.js";
export { type GainMixup, gainMixups } from "../identify/loop/gainMixups.js";
export { growthFromTrial, type ObservedGrowth } from "../identify/loop/growthFromTrial.js";
export { type GainIdentification, identifyGains } from "../identify/loop/identifyGains.js";
export { type SampleTimeSeen, sampleTimeFromTrial } from "../identify/loop/sampleTimeFromTrial.js";
export { speedLagFromTrial } from "../identify/loop/speedLagFromTrial.js";
export { type ShortfallAt, type ShortfallRegion, torqueShortfall } from "../identify/loop/torqueShortfall.js";
export type { SpeedGains } from "../motor/speedGains.js";
export type { Complex } from "../numeric/systems/complex.js";
export { padeDelay } from "../numeric/systems/pade.js";
export type { Polynomial } from "../numeric/systems/polynomial.js";
export { polynomialRoots } from "../numeric/systems/roots.js";
export { type RouthTable, routhTable } from "../numeric/systems/routh.js";
export {
  closedLoopPoles,
  feedback,
  frequencyResponse,
  series,
  stepResponse,
  type TransferFunction,
} from "../numeric/systems/transferFunction.js";
export { analyseLoop, type LoopOptions, type LoopReport, type MarginReport } from "./analyseLoop.js";
export { type BenchCheck, benchForCheck, type CheckBench } from "./benchCheck.js";
export type { BenchStep } from "./benchStep.js";
export { compareStep, type StepComparison } from "./compareStep.js";
export { type LoopOfRun, loopFromRun } from "./fromRun/loopFromRun.js";
export type { LoopRequest } from "./fromRun/loopRequest.js";
export { predictRunaway, type RunawayPrediction } from "./fromRun/predictRunaway.js";
export type { LoopSettings } from "./fromRun/settings.js";
export {
  type LoopDocument,
  type LoopTrial,
  loopOfRun,
  type RecordingLoop,
  type RecordingLoopOptions,
} from "./loopDocument.js";
export { type GrowthLags, growthTime, unseenLag } from "./margins/growthTime.js";
export { type LimitCycle, limitCycles } from "./margins/limitCycles.js";
export type { Pole } from "./margins/loopMargins.js";
export { type Margins, margins, type Response } from "./margins/margins.js";
export { type OffsetTolerance, offsetTolerance } from "./margins/offsetTolerance.js";
export { type OpenLoopCurve, openLoopCurve } from "./margins/openLoopCurve.js";
export { type SaturatedRunaway, saturatedRunaway } from "./margins/saturatedRunaway.js";
export {
  type ControllerForm,
  convertGains,
  type FormGains,
  formText,
  fromForm,
  toForm,
} from "./models/controllerForm.js";
export type { LoopSimulation } from "./models/loopSimulation.js";
export { noiseGain } from "./models/noiseGain.js";
export { type LimitedStretch, type SaturationReport, saturation } from "./models/saturation.js";
export { type LoopProgram, type LoopTrace, simulateLoop } from "./models/simulateLoop.js";
export {
  type FixedLoop,
  fixLoop,
  type Integration,
  type LoopPlant,
  type LoopShortfall,
  type Quantity,
  type SpeedLoop,
} from "./models/speedLoop.js";
export {
  type StepFigures,
  type StepOptions,
  type StepPrediction,
  stepPrediction,
} from "./models/stepPrediction.js";
export { type Agreement, type BesideFigures, type StepBeside, stepsBeside } from "./stepsBeside.js";
export {
  integratingRule,
  polePlacement,
  sensitivityLimited,
  symmetricalOptimum,
} from "./tuning/gainRules.js";
export {
  type GainProposal,
  type GainProposals,
  type GainRule,
  type ProposalOptions,
  proposeGains,
} from "./tuning/proposeGains.js";
