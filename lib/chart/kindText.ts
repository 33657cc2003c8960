import type { Trial } from "../recording/types.js";

/** A kind of trial in words. */
export function kindText(kind: Trial["kind"]): string {
  const words: Readonly<Record<Trial["kind"], string>> = {
    torque: "torque trial",
    voltage: "voltage trial",
    duty: "duty trial",
    speed: "speed trial",
    position: "position trial",
    held: "torque on a held shaft",
    motion: "motion",
    coast: "coast-down",
    driven: "turned from outside",
    "hand-turn": "hand turn",
    "alignment-sweep": "alignment sweep",
    idle: "idle",
    unknown: "unknown trial",
  };
  return words[kind];
}
