export { type Conversion, conversion, convertUnit } from "./convert.js";
export { asTold, type Estimate, type EstimateSource, type OwnScale } from "./estimate.js";
export { csvField, escapeHtml, visible } from "./text.js";
export { unitCode } from "./unitCode.js";
export { type UnitEntry, unitTable } from "./unitTable.js";
