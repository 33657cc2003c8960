import { dc, joint } from "../answers/cases.js";
import { sameWheneverStarted } from "../house/laterClock.js";

sameWheneverStarted([
  dc(1101, "step", ["voltage", "current", "speed"]),
  dc(1102, "stairs", ["duty", "speed"], 0.005),
  dc(1113, "slow", ["voltage", "current", "speed", "position"]),
  dc(1114, "random", ["voltage", "speed"]),
  joint(1101),
]);
