/**
 * Everything public, as one list for the API pages and for the tests of this repository: what `shaftwise` (see
 * `shaftwise.ts`) and its sub-paths export together. Nothing outside of these (and `shaftwise/danfo`) is public.
 *
 * @packageDocumentation
 */
export * from "./analysis/index.js";
export * from "./chart/index.js";
export * from "./control/index.js";
export * from "./diagnosis/index.js";
export * from "./identify/index.js";
export * from "./motor/index.js";
export * from "./numeric/index.js";
export * from "./recording/index.js";
export * from "./report/index.js";
export * from "./run/index.js";
export * from "./simulation/index.js";
export * from "./study/index.js";
export * from "./toolkit/index.js";
export * from "./units/index.js";

import { showInNotebooks } from "./chart/render/inNotebook.js";

showInNotebooks();
