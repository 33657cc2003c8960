import { expect, test } from "vitest";
import { estimateConstants } from "../../lib/identify/index.js";
import { runOf } from "../../lib/run/index.js";
import { gaussian, seeded } from "../diagnosis/secondBench.js";
import { madeRecording } from "../house/madeRecording.js";

/**
 * A shaft under a current: it rests until the torque is above its stiction, then `J*dw/dt = Kt*i - C`, per ampere of
 * torque: stiction 0.5 A, Coulomb friction 0.4 A, 2000 rad/s2 an ampere. A nudge turns it by hand.
 */
function constantsUnder(current: (t: number) => number, nudge = Number.POSITIVE_INFINITY, seed = 11) {
  const random = seeded(seed);
  const n = 4000;
  const time = Float64Array.from({ length: n }, (_, k) => k * 1e-3);
  const command = time.map(current);
  const angle = new Float64Array(n);
  let [w, at] = [0, 0];
  for (let k = 1; k < n; k++) {
    const i = command[k - 1];
    const pushed = time[k] > nudge && time[k] < nudge + 0.1;
    if (w !== 0 || Math.abs(i) > 0.5) w = Math.max(0, w + 2000 * (i - 0.4) * 1e-3);
    if (pushed) w = 200;
    at += w * 1e-3;
    angle[k] = at;
  }
  const count = (2 * Math.PI) / 4000;
  const recording = madeRecording(
    time,
    {
      currentCommand: command,
      current: command.map((i) => i + 0.02 * gaussian(random)),
      position: angle.map((a) => count * Math.floor(a / count)),
    },
    { resolution: count },
    { drive: { polePairs: 4 } },
  );
  const trial = { kind: "torque", from: 0, to: n, start: 0, end: 4, command: "currentCommand" } as const;
  const run = runOf(recording, [{ ...trial, steps: [], source: "declared" }]);
  return estimateConstants(recording, run.trials).electrical.breakawayCurrent;
}

test("the breakaway current is read off a slow ramp, and not where it stands and the shaft is pushed", () => {
  const ramp = constantsUnder((t) => 0.2 * t);
  expect(ramp!.low).toBeLessThan(0.5);
  expect(ramp!.high).toBeGreaterThan(0.5);
  for (let seed = 1; seed <= 12; seed++)
    expect(constantsUnder((t) => (t > 1.99 ? 0.02 : 0), 2, seed)).toBeUndefined();
});
