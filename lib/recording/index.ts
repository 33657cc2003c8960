export { type ChannelQuality, channelQuality } from "./checks/resolutionAndNoise.js";
export { crossChecks } from "./crossChecks.js";
export { type CutResult, cutTrials, type LeftOver } from "./cutTrials.js";
export { encoderLinesFromGrid, type GridLines } from "./encoderLinesFromGrid.js";
export { recordingFromRandomBench, recordingFromTrace } from "./fromBench.js";
export type { ReadOptions } from "./interpret.js";
export { type ReadResult, readRecordings } from "./readRecordings.js";
export { fromColumns, fromTable, toTable } from "./toTable.js";
export type {
  Channel,
  ChannelRole,
  Finding,
  Recording,
  RecordingSource,
  Step,
  Trial,
  TrialKind,
} from "./types.js";
export { siUnits } from "./types.js";
export { type WriteOptions, writeRecordings } from "./writeRecordings.js";
