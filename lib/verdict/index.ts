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
