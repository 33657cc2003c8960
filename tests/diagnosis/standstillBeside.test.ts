import { describe, expect, test } from "vitest";
import type { Observation } from "../../lib/diagnosis/observe.js";
import { doubtStandstill, doubtWitness } from "../../lib/diagnosis/standstill.js";
import type { Trial } from "../../lib/recording/types.js";
import type { Hold } from "../../lib/run/holds.js";
import { runOf } from "../../lib/run/run.js";
import { trialSignals } from "../../lib/run/trialSignals.js";
import { uniforms } from "../house/uniforms.js";
import { type Columns, hold, recordingOf, seen, trialOf } from "./observed.js";

// A motion that stands as it was logged, beside channels that say something else of the shaft, and beside ones that do
// not.

const n = 1200;
const random = uniforms(5);
const of = (value: (i: number) => number, count = n): Float64Array =>
  Float64Array.from({ length: count }, (_, i) => value(i));
const noise = of(() => random() - 0.5);
const count = 1e-3;
/** A sound encoder at rest: now and then a count to and fro. */
const rest = of((i) => (i % 97 < 3 ? count : 0));
const dead = of(() => 0);
/** Two amperes, then as much the other way. */
const asked = of((i) => (i < 100 ? 0 : i < 650 ? 2 : -2));
const current = asked.map((v, i) => v + 0.02 * noise[i]);

interface Made {
  readonly kind?: Trial["kind"];
  readonly columns: Columns;
  readonly behaviour?: Observation["behaviour"];
  readonly trial?: Partial<Trial>;
  readonly verdict?: Observation["verdict"];
  readonly holds?: readonly Hold[];
  readonly step?: number;
}
function made({
  kind = "torque",
  columns,
  behaviour = "still",
  trial: change,
  verdict = "blocked",
  holds,
  step = count,
}: Made) {
  const length = Object.values(columns)[0].length;
  const run = runOf(
    recordingOf(
      of((i) => i / 1000, length),
      columns,
    ),
  );
  const command =
    kind === "speed"
      ? "speedCommand"
      : kind === "position"
        ? "positionCommand"
        : columns.currentCommand && "currentCommand";
  const trial: Trial = { ...trialOf(kind), to: length, end: length / 1000, command, ...change };
  const signals = { ...trialSignals(run, trial), angleStep: step };
  const base = seen("torque", behaviour, { verdict, confidence: 0.9, text: "Blocked.", sense: "none" });
  const observation: Observation = {
    ...base,
    trial,
    signals,
    holds: holds ?? [hold({ from: 100, to: 650 }), hold({ from: 650, to: 1200, sense: -1 })],
  };
  return { run, observation, trial };
}
const judged = (given: Made): Observation => {
  const { run, observation, trial } = made(given);
  return doubtStandstill(run, observation, trial);
};
/** The verdict, and what it says in doubt. */
const said = (given: Made): string => {
  const { verdict, text } = judged(given);
  return `${verdict}: ${text}`;
};

describe("a shaft that stands, and nothing says otherwise", () => {
  const columns = { currentCommand: asked, current, position: rest };
  test("is blocked, and its encoder lives", () => {
    const found = judged({ columns });
    expect(found.verdict).toBe("blocked");
    expect(found.unmoved).toBeUndefined();
    expect(found.text).toBe("Blocked.");
  });

  test("of an encoder that shows not a count one in ten is dead: nine tenths of the confidence are left", () => {
    const found = judged({ columns: { ...columns, position: dead } });
    expect(found.verdict).toBe("blocked");
    expect(found.confidence).toBeCloseTo(0.9 * judged({ columns }).confidence, 12);
    expect(found.unmoved).toEqual({ column: "position", contradicted: false });
    expect(found.missing).toEqual([
      "a position or speed that answers: turn the shaft by hand and look whether it is counted (a dead encoder looks the same)",
    ]);
  });

  test("a drive of which no effort was logged may have been off", () => {
    const driven = { speedCommand: asked, position: rest };
    const [bare, powered] = [driven, { ...driven, current }].map((all) =>
      judged({ kind: "speed", columns: all }),
    );
    expect(powered.verdict).toBe("blocked");
    expect(bare.confidence).toBeCloseTo(0.84 * 0.9, 12);
    expect(bare.missing).toEqual(["a current, which shows that the drive was on"]);
  });

  test("a verdict other than blocked is left as it is", () => {
    const given = made({ columns: { ...columns, position: dead }, verdict: "tracking" });
    expect(doubtStandstill(given.run, given.observation, given.trial)).toBe(given.observation);
  });
});

describe("a current", () => {
  const of3 = (current: Float64Array) => ({ columns: { currentCommand: asked, current, position: dead } });
  test("that never flowed: nothing was tried", () => {
    expect(said(of3(noise.map((v) => 0.002 * v)))).toMatch(
      /^undetermined: The shaft stood, and no current flowed/,
    );
  });

  test("that comes up and falls far below its command, to something: the shaft turns", () => {
    const falls = (left: number, peak = 1, rows = 120): Float64Array =>
      asked.map(
        (v, i) =>
          v * (left + (peak - left) * Math.exp(-((i - (i < 650 ? 100 : 650)) / rows))) + 0.02 * noise[i],
      );
    expect(said(of3(falls(0.3)))).toMatch(/^undetermined: .*current falls below its command/);
    const found = judged(of3(falls(0.3)));
    expect(found.unmoved).toEqual({ column: "position", contradicted: true });
    expect(found.behaviour).toBe("unclear");
    expect(found.holds).toEqual([]);
    // Still most of it, or never up, or gone altogether.
    expect(judged(of3(falls(0.7))).verdict).toBe("blocked");
    expect(said(of3(falls(0.3, 0.3)))).not.toContain("falls below");
    expect(said(of3(falls(0, 1, 40)))).not.toContain("falls below");
  });
});

describe("a drive that eases off while its command is held", () => {
  const speedCommand = of((i) => (i < 100 ? 0 : 40));
  const inner = (late: number): Float64Array =>
    of((i) => (i < 100 ? 0 : i < 500 ? 5 : late) + 0.01 * noise[i]);
  const given = (late: number, kind: Trial["kind"] = "speed", command = speedCommand): Made => ({
    kind,
    columns: {
      [kind === "speed" ? "speedCommand" : "positionCommand"]: command,
      currentCommand: inner(late),
      position: dead,
    },
    holds: [hold({ from: 100, to: 1200, level: 40 })],
  });
  test("sees the shaft arrive", () => {
    expect(said(given(1))).toMatch(/^undetermined: The logged motion stands still, but the drive eases off/);
    expect(said(given(1))).toContain('("currentCommand")');
    expect(said(given(1, "position"))).toContain("the drive eases off");
    expect(
      said(
        given(
          1,
          "position",
          speedCommand.map((v) => v + 300),
        ),
      ),
    ).toContain("the drive eases off");
  });
  test("not one that presses on, or gives up altogether", () => {
    expect(said(given(5))).not.toContain("eases off");
    expect(said(given(3))).not.toContain("eases off");
    expect(said({ ...given(1), kind: "torque" })).not.toContain("eases off");
    const gone = { ...given(1).columns, currentCommand: of((i) => (i < 100 || i >= 500 ? 0 : 5)) };
    expect(said({ ...given(1), columns: gone })).not.toContain("eases off");
  });
});

describe("a count that stops dead", () => {
  const stops = (at: number, pace: (i: number) => number): Float64Array => {
    let x = 0;
    return of((i) => {
      if (i > 100 && i <= at) x += pace(i);
      return x;
    });
  };
  const columns = (position: Float64Array) => ({ currentCommand: asked, current, position });
  const abrupt = stops(600, (i) => 0.02 * Math.min(1, (i - 100) / 200));
  test("from its full speed within one sample: a channel that stopped counting looks like that", () => {
    const found = judged({ columns: columns(abrupt), behaviour: "locks" });
    expect(found.text).toContain("from speed to standing within one sample");
    expect(found.behaviour).toBe("locks");
    expect(found.verdict).toBe("undetermined");
  });
  test("not one that slows down, or has only just stopped", () => {
    const slows = stops(600, (i) => 0.02 * Math.min(1, (600 - i) / 40));
    expect(judged({ columns: columns(slows), behaviour: "locks" }).verdict).toBe("blocked");
    const late = stops(1150, (i) => 0.02 * Math.min(1, (i - 100) / 200));
    expect(judged({ columns: columns(late), behaviour: "locks" }).verdict).toBe("blocked");
    // A shaft that was seen to change its pace as suddenly before may do it again.
    const jerky = stops(600, (i) => (i % 40 < 20 ? 0.02 : 0.004));
    expect(said({ columns: columns(jerky), behaviour: "locks" })).not.toContain("within one sample");
  });
  test("by few counts: the last came as fast as those before", () => {
    const steady = of((i) => count * Math.floor(Math.min(i, 600) / 3));
    expect(judged({ columns: columns(steady), behaviour: "locks" }).text).toContain("within one sample");
    const slowing = of((i) => count * Math.floor(200 * (1 - (1 - Math.min(i, 600) / 600) ** 2)));
    expect(judged({ columns: columns(slowing), behaviour: "locks" }).verdict).toBe("blocked");
  });
  test("before the trial began", () => {
    const long = of((i) => (i < 500 ? 0.02 * i : 10), 1700);
    const later = {
      currentCommand: of((i) => (i < 600 ? 0 : 2), 1700),
      current: of((i) => (i < 600 ? 0 : 2) + 0.02 * noise[i % n], 1700),
      position: long,
    };
    const found = judged({ columns: later, trial: { from: 600 } });
    expect(found.text).toContain("before this trial");
    expect(found.behaviour).toBe("unclear");
    const slow = long.map((_, i) => (i < 500 ? 5 * (1 - Math.exp(-i / 80)) : 5 * (1 - Math.exp(-500 / 80))));
    expect(judged({ columns: { ...later, position: slow }, trial: { from: 600 } }).text).not.toContain(
      "before this trial",
    );
  });
});

describe("a speed command that was reversed", () => {
  const speedCommand = of((i) => (i < 100 ? 0 : i < 650 ? 40 : -40));
  const given = (effort: (i: number) => number): Made => ({
    kind: "speed",
    columns: { speedCommand, current: of((i) => effort(i) + 0.01 * noise[i]), position: dead },
  });
  test("under which the drive goes on pressing as before: it sees another speed", () => {
    expect(said(given((i) => (i < 100 ? 0 : 5)))).toContain(
      "pressing one way after its speed command was reversed",
    );
  });
  test("under which it presses the other way, or hardly", () => {
    expect(said(given((i) => (i < 100 ? 0 : i < 650 ? 5 : -5)))).not.toContain("pressing one way");
    expect(said(given((i) => (i < 100 ? 0 : i < 650 ? 5 : 1)))).not.toContain("pressing one way");
    expect(said(given((i) => (i < 100 ? 0 : i < 650 ? 5 : i < 850 ? 5 : -5)))).not.toContain(
      "pressing one way",
    );
  });
});

describe("a command that is next to nothing", () => {
  test("beside the noise of the current that was measured", () => {
    const weak = asked.map((v) => 0.05 * v);
    const noisy = weak.map((v, i) => v + 0.1 * noise[i]);
    expect(said({ columns: { currentCommand: weak, current: noisy, position: rest } })).toContain(
      "hardly above the noise",
    );
    const clean = weak.map((v, i) => v + 0.002 * noise[i]);
    expect(said({ columns: { currentCommand: weak, current: clean, position: rest } })).not.toContain(
      "hardly above",
    );
    // What moved and came to rest was driven.
    const moved = [hold({ from: 100, to: 650, swing: 1 })];
    expect(
      said({ columns: { currentCommand: weak, current: noisy, position: rest }, holds: moved }),
    ).not.toContain("hardly above");
  });
  test("beside those elsewhere in the log", () => {
    const command = of((i) => (i < 1000 ? 0.01 * asked[i % n] : 2), 1700);
    const columns = { currentCommand: command, position: of((i) => rest[i % n], 1700) };
    expect(said({ columns, trial: { to: 1000 } })).toContain("next to nothing beside those elsewhere");
    expect(
      said({
        columns: { ...columns, currentCommand: command.map((v, i) => (i < 1000 ? 10 * v : v)) },
        trial: { to: 1000 },
      }),
    ).not.toContain("next to nothing");
  });
  test("and an effort that is no more than its noise, where no command was logged", () => {
    const noisy = { columns: { current: noise.slice(), position: rest } };
    expect(said(noisy)).toContain("no more than noise");
    expect(said({ columns: { current, position: rest } })).not.toContain("no more than noise");
  });
});

describe("a speed that would tell of a runaway", () => {
  const witness = (columns: Columns, verdict: Observation["verdict"] = "runaway"): Observation => {
    const { run, observation } = made({
      kind: "speed",
      columns: { speedCommand: asked, ...columns },
      verdict,
      behaviour: "runs-away",
    });
    return doubtWitness(run, observation);
  };
  test("but keeps one value to the last digit shows no motion", () => {
    const found = witness({ speed: of(() => 48) });
    expect(found.verdict).toBe("undetermined");
    expect(found.sense).toBe("none");
    expect(found.text).toBe(
      '"speed" keeps one value whatever is commanded, to the last digit: it does not show what the shaft did.',
    );
    expect(witness({ speed: of(() => 48) }, "reversed").verdict).toBe("undetermined");
    expect(witness({ speed: of(() => 48) }, "tracking").verdict).toBe("tracking");
  });
  test("or changes by a little beside a position that stands still", () => {
    const bus = of((i) => 48 + 0.3 * noise[i]);
    expect(witness({ speed: bus, position: dead }).text).toContain("The position stands still throughout");
    expect(witness({ speed: bus }).verdict).toBe("runaway");
    expect(witness({ speed: of((i) => 0.2 * i), position: dead }).verdict).toBe("runaway");
    expect(witness({ position: of((i) => 0.2 * i) }).verdict).toBe("runaway");
  });
});
