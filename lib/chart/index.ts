export { type BodeCase, bodeChart } from "./bodeChart.js";
export { casesChart, type SmallCase } from "./casesChart.js";
export { type ControlPicture, controlChart } from "./controlChart.js";
export { type DaysPicture, daysChart } from "./daysChart.js";
export { distributionChart } from "./distributionChart.js";
export { type DriftPicture, driftChart } from "./driftChart.js";
export { type ExplorerOptions, explorerHtml, explorerPage } from "./explorer/explorer.js";
export {
  type ExplorerMachine,
  type ExplorerSettings,
  type ExplorerState,
  explore,
} from "./explorer/model.js";
export { type FrictionPicture, frictionChart } from "./frictionChart.js";
export { outcome } from "./marks/outcome.js";
export { caseColors, quantityColor, verdictColor, verdictMark, verdictShape } from "./marks/palette.js";
export { type ThemeName, themeConfig } from "./marks/theme.js";
export { thin } from "./marks/thin.js";
export {
  type TraceMark,
  type TracePanel,
  type TraceSeries,
  type Traces,
  traceChart,
} from "./marks/traceChart.js";
export { type NyquistCase, nyquistChart } from "./nyquistChart.js";
export { type OrderRow, type OrderTrial, orderingsChart } from "./orderingsChart.js";
export { type PhasePath, phasePlaneChart } from "./phasePlaneChart.js";
export { type PoleCase, poleMapChart } from "./poleMapChart.js";
export { type QuantilePoint, quantileChart } from "./quantileChart.js";
export { type RecordingChartOptions, recordingChart } from "./recordingChart.js";
export {
  type Cell,
  type ChartOutput,
  chartOutput,
  type MimeBundle,
  type Row,
  show,
  showHtml,
  showMarkdown,
  showTable,
} from "./render/notebook.js";
export { chartPng, chartSvg, type PictureOptions } from "./render/render.js";
export { type Chart, type ChartOptions, type ChartSpec, stack, withTheme } from "./render/spec.js";
export { type StepPicture, stepChart } from "./stepChart.js";
export { type SurvivalPicture, survivalChart } from "./survivalChart.js";
export { type TorqueAngleCase, torqueAngleChart } from "./torqueAngleChart.js";
export { type GainPoint, torqueGainChart } from "./torqueGainChart.js";
export { type WeibullPicture, weibullChart } from "./weibullChart.js";
export { actionText, orderAfter, type Wiring, type WiringAction, wiringPicture } from "./wiringPicture.js";
