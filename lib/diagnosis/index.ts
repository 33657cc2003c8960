export { headline } from "./danger.js";
export { diagnose, judgeTrial } from "./diagnose.js";
export type { DiagnoseOptions, DiagnosisInput } from "./options.js";
export type { RemedyCode } from "./tables/causes.js";
export { type Cause, type CauseCode, causes } from "./tables/causes.js";
export type {
  CauseProbability,
  ContradictedForecast,
  Diagnosis,
  Evidence,
  EvidenceWeight,
  Forecast,
  NextTest,
  OrderingVerdict,
  RecordingVerdict,
  RemedyProbability,
  Sense,
  TrialVerdict,
  VerdictWord,
} from "./types.js";
export { verdictWords } from "./types.js";
