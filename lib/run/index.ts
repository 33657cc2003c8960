export type { Corrections, UnitCorrection } from "./corrections.js";
export { type Gate, gates, type Health } from "./health.js";
export { Run, runOf, type StageTold } from "./run.js";
export type { Shaft, WitnessStretch } from "./shaft.js";
export type { TrialView } from "./trialView.js";
