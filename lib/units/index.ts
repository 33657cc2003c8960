export type { Estimate } from "./estimate.js";
export { csvField, escapeHtml, visible } from "./text.js";
