export { type Cause, type CauseCode, causes } from "./causes.js";
export { type DiagnoseOptions, type DiagnosisInput, diagnose, judgeTrial } from "./diagnose.js";
export { type DiagnoseFilesOptions, diagnoseFiles } from "./diagnoseFiles.js";
export type {
  CauseOdds,
  Diagnosis,
  Evidence,
  EvidenceWeight,
  Forecast,
  NextTest,
  OrderingVerdict,
  RecordingVerdict,
  Sense,
  TrialVerdict,
  VerdictWord,
} from "./types.js";
export { verdictWords } from "./types.js";
