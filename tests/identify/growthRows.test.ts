import { expect, test } from "vitest";
import { growthFromTrial } from "../../lib/control/index.js";
import { growthTime } from "../../lib/control/margins/growthTime.js";
import { runOf } from "../../lib/run/index.js";
import { gaussian, seeded } from "../diagnosis/secondBench.js";
import { madeRecording } from "../house/madeRecording.js";

const [inertia, torqueConstant, kp, ki, limit] = [1e-4, 0.1, 0.03, 0.3, 10];
const truth = growthTime({ inertia, torqueConstant, torqueGain: -1 }, { kp, ki })!.value;

/** A speed loop whose torque is against its command, 4,000 rows a second; the voltage carries so much current at
 * most. */
function runaway(reference: number, carried: (speed: number) => number, noise = 0.02) {
  const random = seeded(3);
  const [step, every, n] = [1e-5, 25, 1600];
  const columns = ["time", "speedCommand", "speed", "currentCommand", "current"].map(
    () => new Float64Array(n),
  );
  let [w, sum] = [0, 0];
  for (let k = 0; k < n; k++) {
    const t = k * step * every;
    const r = t < 0.05 ? 0 : reference;
    for (let j = 0; j < every; j++) {
      const wanted = kp * (r - w) + sum;
      const command = Math.max(-limit, Math.min(limit, wanted));
      if (command === wanted) sum += ki * (r - w) * step;
      const current = Math.sign(command) * Math.min(Math.abs(command), carried(Math.abs(w)));
      if (j === 0)
        [t, r, w + noise * gaussian(random), command, current + 0.02 * gaussian(random)].forEach((v, c) => {
          columns[c][k] = v;
        });
      w -= ((torqueConstant * current) / inertia) * step;
    }
  }
  const [time, speedCommand, speed, currentCommand, current] = columns;
  const run = runOf(
    madeRecording(
      time,
      { speedCommand, speed, currentCommand, current },
      {},
      { drive: { polePairs: 4, currentLimit: limit } },
    ),
  );
  return growthFromTrial(run, run.trials.find(({ kind }) => kind === "speed")!);
}

test("rows in which the voltage no longer carries the current do not count: the growth is the loop's", () => {
  const whole = runaway(10, () => limit);
  const { growthTime: seen, to } = runaway(10, (w) => Math.max(0, 8 - 0.05 * Math.max(0, w - 120)));
  expect(to!).toBeLessThan(whole.to!);
  for (const found of [whole.growthTime!, seen!]) {
    expect(found.low).toBeLessThan(truth);
    expect(found.high).toBeGreaterThan(truth);
    expect(found.value / truth).toBeCloseTo(1, 1);
  }
});

test("an error that hardly grows before the limit does not tell how fast it grows", () => {
  const { growthTime: found, missing } = runaway((0.85 * limit) / kp, () => limit, 0.5);
  expect(found).toBeUndefined();
  expect(missing).toContain("a straight line would do as well");
});
