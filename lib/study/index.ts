export type { ArrheniusModel } from "./life/arrhenius.js";
export { fitArrhenius, inverseTemperature } from "./life/arrhenius.js";
export { type CauseLife, causeLives, type Incidence } from "./life/causeLives.js";
export { demonstratedReliability, lifeWithKnownShape, unitsToDemonstrate } from "./life/demonstration.js";
export type { Fact } from "./life/factHeadings.js";
export { type GoodnessOfFit, goodnessOfFit } from "./life/goodnessOfFit.js";
export type { ComparedGroups, GroupLife, GroupWithoutFailure } from "./life/groupLife.js";
export type { SurvivalCurve, SurvivalStep } from "./life/kaplanMeier.js";
export { kaplanMeier, timeOfShare } from "./life/kaplanMeier.js";
export type { Life, Undetermined } from "./life/lifeData.js";
export { isUndetermined } from "./life/lifeData.js";
export type { LifeModel } from "./life/lifeModel.js";
export { fitLife } from "./life/lifeModel.js";
export type { LifeDistribution } from "./life/lifeShapes.js";
export type { LifeOptions, LifeSummary } from "./life/lifeSummary.js";
export { lifeSummary } from "./life/lifeSummary.js";
export type { LogRankResult } from "./life/logRank.js";
export { logRank } from "./life/logRank.js";
export type { LifeTable } from "./life/readLifeTable.js";
export { lifeTable, readLifeTable } from "./life/readLifeTable.js";
export { planTest, type TestPlan, type TestWish } from "./life/testPlan.js";
export type { TurnbullCurve } from "./life/turnbull.js";
export { turnbull } from "./life/turnbull.js";
export { type BandPoint, type TurnbullBandOptions, turnbullBand } from "./life/turnbullBand.js";
export { type TwoModes, twoModes } from "./life/twoModes.js";
export type { AboutRecording } from "./pipeline/describedFile.js";
export type { Judges } from "./pipeline/judgePool.js";
export type { StudyRecording, StudyTables, StudyTrial } from "./pipeline/readTables.js";
export { readTables } from "./pipeline/readTables.js";
export type {
  FileResult,
  JudgedRecording,
  JudgeFile,
  StudySettings,
  TrialResult,
} from "./pipeline/recordingResult.js";
export { runStudy } from "./pipeline/runStudy.js";
export type { DateOrder } from "./pipeline/settleDates.js";
export type { StudyConstant } from "./pipeline/studyConstants.js";
export { studyConstants } from "./pipeline/studyConstants.js";
export type { StudyOptions, StudyProgress, StudyReport } from "./pipeline/studyOptions.js";
export { StudyInterrupted } from "./pipeline/studyOptions.js";
export type { OneWayAnova } from "./population/anova.js";
export { kruskalWallis, oneWayAnova, welchTest } from "./population/anova.js";
export type { Capability } from "./population/capability.js";
export { capability, capabilityFrom } from "./population/capability.js";
export { type ConstantChange, compareStudies, type StudyComparison } from "./population/compareStudies.js";
export type { ControlChart, Signal } from "./population/controlChart.js";
export { ewmaChart, individualsChart } from "./population/controlChart.js";
export type { DayChart, DayStep } from "./population/dayChart.js";
export { dayChart } from "./population/dayChart.js";
export type { SampleDescription } from "./population/describeSample.js";
export { autocorrelation, describeSample } from "./population/describeSample.js";
export type { Drift } from "./population/drift.js";
export { drift } from "./population/drift.js";
export type { DriftColumn, DriftFound, Drifting, FleetDrift } from "./population/driftingMotors.js";
export { driftingMotors } from "./population/driftingMotors.js";
export type { Factor, FleetDecisions } from "./population/fleetDecisions.js";
export type { ConstantRemaining } from "./population/fleetRemaining.js";
export type { Gap, GapTest } from "./population/gapTest.js";
export { gapTest } from "./population/gapTest.js";
export type { GaugeReading, GaugeStudy } from "./population/gaugeStudy.js";
export { gaugeStudy } from "./population/gaugeStudy.js";
export type { ConstantDifference, GroupAgainstRest } from "./population/groupDifferences.js";
export { groupDifferences } from "./population/groupDifferences.js";
export type { MixedSlopes, MotorPath } from "./population/mixedSlopes.js";
export type { MeasuredRun } from "./population/motorSlopes.js";
export { benjaminiHochberg, holm } from "./population/multiplicity.js";
export type { ShapeVerdict, TestResult } from "./population/normality.js";
export { andersonDarling, judgeShape, shapiroWilk } from "./population/normality.js";
export type { NotSound } from "./population/notSound.js";
export type { OddGroup, OddGroups } from "./population/oddGroups.js";
export { oddGroups } from "./population/oddGroups.js";
export type {
  MotorColumn,
  OutlyingMotor,
  OutlyingMotors,
  OutlyingOptions,
  SmallestSeen,
} from "./population/outlyingMotors.js";
export { outlyingMotors } from "./population/outlyingMotors.js";
export { type QuantileOfSample, quantiles } from "./population/quantiles.js";
export type { MotorRemaining, RemainingLife, RemainingOptions } from "./population/remainingLife.js";
export { remainingLife } from "./population/remainingLife.js";
export type { RobustScatter } from "./population/robustDistance.js";
export { robustScatter } from "./population/robustDistance.js";
export type {
  ConstantDistribution,
  DriftingMotor,
  StudySummary,
  SummaryOptions,
  WiringTrouble,
} from "./population/studySummary.js";
export { studySummary } from "./population/studySummary.js";
export type { CoarseValue, TooCoarse } from "./population/tooCoarse.js";
export type { VarianceComponents } from "./population/varianceComponents.js";
export { varianceComponents } from "./population/varianceComponents.js";
