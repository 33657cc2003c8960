export { type JudgedOrder, Judgement } from "./judgement.js";
export { OpenLoop } from "./openLoop.js";
export { OpenRun } from "./openRun.js";
export { openRuns, type ReportCover, Runs } from "./openRuns.js";
export { OpenStep } from "./openStep.js";
export type { ShownConstants } from "./shownConstants.js";
