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
  alignmentLag,
  type Commutation,
  commutation,
  wrapAngle,
} from "./commutation.js";
export {
  backEmfFromKv,
  backEmfFromVoltsPerThousand,
  backEmfLinePeak,
  backEmfLineRms,
  backEmfPhasePeak,
  backEmfPhaseRms,
  type ConstantConventions,
  constantConventions,
  kvFromBackEmf,
  linesFromCounts,
  type MachineConstantName,
  perElectricalRadian,
  polePairsFromPoles,
  revolutionsPerMinute,
  torqueConstantPeak,
  torqueConstantRms,
  voltsPerThousand,
} from "./conventions.js";
export type { DriveFacts, EncoderFacts, LeadOrder, MachineFacts } from "./facts.js";
export { leadOrders } from "./facts.js";
export type { LeadLetters } from "./leadLetters.js";
export {
  composeOrders,
  exchangeLeads,
  exchangesBetween,
  exchangeTerminals,
  inverseOrder,
  parity,
  windingShift,
} from "./leadOrder.js";
