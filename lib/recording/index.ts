export { type Assumption, assumptionsOf } from "./assumptions.js";
export { crossChecks } from "./checks/crossChecks.js";
export { type ChannelQuality, channelQuality } from "./checks/resolutionAndNoise.js";
export { encoderLinesFromGrid, type GridLines } from "./columns/encoderLinesFromGrid.js";
export type { ReadOptions } from "./columns/readOptions.js";
export { recordingFromRandomBench, recordingFromTrace } from "./fromBench.js";
export type { Limits } from "./limits/limits.js";
export { type ReadResult, readRecordings } from "./readRecordings.js";
export { type CutResult, cutTrials, type LeftOver } from "./segments/cutTrials.js";
export { fromColumns, fromTable, toTable } from "./toTable.js";
export type {
  Channel,
  ChannelRole,
  ColumnEvidence,
  ColumnUnderstanding,
  Finding,
  FindingAnswer,
  Recording,
  RecordingSource,
  Step,
  Trial,
  TrialConditions,
  TrialDrive,
  TrialInput,
  TrialKind,
  TrialLoad,
  TrialShape,
} from "./types.js";
export { siUnits, trialKinds } from "./types.js";
export { type WriteOptions, writeRecordings } from "./writeRecordings.js";
