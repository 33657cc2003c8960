export type { Complex } from "./complex.js";
export { type GrowthLags, growthTime } from "./growthTime.js";
export { padeDelay } from "./pade.js";
export type { Polynomial } from "./polynomial.js";
export { polynomialRoots } from "./roots.js";
export { type RouthTable, routhTable } from "./routh.js";
export type { Integration, LoopPlant, Quantity, SpeedGains, SpeedLoop } from "./speedLoop.js";
