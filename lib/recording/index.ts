export type { Channel, ChannelRole, Finding, Recording, Step, Trial, TrialKind } from "./types.js";
export { siUnits } from "./types.js";
