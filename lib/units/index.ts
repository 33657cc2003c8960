export { type Conversion, conversion, convertUnit } from "./convert.js";
export type { Estimate, EstimateSource } from "./estimate.js";
export { csvField, escapeHtml, visible } from "./text.js";
export { unitCode } from "./unitCode.js";
export { type UnitEntry, unitTable } from "./unitTable.js";
