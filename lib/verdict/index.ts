export { type DiagnoseOptions, type DiagnosisInput, diagnose, judgeTrial } from "./diagnose.js";
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
