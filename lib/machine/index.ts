export type { DriveFacts, EncoderFacts, LeadOrder, MachineFacts } from "./facts.js";
export { leadOrders } from "./facts.js";
