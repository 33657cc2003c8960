export { type AnalyseFilesOptions, analyseFiles, diagnoseFiles } from "./analyseFiles.js";
export { type AnalyseRunsOptions, analyseRuns } from "./analyseRuns.js";
export type { AnalysedRecording, Analysis } from "./conclude.js";
export type { FittedStep, Parts } from "./summary.js";
