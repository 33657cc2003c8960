export type { OneWayAnova } from "./anova.js";
export { kruskalWallis, oneWayAnova, welchTest } from "./anova.js";
export type { ArrheniusModel } from "./arrhenius.js";
export { fitArrhenius, inverseTemperature } from "./arrhenius.js";
export type { Capability } from "./capability.js";
export { capability, capabilityFrom } from "./capability.js";
export type { ControlChart, Signal } from "./controlChart.js";
export { ewmaChart, individualsChart } from "./controlChart.js";
export { demonstratedReliability, lifeWithKnownShape, unitsToDemonstrate } from "./demonstration.js";
export type { AboutRecording } from "./describedFile.js";
export type { SampleDescription } from "./describeSample.js";
export { autocorrelation, describeSample } from "./describeSample.js";
export type { Drift } from "./drift.js";
export { drift } from "./drift.js";
export type { GaugeReading, GaugeStudy } from "./gaugeStudy.js";
export { gaugeStudy } from "./gaugeStudy.js";
export type { ConstantDifference, GroupAgainstRest } from "./groupDifferences.js";
export { groupDifferences } from "./groupDifferences.js";
export type { Judges } from "./judgePool.js";
export type { SurvivalCurve, SurvivalStep } from "./kaplanMeier.js";
export { kaplanMeier, timeOfShare } from "./kaplanMeier.js";
export type { Life, Undetermined } from "./lifeData.js";
export { isUndetermined } from "./lifeData.js";
export type { LifeDistribution, LifeModel } from "./lifeModel.js";
export { fitLife } from "./lifeModel.js";
export type { GroupLife, LifeSummary } from "./lifeSummary.js";
export { lifeSummary } from "./lifeSummary.js";
export type { LogRankResult } from "./logRank.js";
export { logRank } from "./logRank.js";
export { benjaminiHochberg, holm } from "./multiplicity.js";
export type { ShapeVerdict, TestResult } from "./normality.js";
export { andersonDarling, judgeShape, shapiroWilk } from "./normality.js";
export type { OddGroup } from "./oddGroups.js";
export { oddGroups } from "./oddGroups.js";
export type { LifeTable } from "./readLifeTable.js";
export { lifeTable, readLifeTable } from "./readLifeTable.js";
export type { StudyRecording, StudyTables, StudyTrial } from "./readTables.js";
export { readTables } from "./readTables.js";
export type {
  FileResult,
  JudgedRecording,
  JudgeFile,
  StudySettings,
  TrialResult,
} from "./recordingResult.js";
export type { OutlyingMotor, RobustScatter } from "./robustDistance.js";
export { outlyingMotors, robustScatter } from "./robustDistance.js";
export type { StudyOptions, StudyProgress, StudyReport } from "./runStudy.js";
export { runStudy, StudyInterrupted } from "./runStudy.js";
export type { StudyConstant } from "./studyConstants.js";
export { studyConstants } from "./studyConstants.js";
export type {
  ConstantDistribution,
  DriftingMotor,
  StudySummary,
  SummaryOptions,
  WiringTrouble,
} from "./studySummary.js";
export { studySummary } from "./studySummary.js";
export type { TurnbullCurve } from "./turnbull.js";
export { turnbull } from "./turnbull.js";
export { type BandPoint, type TurnbullBandOptions, turnbullBand } from "./turnbullBand.js";
export type { VarianceComponents } from "./varianceComponents.js";
export { varianceComponents } from "./varianceComponents.js";
