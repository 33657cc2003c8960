import { describe, expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import { type Columns, madeRecording } from "../house/madeRecording.js";

const time = Float64Array.from({ length: 600 }, (_, i) => i * 1e-3);
/** A move of 4 rad there and back, by a profile. */
const command = time.map((t) =>
  t < 0.1 ? 0 : t < 0.3 ? 20 * (t - 0.1) : t < 0.35 ? 4 : t < 0.45 ? Math.max(0, 4 - 40 * (t - 0.35)) : 0,
);

const judged = (position: Float64Array) => {
  const columns: Columns = { positionCommand: command, position };
  const [trial] = diagnose([{ recording: madeRecording(time, columns) }] as never).recordings[0].trials;
  return trial;
};

/** Integrates an acceleration of the error of position, with friction, until it trips. */
function driven(stiffness: number, trip = Number.POSITIVE_INFINITY): Float64Array {
  const out = new Float64Array(time.length);
  let [at, speed] = [0, 0];
  for (let i = 1; i < time.length; i += 1) {
    const error = command[i] - at;
    const on = Math.abs(error) < trip;
    const push = on ? Math.max(-2000, Math.min(2000, stiffness * error - 30 * speed)) : 0;
    speed += 1e-3 * (push - (on ? 0 : 60 * speed));
    at += 1e-3 * speed;
    out[i] = at;
  }
  return out;
}

test("a shaft that goes against its position command and rests far away when the drive trips ran away", () => {
  const position = driven(-400, 8);
  expect(position.at(-1)).toBeLessThan(-6);
  expect(judged(position).verdict).toBe("runaway");
});

test("a sign that is turned comes back with its command: no runaway", () => {
  const right = driven(900);
  expect(judged(right).verdict).toBe("tracking");
  expect(judged(right.map((v) => -v)).verdict).not.toBe("runaway");
  expect(judged(right.map((v) => -4.2 * v)).verdict).not.toBe("runaway");
});

describe("a step of position that is not taken back", () => {
  const step = time.map((t) => (t < 0.1 ? 0 : 4));
  /** A loop of that stiffness; the effort, held at its limit, ends when the error is too large, or never. */
  function logged(
    stiffness: number,
    trip: number,
    drag = 0,
  ): { position: Float64Array; current: Float64Array } {
    const position = new Float64Array(time.length);
    const current = new Float64Array(time.length);
    let [at, speed, on] = [0, 0, true];
    for (let i = 1; i < time.length; i += 1) {
      const error = step[i] - at;
      on = on && Math.abs(error) < trip;
      current[i] = on
        ? Math.max(-5, Math.min(5, 5 * (Math.abs(stiffness) * error - 0.06 * Math.abs(stiffness) * speed)))
        : 0;
      const push = Math.sign(stiffness) * 60 * current[i] - drag * speed;
      speed += 1e-3 * push;
      at += 1e-3 * speed;
      position[i] = at;
    }
    return { position, current };
  }
  const said = ({ position, current }: ReturnType<typeof logged>, scale = 1) => {
    const columns: Columns = { positionCommand: step, position: position.map((v) => v * scale), current };
    return diagnose([{ recording: madeRecording(time, columns) }] as never).recordings[0].trials[0].verdict;
  };

  test("driven the other way until the drive cuts out, then coasting: runaway", () => {
    expect(said(logged(-1, 7, 4))).toBe("runaway");
  });

  test("an arrival is none, with either sign and in any scale", () => {
    const arrives = logged(1, Number.POSITIVE_INFINITY);
    expect(said(arrives)).toBe("tracking");
    for (const scale of [-1, -2.4, -4.2, 3]) expect(said(arrives, scale)).not.toBe("runaway");
  });

  test("a shaft far on the other side under a drive at its limit: runaway", () => {
    const { position, current } = logged(-1, Number.POSITIVE_INFINITY, 4);
    // A stop of the joint.
    expect(said({ position: position.map((v) => Math.max(v, -9.5)), current })).toBe("runaway");
  });
});
