/**
 * The package as most people use it: `openRuns` and what it gives, and the handful of functions under it that the
 * guides and notebooks use. Everything else is in the rooms: `shaftwise/numeric`, `shaftwise/control`,
 * `shaftwise/simulation`, `shaftwise/life`, `shaftwise/chart` and so on.
 *
 * @packageDocumentation
 */
export { type Analysis, analyseFiles, diagnoseFiles } from "./analysis/index.js";
export {
  bodeChart,
  type Chart,
  type ChartSpec,
  casesChart,
  chartSvg,
  controlChart,
  distributionChart,
  explorerHtml,
  frictionChart,
  nyquistChart,
  orderingsChart,
  outcome,
  phasePlaneChart,
  poleMapChart,
  quantileChart,
  recordingChart,
  show,
  showHtml,
  showMarkdown,
  showTable,
  stepChart,
  survivalChart,
  torqueAngleChart,
  torqueGainChart,
  traceChart,
  weibullChart,
} from "./chart/index.js";
export { analyseLoop, growthTime, openLoopCurve, simulateLoop } from "./control/index.js";
export {
  type Diagnosis,
  diagnose,
  type OrderingVerdict,
  type RecordingVerdict,
  type TrialVerdict,
  type VerdictWord,
} from "./diagnosis/index.js";
export {
  type Constants,
  constantNames,
  estimateConstants,
  fitStepResponse,
  fitSteps,
  stepMeasures,
} from "./identify/index.js";
export { type Bench, constantConventions, type LeadOrder } from "./motor/index.js";
export {
  type Channel,
  type ChannelRole,
  crossChecks,
  cutTrials,
  type Finding,
  type FindingAnswer,
  fromTable,
  type ReadOptions,
  type ReadResult,
  type Recording,
  readRecordings,
  recordingFromTrace,
  siUnits,
  type Trial,
  type TrialKind,
  toTable,
} from "./recording/index.js";
export { makeReport, type Report, redact } from "./report/index.js";
export type { TrialView } from "./run/index.js";
export { fleet, simulate, speedTrial } from "./simulation/index.js";
export {
  describeSample,
  fitLife,
  groupDifferences,
  individualsChart,
  isUndetermined,
  kaplanMeier,
  outlyingMotors,
  quantiles,
  readLifeTable,
  runStudy,
  studySummary,
} from "./study/index.js";
export * from "./toolkit/index.js";
export type { Estimate, EstimateSource } from "./units/index.js";

import { showInNotebooks } from "./chart/render/inNotebook.js";

showInNotebooks();
