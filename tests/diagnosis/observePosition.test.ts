import { describe, expect, test } from "vitest";
import { observePosition } from "../../lib/diagnosis/observePosition.js";
import type { TrialSignals } from "../../lib/run/trialSignals.js";

// Positions written down as functions of time, and what they show of a shaft that was asked to go somewhere.

const n = 400;
const dt = 0.01;
const turn = 2 * Math.PI;
type Motion = (t: number, i: number) => number;
const of = (motion: Motion): Float64Array => Float64Array.from({ length: n }, (_, i) => motion(i * dt, i));
/** One rad from half a second on. */
const step: Motion = (t) => (t < 0.5 ? 0 : 1);
/** One rad, and back from 2.5 s on. */
const pulse: Motion = (t) => (t < 0.5 || t >= 2.5 ? 0 : 1);
/** How a loop of a time constant of 80 ms goes to a step at a time. */
const rise = (t: number, at: number): number => (t < at ? 0 : 1 - Math.exp((at - t) / 0.08));

interface Asked {
  readonly command?: Motion;
  readonly angle: Motion;
  readonly inner?: Motion;
  readonly wrap?: number;
  readonly step?: number;
}
function seen({ command = step, angle, inner, wrap, step: angleStep = 1e-3 }: Asked) {
  const position = of(angle);
  const speed = position.map((v, i) => (i === 0 ? 0 : (v - position[i - 1]) / dt));
  const signals: TrialSignals = {
    time: of((t) => t),
    period: dt,
    command: of(command),
    commandRole: "positionCommand",
    angle: position,
    speed,
    motionFrom: "position",
    angleStep,
    speedNoise: 0.01,
    unsignedCurrent: false,
  };
  return observePosition(signals, inner && of(inner), wrap);
}
const verdict = (asked: Asked): string => {
  const { verdict: word, behaviour, sense } = seen(asked);
  return `${word} ${behaviour} ${sense}`;
};
/** The same with both turned round, counted from elsewhere, or of another size: none may change what is seen. */
function alike(asked: Asked): string {
  const { command = step, angle, inner } = asked;
  const found = verdict(asked);
  const minus =
    (motion: Motion): Motion =>
    (t, i) =>
      -motion(t, i);
  const away =
    (motion: Motion): Motion =>
    (t, i) =>
      motion(t, i) + 7;
  const turned = { ...asked, command: minus(command), angle: minus(angle), inner: inner && minus(inner) };
  expect(verdict(turned)).toBe(found);
  expect(verdict({ ...asked, command: away(command), angle: away(angle) })).toBe(found);
  // Nor does the size of the step tell anything, in whatever unit the drive's effort is.
  for (const size of [0.3, 6]) {
    const sized =
      (motion: Motion): Motion =>
      (t, i) =>
        size * motion(t, i);
    const [own, step1] = [{ command: sized(command), angle: sized(angle) }, size * (asked.step ?? 1e-3)];
    expect(verdict({ ...asked, ...own, inner: inner && sized(inner), step: step1 })).toBe(found);
  }
  return found;
}

describe("a shaft that goes where it is asked", () => {
  test("follows, early or late, to a step and back again", () => {
    expect(alike({ angle: (t) => rise(t, 0.5) })).toBe("tracking follows with");
    expect(alike({ command: pulse, angle: (t) => rise(t, 0.5) - rise(t, 2.5) })).toBe(
      "tracking follows with",
    );
    expect(alike({ command: (t) => Math.sin(3 * t), angle: (t) => 0.97 * Math.sin(3 * t - 0.05) })).toBe(
      "tracking follows with",
    );
    expect(seen({ angle: (t) => rise(t, 0.5) }).text).toContain("(57.3 deg asked)");
  });

  test("it is said that a position tells no cause, and what was measured", () => {
    const { missing, evidence } = seen({ angle: (t) => rise(t, 0.5) });
    expect(missing.at(-1)).toContain("a torque trial of the same order");
    expect(evidence[0].value).toBeCloseTo(1, 1);
    expect(evidence[0].meaning).toBe("follows");
    expect(evidence[1].value).toBeCloseTo(0, 6);
    expect(evidence[1].meaning).toBe("the position is reached");
    const stays = seen({ angle: () => 0 });
    expect(stays.evidence.slice(0, 2).map(({ meaning }) => meaning)).toEqual([
      "does not move",
      "the position is not reached",
    ]);
    expect(stays.evidence[1].value).toBeCloseTo(-57.3, 1);
    expect(seen({ angle: (t) => 0.5 * rise(t, 0.5) }).evidence[0].meaning).toBe("does not follow");
  });

  test("a command that stands still is gone to from where the shaft was", () => {
    const command: Motion = () => 1;
    expect(verdict({ command, angle: (t) => rise(t, 0.2) })).toBe("tracking follows with");
    expect(verdict({ command, angle: () => 0 })).toMatch(/^blocked still/);
    const there = seen({ command, angle: () => 1 });
    expect(there.verdict).toBe("undetermined");
    expect(there.text).toContain("did not change");
  });
});

describe("a shaft that stays, or is stopped", () => {
  test("stays within its counts, or within a twentieth of what was asked", () => {
    expect(alike({ angle: () => 0 })).toBe("blocked still none");
    expect(alike({ angle: (t) => 0.04 * rise(t, 0.5) })).toBe("blocked still none");
    expect(alike({ angle: (_, i) => 0.1 * (i % 2), step: 0.05 })).toBe("blocked still none");
    expect(seen({ angle: () => 0 }).text).toBe(
      "Blocked: a position change of 57.3 deg was asked and the shaft stayed.",
    );
  });

  test("moves a little and goes no further", () => {
    const rings: Motion = (t) => (t < 0.5 ? 0 : 0.25 * Math.exp((0.5 - t) / 0.3) * Math.sin(12 * (t - 0.5)));
    expect(alike({ angle: rings })).toBe("blocked swings none");
    expect(seen({ angle: rings }).text).toContain("without going there");
  });

  test("a fifth of the way, or three, may be another unit or a stop: that is not told, wherever it is counted from", () => {
    for (const part of [0.2, 0.6]) {
      expect(alike({ angle: (t) => part * rise(t, 0.5) })).toBe("undetermined unclear none");
      const pressing: Motion = (t) => (t < 0.5 ? 0 : 5);
      expect(alike({ angle: (t) => Math.min(part, rise(t, 0.5)), inner: pressing })).toBe(
        "undetermined unclear none",
      );
    }
    expect(seen({ angle: (t) => -0.2 * rise(t, 0.5) }).verdict).toBe("undetermined");
  });
});

describe("a shaft that runs away", () => {
  const away: Motion = (t) => (t < 0.5 ? 0 : -8 * (t - 0.5) ** 2);
  test("goes far from its command, faster and faster", () => {
    expect(alike({ angle: away })).toBe("runaway runs-away none");
    expect(seen({ angle: away }).confidence).toBeGreaterThan(0.9);
    expect(alike({ angle: (t) => (t < 0.5 ? 0 : 8 * (t - 0.5) ** 2) })).toBe("runaway runs-away none");
  });

  test("went the other way and did not come back with its command", () => {
    const rests: Motion = (t) => -4 * rise(t, 0.5);
    expect(alike({ command: pulse, angle: rests })).toBe("runaway runs-away none");
    expect(seen({ command: pulse, angle: rests }).text).toContain(
      "did not come back when its command did; it rests there",
    );
    // A wrong sign comes back with the command.
    expect(seen({ command: pulse, angle: (t) => -2 * (rise(t, 0.5) - rise(t, 2.5)) }).verdict).not.toBe(
      "runaway",
    );
  });

  test("rests far away under a command that stays: the units may differ, or the drive tripped", () => {
    const rests = seen({ angle: (t) => 9 * rise(t, 0.5) + 0.3 * Math.sin(3 * t) * rise(t, 0.5) });
    expect(rests.verdict).not.toBe("tracking");
    const flat = seen({ angle: (t) => -9 * rise(t, 0.5) });
    expect(flat.verdict).not.toBe("tracking");
  });

  test("is driven the other way until the drive cuts out", () => {
    // From rest with an even acceleration, then on at the speed it has.
    const angle: Motion = (t) => (t < 0.5 ? 0 : t < 1.5 ? -2 * (t - 0.5) ** 2 : -2 - 4 * (t - 1.5));
    const inner: Motion = (t) => (t < 0.5 ? 0 : t < 1.5 ? 6 * (t - 0.5) : 0);
    expect(alike({ angle, inner })).toBe("runaway runs-away none");
    expect(seen({ angle, inner }).text).toContain("until the drive cut out");
    const withIt: Motion = (t) => (t < 0.5 ? 0 : t < 1.5 ? 0.5 * (t - 0.5) ** 2 : 0.5 + 0.5 * rise(t, 1.5));
    expect(seen({ angle: withIt, inner }).verdict).not.toBe("runaway");
  });

  test("goes on the other way while its command rests", () => {
    const angle: Motion = (t) => (t < 0.5 ? 0 : -0.9 * (t - 0.5));
    expect(alike({ command: (t) => Math.max(0, Math.min(1, t - 0.5)), angle })).toBe(
      "runaway runs-away none",
    );
  });

  test("presses at its limit against a stop on the wrong side", () => {
    const angle: Motion = (t) => Math.max(-1.2, -3 * Math.max(0, t - 0.5));
    const inner: Motion = (t) => (t < 0.5 ? 0 : 5);
    expect(alike({ angle, inner })).toBe("runaway runs-away none");
    expect(seen({ angle, inner }).text).toContain("presses at its limit without bringing it back");
    expect(seen({ angle: (t) => Math.max(-0.3, angle(t, 0)), inner }).verdict).not.toBe("runaway");
  });
});

describe("what cannot be told", () => {
  test("without a command, or without a motion", () => {
    const signals = { time: of((t) => t), angleStep: 1e-3 } as unknown as TrialSignals;
    expect(observePosition(signals).missing).toEqual(["the position command"]);
    expect(observePosition({ ...signals, command: of(step) }).missing).toEqual([
      "the shaft's position or speed",
    ]);
  });

  test("a motion in another unit at every step: the units are asked for", () => {
    const levels: Motion = (t) => [0, 1, 3, 2, -1, 0.5, 2.5, 0][Math.min(7, Math.floor(t / 0.5))];
    const {
      verdict: word,
      missing,
      text,
    } = seen({ command: levels, angle: (t, i) => levels(t, i) * (180 / Math.PI) });
    expect(word).toBe("undetermined");
    expect(missing[0]).toContain("the unit of the position");
    expect(text).toContain("57.3 times its command at every step");
  });
});

describe("a position that is logged within one turn", () => {
  const levels: Motion = (_, i) => [0.1, 2, 5.5, 3, 6.1, 1, 4, 0.2][Math.floor(i / 50)];
  const apart: Motion = (t, i) => levels(t, i) + (Math.floor(i / 50) >= 2 ? -turn : 0);
  test("stands at its command, whole turns apart: it follows", () => {
    const found = seen({ command: levels, angle: apart, wrap: turn });
    expect(`${found.verdict} ${found.behaviour} ${found.confidence}`).toBe("tracking follows 0.9");
    expect(found.text).toContain("whole wraps of 360 deg apart");
    expect(seen({ command: levels, angle: apart }).text).not.toContain("wraps");
  });
  test("not by two levels, in half of the rows, or without a turn between them", () => {
    const said = (asked: Asked): boolean => seen({ ...asked, wrap: turn }).text.includes("whole wraps");
    expect(said({ command: levels, angle: levels })).toBe(false);
    const two: Motion = (_, i) => (i < 200 ? 0.5 : 5);
    expect(said({ command: two, angle: (t, i) => two(t, i) - (i < 200 ? 0 : turn) })).toBe(false);
    expect(said({ command: levels, angle: (t, i) => apart(t, i) + (i % 4 === 0 ? 1 : 0) })).toBe(false);
    expect(said({ command: levels, angle: (t, i) => apart(t, i) + (i % 8 === 0 ? 1 : 0) })).toBe(true);
    expect(said({ command: (t, i) => 0.1 * levels(t, i), angle: (t, i) => 0.1 * levels(t, i) - turn })).toBe(
      false,
    );
  });
});
