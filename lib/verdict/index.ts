export { type DiagnoseOptions, type DiagnosisInput, diagnose } from "./diagnose.js";
export { judgeTrial } from "./judgeTrial.js";
export type {
  CauseOdds,
  Diagnosis,
  Evidence,
  Forecast,
  OrderingVerdict,
  RecordingVerdict,
  Sense,
  TrialVerdict,
  VerdictWord,
} from "./types.js";
