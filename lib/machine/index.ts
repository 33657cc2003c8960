export type {
  Alignment,
  Bench,
  BenchTrace,
  DriveModel,
  EncoderModel,
  MotorModel,
  Segment,
} from "./bench.js";
export {
  alignedOffset,
  alignmentLag,
  type Commutation,
  commutation,
  offsetAngle,
  wrapAngle,
} from "./commutation.js";
export type { DriveFacts, EncoderFacts, LeadOrder, MachineFacts } from "./facts.js";
export { leadOrders } from "./facts.js";
export { exchangeTerminals, parity, windingShift } from "./leadOrder.js";
export { type RandomSource, randomNormal } from "./random.js";
export { type BenchFault, benchFaults, type RandomBench, randomBench } from "./randomBench.js";
export { innerStep, type SimulationOptions, simulate, voltageLimit } from "./simulate.js";
