export { voltageLimit } from "../motor/voltageLimit.js";
export { type BenchFault, benchFaults, type LoggedChannel } from "./benchFaults.js";
export { fleet } from "./fleet.js";
export {
  type Fleet,
  type FleetConstants,
  type FleetFault,
  type FleetLife,
  type FleetMotor,
  type FleetRun,
  fleetConstants,
} from "./fleetTypes.js";
export {
  alignmentSweep,
  coastDown,
  handTurn,
  type ProgramTrialKind,
  positionTrial,
  programTrials,
  speedTrial,
  type TrialTimes,
  torqueTrial,
} from "./programs.js";
export { type RandomBench, randomBench } from "./randomBench.js";
export type { SimulationOptions } from "./settled.js";
export { simulate } from "./simulate.js";
