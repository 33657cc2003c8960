import { describe, expect, test } from "vitest";
import { observeTorque } from "../../lib/diagnosis/observeTorque.js";
import { bestDirectFit } from "../../lib/identify/commutation/torqueLaw.js";
import { holdsOf } from "../../lib/run/holds.js";
import { runOf } from "../../lib/run/run.js";
import { trialSignals } from "../../lib/run/trialSignals.js";
import { recordingOf, trialOf } from "./observed.js";

// Shafts by their equation of motion, J*dw/dt = Kt*i - friction - losses + what else draws them (any textbook), and
// what their trials show. Turning all of it round, or the angle counted from elsewhere, may change nothing.

const dt = 1e-3;
const n = 4000;
interface Shaft {
  /** Acceleration by one ampere, rad/s2. */
  readonly gain: number;
  readonly losses?: number;
  readonly friction?: number;
  /** Constant acceleration of a load. */
  readonly load?: number;
  /** Acceleration a radian away from where it began. */
  readonly spring?: number;
  /** The torque turns with the angle: so many times in a turn. */
  readonly periods?: number;
  /** It turns one way whatever is asked. */
  readonly ignores?: boolean;
  readonly limit?: number;
}
type Command = (t: number) => number;
const both: Command = (t) => (t < 0.2 ? 0 : t < 1.6 ? 2 : t < 2 ? 0 : t < 3.4 ? -2 : 0);

function motionOf(shaft: Shaft, command: Command, way: number, zero: number) {
  const { gain, losses = 1, friction = 0, load = 0, spring = 0, periods = 0, ignores = false, limit } = shaft;
  let [x, w] = [0, 0];
  const columns = { command: new Float64Array(n), angle: new Float64Array(n) };
  for (let i = 0; i < n; i += 1) {
    const asked = command(i * dt);
    columns.command[i] = way * asked;
    columns.angle[i] = zero + 1e-3 * Math.round((way * x) / 1e-3);
    const torque =
      gain * (ignores ? Math.abs(asked) : asked) * (periods > 0 ? Math.cos(periods * x + 0.5) : 1);
    const drive = torque + load - spring * x - losses * w;
    const stays = Math.abs(w) < friction * dt && Math.abs(drive) <= friction;
    w = stays ? 0 : w + dt * (drive - friction * Math.sign(w || drive));
    if (limit !== undefined) w = Math.max(-limit, Math.min(limit, w));
    x += w * dt;
  }
  return columns;
}
function seen(shaft: Shaft, command: Command = both, way = 1, zero = 0) {
  const { angle, command: asked } = motionOf(shaft, command, way, zero);
  const time = Float64Array.from({ length: n }, (_, i) => i * dt);
  const run = runOf(recordingOf(time, { currentCommand: asked, current: asked, position: angle }));
  const trial = { ...trialOf("torque" as const), to: n, end: n * dt, command: "currentCommand" as const };
  const signals = trialSignals(run, trial);
  const holds = holdsOf(signals, trial, signals.command);
  return observeTorque(signals, holds, bestDirectFit(signals, holds));
}
function alike(shaft: Shaft, command: Command = both): string {
  const said = [seen(shaft, command), seen(shaft, command, -1), seen(shaft, command, 1, 9)];
  // The same motion by other amperes.
  for (const size of [0.2, 30])
    said.push(seen({ ...shaft, gain: shaft.gain / size }, (t) => size * command(t)));
  const words = said.map(({ verdict, behaviour, sense }) => `${verdict} ${behaviour} ${sense}`);
  for (const other of words) expect(other).toBe(words[0]);
  return words[0];
}

describe("a shaft that turns under torque", () => {
  test("with its command, in both senses of it", () => {
    expect(alike({ gain: 60, friction: 5 })).toBe("tracking turns with");
    expect(alike({ gain: 60, friction: 5, losses: 12 })).toBe("tracking turns with");
    const found = seen({ gain: 60, friction: 5 });
    expect(found.bothSenses).toBe(true);
    expect(found.confidence).toBeGreaterThan(0.85);
  });
  test("against its command", () => {
    expect(alike({ gain: -60, friction: 5 })).toBe("reversed turns against");
    expect(seen({ gain: -60, friction: 5 }).text).toContain("AGAINST");
  });
  test("under one command only: the other sense was not tried", () => {
    const one: Command = (t) => (t < 0.2 ? 0 : t < 2 ? 2 : 0);
    const found = seen({ gain: 60, friction: 5 }, one);
    expect(`${found.verdict} ${found.bothSenses}`).toBe("tracking false");
  });
  test("under commands that change faster than it turns round", () => {
    const quick: Command = (t) => (t < 0.2 ? 0 : Math.sin(17 * t) + Math.sin(29 * t + 1) > 0 ? 2 : -2);
    expect(alike({ gain: 80, losses: 2 }, quick)).toBe("tracking turns with");
    expect(alike({ gain: -80, losses: 2 }, quick)).toBe("reversed turns against");
  });
  test("one way whatever is asked of it", () => {
    expect(alike({ gain: 60, friction: 5, ignores: true, losses: 6 })).not.toMatch(/^(tracking|reversed)/);
  });
});

describe("a shaft that stays, or is held somewhere", () => {
  test("does not move", () => {
    expect(alike({ gain: 60, friction: 1e6 })).toBe("blocked still none");
    expect(seen({ gain: 60, friction: 1e6 }).text).toContain("Blocked");
  });
  test("is drawn to an angle of its own: torque that changes its sense with the angle", () => {
    expect(alike({ gain: 200, friction: 6, losses: 6, periods: 4 })).not.toMatch(/^(tracking|reversed)/);
    expect(alike({ gain: 200, friction: 6, losses: 6, periods: 1 })).not.toMatch(/^(tracking|reversed)/);
  });
  test("gives way to its torque as against a spring: torque is made, in its sense", () => {
    const levels: Command = (t) => [0, 1, 3, 2, 0, -2, -1, -3][Math.floor(t / 0.5)] ?? 0;
    const found = seen({ gain: 60, spring: 300, losses: 20 }, levels);
    expect(["tracking", "undetermined"]).toContain(found.verdict);
    if (found.verdict === "tracking") expect(found.sense).toBe("with");
    const turned = seen({ gain: -60, spring: 300, losses: 20 }, levels);
    expect(["reversed", "undetermined"]).toContain(turned.verdict);
    expect(alike({ gain: 60, spring: 300, losses: 20 }, levels)).toBe(
      `${found.verdict} ${found.behaviour} ${found.sense}`,
    );
  });
});

describe("a load that draws the shaft", () => {
  test("does not hide the sense of the torque", () => {
    const levels: Command = (t) => (t < 0.2 ? 0 : t < 1 ? 3 : t < 2 ? 1 : t < 3 ? 3 : 0.5);
    expect(seen({ gain: 40, load: -60, losses: 3 }, levels).verdict).not.toBe("reversed");
    expect(seen({ gain: -40, load: 60, losses: 3 }, levels).verdict).not.toBe("tracking");
  });
  test("that moves the shaft alone says nothing of torque", () => {
    expect(alike({ gain: 0, load: 30, losses: 3 })).not.toMatch(/^(tracking|reversed)/);
  });
});
