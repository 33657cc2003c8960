import { describe, expect, test } from "vitest";
import { type OtherScale, observeSpeed } from "../../lib/diagnosis/observeSpeed.js";
import { holdsOf } from "../../lib/run/holds.js";
import type { TrialSignals } from "../../lib/run/trialSignals.js";
import { trialOf } from "./observed.js";

// Speeds written down as functions of time, and what they show of a loop or of a drive without one.

const n = 1200;
const dt = 5e-3;
type Motion = (t: number) => number;
const of = (motion: Motion): Float64Array => Float64Array.from({ length: n }, (_, i) => motion(i * dt));
const lag = (t: number, at: number): number => (t < at ? 0 : 1 - Math.exp((at - t) / 0.1));
/** To 100 at 1 s, to -60 at 3 s, to nothing at 5 s: asked, and as a loop of a tenth of a second answers. */
const command: Motion = (t) => (t < 1 ? 0 : t < 3 ? 100 : t < 5 ? -60 : 0);
const answer: Motion = (t) => 100 * lag(t, 1) - 160 * lag(t, 3) + 60 * lag(t, 5);

const times =
  (motion: Motion, factor: number): Motion =>
  (t) =>
    factor * motion(t);

interface Made {
  readonly command?: Motion;
  readonly speed: Motion;
  readonly scale?: OtherScale;
  readonly current?: Motion;
  readonly less?: Partial<TrialSignals>;
}
function seen({ command: asked = command, speed, scale, current, less = {} }: Made) {
  const columns = { command: of(asked), speed: of(speed) };
  let x = 0;
  const angle = columns.speed.map((w) => {
    x += w * dt;
    return x;
  });
  const signals: TrialSignals = {
    time: of((t) => t),
    period: dt,
    ...columns,
    commandRole: "speedCommand",
    angle,
    current: current && of(current),
    motionFrom: "position",
    angleStep: 1e-3,
    speedNoise: 0.05,
    unsignedCurrent: false,
    ...less,
  };
  const trial = { ...trialOf("speed" as const), to: n, end: n * dt };
  return observeSpeed(signals, signals.command ? holdsOf(signals, trial) : [], scale);
}
/** What is seen, which may not depend on how fast the shaft is altogether. */
const verdict = (made: Made): string => {
  const { command: asked = command, speed, less } = made;
  const words = [1, 0.05, 12].map((size) => {
    const noise = { speedNoise: 0.05 * size, angleStep: 1e-3 * size };
    const found = seen({
      ...made,
      command: times(asked, size),
      speed: times(speed, size),
      less: { ...noise, ...less },
    });
    return `${found.verdict} ${found.sense}`;
  });
  for (const other of words) expect(other).toBe(words[0]);
  return words[0];
};

describe("a speed under control", () => {
  test("follows its command, in either sense", () => {
    expect(verdict({ speed: answer })).toBe("tracking with");
    expect(verdict({ command: times(command, -1), speed: times(answer, -1) })).toBe("tracking with");
    expect(verdict({ command: (t) => 80 * Math.sin(t), speed: (t) => 80 * Math.sin(t - 0.05) })).toBe(
      "tracking with",
    );
  });
  test("stays, or turns the other way", () => {
    expect(verdict({ speed: () => 0 })).toBe("blocked none");
    expect(["reversed", "runaway", "undetermined"]).toContain(seen({ speed: times(answer, -1) }).verdict);
    expect(seen({ speed: times(answer, -1) }).verdict).not.toBe("tracking");
    expect(seen({ speed: (t) => (t < 1 ? 0 : -200 * (t - 1)) }).verdict).toBe("runaway");
  });
  test("without a command, or a motion, nothing is said", () => {
    expect(seen({ speed: answer, less: { command: undefined } }).missing).toEqual(["the speed command"]);
    for (const less of [{ speed: undefined }, { angle: undefined }])
      expect(
        observeSpeed(
          { ...({} as TrialSignals), command: of(command), speed: of(answer), angle: of(answer), ...less },
          [],
        ).missing,
      ).toEqual(["the shaft's position or speed"]);
  });
  test("a command that moves all the time, and is not followed, has no steps to judge by", () => {
    const moves = seen({
      command: (t) => 80 * Math.sin(t),
      speed: (t) => 40 * Math.sin(2.3 * t) + 20 * Math.sin(5.1 * t),
    });
    expect(moves.verdict).toBe("undetermined");
  });
});

describe("a speed beside the frequency that the drive was asked for", () => {
  test.each([1, 2, 4, 7])("follows with the slip of an induction motor, by %d pole pairs", (pairs) => {
    const {
      verdict: word,
      confidence,
      text,
      missing,
      behaviour,
    } = seen({ speed: times(answer, 0.96 / pairs), scale: "frequency" });
    expect(`${word} ${behaviour}`).toBe("tracking follows");
    if (pairs === 1) return;
    expect(confidence).toBe(0.8);
    expect(text).toContain(`as with ${pairs} pole pairs`);
    expect(missing).toEqual(["the number of pole pairs"]);
  });

  test("not by a part that no number of pole pairs makes", () => {
    expect(seen({ speed: times(answer, 0.7 / 2), scale: "frequency" }).text).not.toContain("pole pair");
    expect(seen({ speed: times(answer, 1 / 70), scale: "frequency" }).text).not.toContain("pole pair");
  });

  test("turns against it, steadily, as with two leads exchanged", () => {
    const against = seen({ speed: times(answer, -0.48), scale: "frequency" });
    expect(against.verdict).not.toBe("tracking");
    if (against.verdict === "reversed") expect(against.sense).toBe("against");
  });
});

describe("a speed whose unit is a guess", () => {
  test("goes in proportion to its command: it follows, no surer than the guess", () => {
    const {
      verdict: word,
      confidence,
      text,
      missing,
    } = seen({ speed: times(answer, 0.105), scale: "assumed" });
    expect(word).toBe("tracking");
    expect(confidence).toBe(0.7);
    expect(text).toContain("Follows its command in proportion (0.105 times it");
    expect(missing).toEqual(["the units of speed and command"]);
  });
  test("of a unit that was stated, or a motion of its own, nothing is claimed so", () => {
    expect(seen({ speed: times(answer, 0.105) }).text).not.toContain("in proportion");
    expect(seen({ speed: times(answer, -0.105), scale: "assumed" }).text).not.toContain("in proportion");
    expect(seen({ speed: (t) => 30 * Math.sin(9 * t), scale: "assumed" }).text).not.toContain(
      "in proportion",
    );
  });
});
