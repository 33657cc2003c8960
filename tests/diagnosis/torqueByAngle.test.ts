import { describe, expect, test } from "vitest";
import { observe } from "../../lib/diagnosis/observe.js";
import { runOf } from "../../lib/run/run.js";
import { recordingOf, trialOf } from "./observed.js";
import { gaussian, seeded } from "./secondBench.js";

interface Shaft {
  /** Torque over inertia, rad/s2 per A, at an angle. */
  readonly torque: (angle: number) => number;
  /** What draws the shaft whatever is commanded, rad/s2. */
  readonly load?: (angle: number) => number;
}

/** One ampere both ways on a shaft of friction 0.2 rad/s2 and losses 0.3/s, stepped by Euler's method at a fifth of the
 * rows. */
function trialOn({ torque, load = () => 0 }: Shaft, seed: number) {
  const normal = (
    (random) => () =>
      gaussian(random)
  )(seeded(seed));
  const rows = 1500;
  const time = Float64Array.from({ length: rows }, (_, k) => k / 1000);
  const command = time.map((t) => (t < 0.1 || t > 1.4 ? 0 : t < 0.6 ? 1 : -1));
  const speed = new Float64Array(rows);
  let [angle, w] = [0.4, 0];
  for (let k = 0; k < rows; k += 1) {
    speed[k] = w + 0.02 * normal();
    for (let step = 0; step < 5; step += 1) {
      w += 2e-4 * (command[k] * torque(angle) + load(angle) - 0.3 * w - 0.2 * Math.tanh(10 * w));
      angle += 2e-4 * w;
    }
  }
  const current = command.map((i) => i + 0.01 * normal());
  const recording = recordingOf(time, { currentCommand: command, current, speed });
  return observe(runOf(recording), { ...trialOf("torque"), to: rows, end: time[rows - 1] });
}

describe("a torque whose sense changes with the angle", () => {
  // Two phases swapped: the drive's angle and the magnets part by 2p electrical turns in a turn of the shaft (theory).
  test.each([
    [2, 1.2],
    [4, 0.3],
    [8, 2.1],
    [14, 4],
  ])("%d times a turn is blocked, however its inertia carries it", (k, phase) => {
    // The commands end before the shaft has swung once about its angle of rest: 9 rad/s for 0.5 s.
    const { verdict, text } = trialOn({ torque: (a) => (81 / k) * Math.cos(k * a + phase) }, 3 + k);
    expect(verdict, text).toBe("blocked");
    expect(text).toMatch(/changes its sense/);
  });

  test.each([1, -1])(
    "a torque that keeps its sense (%d) is not, beside a weight or cogging either",
    (sign) => {
      const loads = [
        () => 0,
        (a: number) => 20 * Math.sin(a),
        (a: number) => 15 * Math.sin(12 * a),
        () => 20,
      ];
      for (const [n, load] of loads.entries()) {
        const { verdict, text } = trialOn({ torque: () => sign * 100, load }, 20 + n);
        expect(verdict, text).toBe(sign > 0 ? "tracking" : "reversed");
      }
    },
  );

  test("one phase open makes a torque of one sense in pulses: not blocked", () => {
    const { verdict } = trialOn({ torque: (a) => 100 * (1 - Math.cos(8 * a + 1)) }, 31);
    expect(verdict).not.toBe("blocked");
  });
});
