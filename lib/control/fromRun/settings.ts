import type { SpeedGains } from "../../motor/speedGains.js";
import type { SpeedLoop } from "../models/speedLoop.js";

/** What a person states about the loop; it goes before what the recording says. */
export interface LoopSettings {
  readonly gains?: SpeedGains;
  readonly currentBandwidth?: number;
  readonly sampleTime?: number;
  readonly computationDelay?: number;
  readonly speedFilter?: number;
  readonly speedMeasurement?: "direct" | "difference";
  readonly integration?: SpeedLoop["integration"];
  readonly positionGain?: number;
  readonly currentLimit?: number;
  readonly countsPerTurn?: number;
  readonly inertia?: number;
  readonly torqueConstant?: number;
  readonly torqueGain?: number;
  readonly viscousFriction?: number;
  readonly coulombFriction?: number;
}
