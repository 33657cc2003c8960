export {
  type Cell,
  chartBundle,
  type MimeBundle,
  type Row,
  show,
  showMarkdown,
  showTable,
} from "./notebook.js";
export { caseColors, quantityColor, verdictColor, verdictMark, verdictShape } from "./palette.js";
export { chartPng, chartSvg, type PictureOptions } from "./render.js";
export { type ChartOptions, type ChartSpec, stack, withTheme } from "./spec.js";
export { type ThemeName, themeConfig } from "./theme.js";
export { thin } from "./thin.js";
