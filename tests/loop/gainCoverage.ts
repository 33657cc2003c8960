/**
 * Calibration of `identifyGains` on made-up benches: how often the true gains lie within their intervals (95 % claimed), and how well the model explains the
 * trial. Run by hand: `npx tsx tests/loop/gainCoverage.ts`. Stored result (seeds 1 to 30): kp 30 of 30, ki 30 of 30.
 */
import { identifyGains } from "../../lib/loop/index.js";
import { randomBench, simulate } from "../../lib/machine/index.js";
import { cutTrials, recordingFromTrace } from "../../lib/recording/index.js";

let [tried, kpInside, kiInside] = [0, 0, 0];
for (let seed = 1; seed <= 30; seed++) {
  const made = randomBench(seed, { fault: "none" });
  const trace = simulate(made.bench, [...made.torqueProgram, ...made.speedProgram], {
    logRate: made.logRate,
    currentNoise: made.currentNoise,
    startAngle: made.startAngle,
    seed,
  });
  const recording = recordingFromTrace(trace, made.bench);
  const trial = cutTrials(recording).trials.find((t) => t.kind === "speed");
  if (!trial) continue;
  const { kp, ki, missing } = identifyGains(recording, trial);
  const truth = made.bench.drive.speedLoop;
  tried++;
  if (kp && ki) {
    if (kp.low <= truth.kp && truth.kp <= kp.high) kpInside++;
    if (ki.low <= truth.ki && truth.ki <= ki.high) kiInside++;
    console.log(seed, (kp.value / truth.kp).toFixed(4), (ki.value / truth.ki).toFixed(4));
  } else console.log(seed, missing);
}
console.log(`${tried} trials: kp inside ${kpInside}, ki inside ${kiInside}`);
