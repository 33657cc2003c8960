import { bench, servo } from "../answers/cases.js";
import { sameWheneverStarted } from "../house/laterClock.js";

sameWheneverStarted([
  servo(1104, "plateau", "voltages", 0.3),
  servo(1105, "plateau", "torque"),
  servo(1106, "speeds", "plain"),
  servo(1111, "ramp", "torque"),
  bench(1107, "none", "coast"),
]);
