import { describe, expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import { type Columns, madeRecording } from "../house/madeRecording.js";
import { gaussian, seeded } from "./secondBench.js";

/** What a plant is made of; torque = kt i cos(n theta + eps), theory of lead orders. */
interface Plant {
  readonly gain: number;
  readonly n?: number;
  readonly eps?: number;
  readonly load?: number;
  readonly friction?: number;
  readonly start?: number;
}

/** An inertia of one under a current, with a constant load and dry friction, by small steps of time. */
function turn(time: Float64Array, current: (t: number, w: number) => number, plant: Plant) {
  const { gain, n = 0, eps = 0, load = 0, friction = 0, start = 0 } = plant;
  let [w, q] = [start, 0];
  const out = {
    speed: new Float64Array(time.length),
    position: new Float64Array(time.length),
    current: new Float64Array(time.length),
  };
  const parts = 20;
  time.forEach((t, k) => {
    const dt = k > 0 ? (t - time[k - 1]) / parts : 0;
    for (let j = 0; j < parts && k > 0; j += 1) {
      const drive = gain * current(t, w) * Math.cos(n * q + eps) - load;
      if (Math.abs(w) < 1e-3 && Math.abs(drive) <= friction) w = 0;
      else w += dt * (drive - friction * Math.sign(w || drive));
      q += dt * w;
    }
    out.speed[k] = w;
    out.position[k] = q;
    out.current[k] = current(t, w);
  });
  return out;
}

const time = Float64Array.from({ length: 1400 }, (_, i) => i * 1e-3);
const noisy = (values: Float64Array, size: number): Float64Array => {
  const random = seeded(171);
  return values.map((v) => v + size * gaussian(random));
};
const counted = (values: Float64Array, counts: number): Float64Array =>
  values.map((v) => (Math.round((v * counts) / (2 * Math.PI)) * 2 * Math.PI) / counts);
function judged(columns: Columns, clock = time) {
  const { trials, findings } = diagnose([{ recording: madeRecording(clock, columns) }] as never)
    .recordings[0];
  const asked = trials.filter(({ kind }) => !["idle", "coast", "driven", "hand-turn"].includes(kind));
  return { trials: asked, findings, words: asked.map(({ verdict }) => verdict) };
}

describe("a hoist: a weight draws the drum one way, and its current holds it at first", () => {
  const asked = (t: number): number => (t < 0.3 ? 3 : t < 0.6 ? 9 : t < 0.8 ? 3 : t < 1.05 ? -2 : 3);
  const told = (eps: number) => {
    const motion = turn(time, asked, { gain: 300, load: 900 * Math.cos(eps), friction: 60, eps });
    const current = noisy(motion.current, 0.03);
    const speed = noisy(motion.speed, 0.2);
    return judged({ currentCommand: motion.current, current, speed });
  };
  test("each change of the torque changes the acceleration, with its command or against it", () => {
    expect(told(0).words).toEqual(["tracking"]);
    expect(told(Math.PI).words).toEqual(["reversed"]);
  });
  test("one that only falls, with two phases swapped, tells nothing of the torque's sense", () => {
    const motion = turn(time, asked, { gain: 300, load: 900, friction: 60, n: 8, eps: 1 });
    const current = noisy(motion.current, 0.03);
    expect(
      judged({ currentCommand: motion.current, current, position: motion.position }).words,
    ).not.toContain("tracking");
  });
});

describe("a heavy shaft in a short trial, on a coarse encoder", () => {
  const clock = Float64Array.from({ length: 300 }, (_, i) => i * 1e-3);
  const asked = (t: number): number => (t < 0.02 ? 0 : t < 0.12 ? 4 : t < 0.22 ? -4 : 0);
  test("moves as an inertia does and is not blocked, nor is its sense sure", () => {
    const motion = turn(clock, asked, { gain: 2.2, friction: 1 });
    const current = noisy(motion.current, 0.03);
    const position = counted(motion.position, 1024);
    const { trials } = judged({ currentCommand: motion.current, current, position }, clock);
    expect(trials.map(({ verdict }) => verdict)).not.toContain("blocked");
    for (const { confidence } of trials) expect(confidence).toBeLessThan(0.8);
  });
});

test("a shaft that turns back under a steady command is not said to turn with it", () => {
  // Two phases swapped, little friction: it swings about a rest angle, slowly beside the length of the commands.
  const asked = (t: number): number => (t < 0.1 ? 0 : t < 0.5 ? 4 : t < 0.9 ? -4 : 0);
  const motion = turn(time, asked, { gain: 18, friction: 2, n: 4, eps: -1.4 });
  const seen = judged({
    currentCommand: motion.current,
    current: noisy(motion.current, 0.03),
    position: counted(motion.position, 4096),
  });
  expect(seen.words).not.toContain("tracking");
  expect(seen.words).not.toContain("reversed");
});

describe("a speed loop whose drive tells more than its steps", () => {
  const clock = Float64Array.from({ length: 1400 }, (_, i) => i * 5e-3);
  const asked = clock.map((t) => (t < 0.3 ? 0 : t < 3 ? 90 : t < 6 ? -90 : 0));
  const loop = (gain: number) => {
    const reference = (t: number): number => (t < 0.3 ? 0 : t < 3 ? 90 : t < 6 ? -90 : 0);
    const press = (t: number, w: number): number => Math.max(-5, Math.min(5, 2 * (reference(t) - w)));
    const motion = turn(clock, press, { gain, friction: 1 });
    return judged(
      { speedCommand: asked, speed: noisy(motion.speed, 0.2), current: noisy(motion.current, 0.05) },
      clock,
    );
  };
  test("on its way at its current limit it tracks, not surely", () => {
    const { trials, words } = loop(4);
    expect(words).toEqual(["tracking"]);
    expect(trials[0].confidence).toBeLessThan(0.9);
  });
  test("with the torque against its command it runs away", () => {
    expect(loop(-12).words).toEqual(["runaway"]);
  });
});

describe("a command and its measured value in each other's column", () => {
  const asked = time.map((t) => (t < 0.2 ? 0 : t < 0.7 ? 60 : t < 1.2 ? -60 : 0));
  const loop = (gain: number) => {
    const reference = (t: number): number => (t < 0.2 ? 0 : t < 0.7 ? 60 : t < 1.2 ? -60 : 0);
    const press = (t: number, w: number): number => Math.max(-5, Math.min(5, 0.5 * (reference(t) - w)));
    return turn(time, press, { gain, friction: 20 });
  };
  test("a shaft that stands under a stepped command is no shaft that steps", () => {
    const standing = time.map(() => 0);
    const current = noisy(
      asked.map((v) => v / 12),
      0.05,
    );
    const { words, findings } = judged({
      speedCommand: standing,
      speed: asked,
      current,
      currentCommand: current,
    });
    expect(words).not.toContain("tracking");
    expect(findings.map(({ code }) => code)).toContainEqual(expect.stringMatching(/^exchange/));
  });
  test("one that follows is judged with the two put right, and the reader is told", () => {
    const { speed, current } = loop(200);
    const { words, findings, trials } = judged({ speedCommand: noisy(speed, 0.3), speed: asked, current });
    expect(words).toEqual(["tracking"]);
    expect(trials[0].confidence).toBeLessThanOrEqual(0.85);
    expect(findings.some(({ code }) => code === "exchanged")).toBe(true);
  });
  test("in their own columns nothing is found, on whatever clock", () => {
    const { speed, current } = loop(200);
    for (const every of [1, 10, 100]) {
      const some = (d: Float64Array) => Float64Array.from([...d].filter((_, i) => i % every === 0));
      const columns = { speedCommand: some(asked), speed: some(noisy(speed, 0.3)), current: some(current) };
      const codes = judged(columns, some(time)).findings.map(({ code }) => code);
      expect(codes.filter((code) => code.startsWith("exchange"))).toEqual([]);
    }
  });
});

test("a dead speed channel is told by a drive that presses on one way after its reference was reversed", () => {
  const clock = time;
  const asked = clock.map((t) => (t < 0.1 ? 0 : t < 0.6 ? 70 : -70));
  const pressed = noisy(
    clock.map((t) => (t < 0.1 ? 0 : 4.5)),
    0.03,
  );
  const turned = noisy(
    asked.map((v) => v / 16),
    0.03,
  );
  const speed = clock.map(() => 0);
  expect(judged({ speedCommand: asked, speed, current: pressed }).words).toEqual(["undetermined"]);
  expect(judged({ speedCommand: asked, speed, current: turned }).words).toEqual(["blocked"]);
});

test("a command hardly above the noise of the measured current drives nothing that friction could not hold", () => {
  const weak = time.map((t) => (t < 0.3 ? 0 : 0.025));
  const position = time.map(() => 0);
  expect(judged({ currentCommand: weak, current: noisy(weak, 0.009), position }).words).toEqual([
    "undetermined",
  ]);
});
