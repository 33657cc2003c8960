/**
 * The public face of shaftwise. Nothing outside this file (and `shaftwise/danfo`) is public.
 *
 * @packageDocumentation
 */
export * from "./chart/index.js";
export * from "./estimate/index.js";
export * from "./fit/index.js";
export * from "./loop/index.js";
export * from "./machine/index.js";
export * from "./recording/index.js";
export * from "./report/index.js";
export * from "./signal/index.js";
export * from "./study/index.js";
export * from "./units/index.js";
export * from "./verdict/index.js";
