import { describe, expect, test } from "vitest";
import { findingOf, indexRow, trialLikelihood, withoutCurrent } from "../../lib/diagnosis/likelihood.js";
import type { Measures } from "../../lib/diagnosis/measures.js";
import type { Observation } from "../../lib/diagnosis/observe.js";
import {
  directRows,
  noCurrentRow,
  phaseRows,
  plateauRows,
  pulsationRows,
  reachRows,
} from "../../lib/diagnosis/tables/current.js";
import { countStoppedRow, indexRows, speedSignRows } from "../../lib/diagnosis/tables/encoder.js";
import { mirrorRows, otherMotionRows, stopRows } from "../../lib/diagnosis/tables/motion.js";
import type { LikelihoodRow } from "../../lib/diagnosis/tables/row.js";
import { loopRows, notFollowingRows } from "../../lib/diagnosis/tables/speedLoop.js";
import type { Hold } from "../../lib/run/holds.js";
import type { TrialSignals } from "../../lib/run/trialSignals.js";
import { hold, seen, settings } from "./observed.js";

// Which row of which table a sign is read by; the rows are held against benches elsewhere.

interface Made {
  readonly kind?: "torque" | "speed";
  readonly behaviour?: Observation["behaviour"];
  readonly verdict?: Observation["verdict"];
  readonly confidence?: number;
  readonly sense?: Observation["sense"];
  readonly measures?: Partial<Measures>;
  readonly holds?: readonly Hold[];
  readonly signals?: Partial<TrialSignals>;
  readonly facts?: Parameters<typeof settings>[0];
  readonly health?: Parameters<typeof trialLikelihood>[3];
}
const column = Float64Array.of(1, 1, 1);
function made({ kind = "torque", behaviour = "turns", measures = {}, facts, health, ...change }: Made) {
  const observation = seen(kind, behaviour, change);
  return trialLikelihood(
    settings(facts),
    observation,
    { signs: { countStopped: false }, ...measures } as Measures,
    health,
  );
}
/** Whether a trial is read by a row: its finding with the same log likelihoods. */
const reads = (given: Made, row: LikelihoodRow): boolean => {
  const wanted = findingOf(row);
  return (made(given)?.findings ?? []).some(
    ({ finding, logs }) =>
      finding === wanted.finding && [...logs].every(([code, log]) => log === wanted.logs.get(code)),
  );
};
const signs = (change: object): Partial<Measures> =>
  ({ signs: { countStopped: false, ...change } }) as Partial<Measures>;

describe("what the shaft did", () => {
  test.each<[string, Made]>([
    ["torque still", { behaviour: "still" }],
    ["torque swings", { behaviour: "swings", measures: { firstTravel: 0.06 } }],
    ["torque swings little", { behaviour: "swings", measures: { firstTravel: 0.04 } }],
    ["torque locks", { behaviour: "locks" }],
    ["torque locks", { behaviour: "one-way" }],
    ["torque turns with", { behaviour: "turns", sense: "with" }],
    ["torque turns against", { behaviour: "turns", sense: "against" }],
    ["speed still", { kind: "speed", behaviour: "still" }],
    ["speed follows", { kind: "speed", behaviour: "follows" }],
    ["speed runs-away", { kind: "speed", behaviour: "runs-away" }],
  ])("%s", (key, given) => {
    expect(reads(given, otherMotionRows[key])).toBe(true);
    const others = Object.entries(otherMotionRows).filter(([name]) => name !== key && name.includes(" "));
    for (const [, row] of others) expect(reads(given, row)).toBe(false);
  });

  test("a verdict rules out the causes under which it cannot be, as surely as it is", () => {
    const wrong = (verdict: Observation["verdict"], confidence: number) =>
      made({ verdict, confidence, behaviour: "still" })?.findings.find(({ finding }) =>
        finding.startsWith("the trial was judged"),
      )?.logs;
    expect(wrong("blocked", 0.9)?.get("nothing-wrong")).toBeCloseTo(Math.log(0.1), 9);
    expect(wrong("blocked", 0.9)?.get("polarity-reversed")).toBeCloseTo(Math.log(0.1), 9);
    expect(wrong("blocked", 0.9)?.get("jam")).toBe(0);
    expect(wrong("runaway", 0.7)?.get("nothing-wrong")).toBeCloseTo(Math.log(0.3), 9);
    expect(wrong("runaway", 0.7)?.get("polarity-reversed")).toBe(0);
    expect(wrong("reversed", 1)?.get("nothing-wrong")).toBeCloseTo(Math.log(0.02), 9);
    expect(wrong("tracking", 0.9)).toBeUndefined();
  });

  test("a swing that comes back by as much as it went, or not", () => {
    const swings = (there: number, back: number, signals: Partial<TrialSignals> = {}): Made => ({
      behaviour: "swings",
      signals,
      holds: [hold({ travel: there }), hold({ sense: -1, travel: back })],
    });
    expect(reads(swings(0.2, -0.2), stopRows.seen)).toBe(true);
    expect(reads(swings(0.2, -0.02), stopRows.absent)).toBe(true);
    expect(reads(swings(0.2, 0.2), stopRows.absent)).toBe(true);
    const none = (given: Made): void => {
      for (const row of [stopRows.seen, stopRows.absent]) expect(reads(given, row)).toBe(false);
    };
    none(swings(3e-4, -3e-4));
    none({ ...swings(0.2, -0.2), behaviour: "still" });
    none({ ...swings(0.2, -0.2), kind: "speed" });
    none({ ...swings(0.2, -0.2), holds: [hold({ travel: 0.2 })] });
    // The sum of a noisy speed over a second of rows of a millisecond.
    none(swings(0.2, -0.2, { motionFrom: "speed", speedNoise: 2 }));
    expect(reads(swings(0.2, -0.2, { motionFrom: "position", speedNoise: 2 }), stopRows.seen)).toBe(true);
  });

  test("nothing is said of a trial without motion, of an unclear one without a command, or of a position reached", () => {
    expect(made({ signals: { motionFrom: "none" } })).toBeUndefined();
    expect(made({ behaviour: "unclear", holds: [hold({ sense: 0 })] })).toBeUndefined();
    expect(made({ behaviour: "unclear", holds: [hold({ sense: 0 }), hold()] })?.motion).toBe(true);
    const position = (verdict: Observation["verdict"]) => {
      const observation = seen("torque", "follows", { verdict });
      const trial = { ...observation.trial, kind: "position" as const };
      return trialLikelihood(settings(), { ...observation, trial }, {} as Measures);
    };
    expect(position("tracking")).toBeUndefined();
    expect(position("blocked")).toBeDefined();
    expect(position("runaway")).toBeDefined();
  });
});

describe("the current", () => {
  const still = (followed: number, change: Made = {}): Made => ({
    kind: "speed",
    behaviour: "still",
    measures: signs({ followed }),
    ...change,
  });
  test("that never flowed under speed control says nothing but that", () => {
    const found = made(still(0.1));
    expect(found?.motion).toBe(false);
    expect(found?.offsets.every((v) => v === 1)).toBe(true);
    expect(found?.findings).toHaveLength(1);
    expect(reads(still(0.1), noCurrentRow)).toBe(true);
    expect(reads(still(0.2), noCurrentRow)).toBe(false);
    expect(reads(still(0.1, { kind: "torque" }), noCurrentRow)).toBe(false);
    for (const behaviour of ["swings", "locks", "unclear"] as const)
      expect(reads(still(0.1, { behaviour }), noCurrentRow)).toBe(true);
    expect(reads(still(0.1, { behaviour: "follows" }), noCurrentRow)).toBe(false);
    const observation = seen("speed", "still");
    expect(withoutCurrent(observation, {} as Measures)).toBe(false);
  });

  test("that flows beside the torque axis is a sign of an open phase even then", () => {
    const beside = (more: object, leastPhase?: number): Made =>
      still(0.1, { measures: { ...signs({ followed: 0.1, ...more }), leastPhase } });
    expect(reads(beside({ direct: 0.2 }), directRows.seen)).toBe(true);
    expect(reads(beside({ direct: 0.1 }), directRows.absent)).toBe(true);
    expect(reads(beside({}, 0.1), phaseRows.silentResting)).toBe(true);
    expect(reads(beside({}, 0.5), phaseRows.all)).toBe(true);
    expect(reads({ ...beside({ direct: 0.2 }), health: { current: true } as never }, directRows.seen)).toBe(
      false,
    );
  });

  const command = { currentCommand: column, current: column };
  test.each([
    [1.9, 0],
    [1.5, 1],
    [1, 2],
    [0.3, 3],
    [0.1, 4],
  ])("that reached %d of its command is of class %d", (reach, which) => {
    const given = (change: Made): Made => ({
      signals: command,
      holds: [hold({ currentReach: 0.05 }), hold({ currentReach: reach })],
      ...change,
    });
    expect(reads(given({ behaviour: "still" }), reachRows.still[which])).toBe(true);
    expect(reads(given({ behaviour: "swings" }), reachRows.swinging[which])).toBe(true);
    expect(reads(given({ behaviour: "locks" }), reachRows.moving[which])).toBe(true);
    // Under control the current is what it takes: only too little of it tells.
    expect(reads(given({ kind: "speed", behaviour: "follows" }), reachRows.moving[which])).toBe(which >= 3);
    expect(reads(given({ behaviour: "still", signals: {} }), reachRows.still[which])).toBe(false);
    expect(
      reads(
        given({ behaviour: "still", holds: [hold({ sense: 0, currentReach: reach })] }),
        reachRows.still[which],
      ),
    ).toBe(false);
  });

  test("on a plateau, or still gaining speed", () => {
    const turning = (endChange: number, currentShare?: number): Made => ({
      signals: command,
      holds: [hold({ turning: true, endChange, currentShare, currentReach: 1 })],
    });
    expect(reads(turning(0, 0.5), reachRows.settled[2])).toBe(true);
    expect(reads(turning(0, 0.5), plateauRows.seen)).toBe(true);
    expect(reads(turning(0.5), reachRows.moving[2])).toBe(true);
    expect(reads(turning(0.5), plateauRows.absent)).toBe(true);
    expect(reads({ ...turning(0, 0.5), health: { current: true } as never }, plateauRows.seen)).toBe(false);
  });

  test("that pulsates twice an electrical turn", () => {
    const pulse = (size: number, explained: number, behaviour: Observation["behaviour"]): Made => ({
      behaviour,
      measures: signs({ pulsation: { size, explained } }),
    });
    expect(reads(pulse(0.2, 0.5, "turns"), pulsationRows.turning.seen)).toBe(true);
    expect(reads(pulse(0.2, 0.5, "locks"), pulsationRows.moving.seen)).toBe(true);
    expect(reads(pulse(0.1, 0.5, "turns"), pulsationRows.turning.absent)).toBe(true);
    expect(reads(pulse(0.2, 0.05, "turns"), pulsationRows.turning.absent)).toBe(true);
  });

  test("on the magnet axis, of a shaft that rests under torque", () => {
    const direct = (value: number, change: Made = {}): Made => ({
      behaviour: "still",
      measures: signs({ direct: value }),
      ...change,
    });
    expect(reads(direct(0.2), directRows.seen)).toBe(true);
    expect(reads(direct(0.1), directRows.absent)).toBe(true);
    expect(reads(direct(0.2, { behaviour: "swings" }), directRows.seen)).toBe(true);
    expect(reads(direct(0.2, { behaviour: "turns" }), directRows.seen)).toBe(false);
    expect(reads(direct(0.2, { kind: "speed" }), directRows.seen)).toBe(false);
  });

  test("of three phases, one of which may be silent", () => {
    expect(reads({ measures: { leastPhase: 0.1 } }, phaseRows.silent)).toBe(true);
    expect(reads({ behaviour: "still", measures: { leastPhase: 0.1 } }, phaseRows.silentResting)).toBe(true);
    expect(reads({ measures: { leastPhase: 0.2 } }, phaseRows.all)).toBe(true);
    expect(reads({}, phaseRows.all)).toBe(false);
  });
});

describe("the encoder and what was stated", () => {
  test.each([
    [1, 0, "fits"],
    [1.003, 0, "fits"],
    [1.006, 0, "other"],
    [1.02, 0.01, "fits"],
    [4, 0.001, "four"],
    [0.25, 0.001, "four"],
    [3, 0.001, "other"],
    [4.4, 0.001, "other"],
  ] as const)("the index comes every %d turns, within %d: %s", (ratio, spread, name) => {
    expect(indexRow({ ratio, spread })).toBe(indexRows[name]);
    expect(reads({ measures: { indexTurns: { ratio, spread } } as Partial<Measures> }, indexRows[name])).toBe(
      true,
    );
  });

  test("the sign of the speed against the position, and a count that stopped", () => {
    const sign = (one: 1 | -1): Made => ({
      signals: { speedAgainstPosition: { sign: one, factor: 1, spread: 0 } },
    });
    expect(reads(sign(-1), speedSignRows.turned)).toBe(true);
    expect(reads(sign(1), speedSignRows.alike)).toBe(true);
    expect(reads({ measures: signs({ countStopped: true }) }, countStoppedRow)).toBe(true);
    expect(reads({}, countStoppedRow)).toBe(false);
  });

  test("a setting that differs from what was stated accuses its own cause", () => {
    const differ = (facts: Parameters<typeof settings>[0]) =>
      made({ facts })?.findings.find(({ finding }) => finding.startsWith("a setting that differs"))?.logs;
    const pairs = differ({ drive: { polePairs: 4 }, machine: { polePairs: 7 } });
    expect(pairs?.get("pole-pairs-wrong")).toBeGreaterThan(0);
    expect(pairs?.get("line-count-wrong")).toBe(0);
    const lines = differ({ drive: { encoderLines: 500 }, encoder: { lines: 1000 } });
    expect(lines?.get("pole-pairs-wrong")).toBe(0);
    expect(lines?.get("line-count-wrong")).toBeGreaterThan(0);
    expect(differ({ drive: { polePairs: 4 }, machine: { polePairs: 4 } })).toBeUndefined();
    expect(differ({ drive: { polePairs: 4 } })).toBeUndefined();
    expect(differ({ drive: {}, machine: { polePairs: 4 } })).toBeUndefined();
  });
});

describe("how a speed loop answered", () => {
  const quiet = { overshoot: 0.1, crossings: 1, swing: 0.01, rise: 0.1 };
  const loop = (change: object, behaviour: Observation["behaviour"] = "follows"): Made => ({
    kind: "speed",
    behaviour,
    measures: signs({ loop: { ...quiet, ...change } }),
  });
  test.each<[keyof typeof loopRows, object]>([
    ["holds", {}],
    ["oscillates", { swing: 0.3 }],
    ["oscillates", { crossings: 6, swing: 0.05 }],
    ["oscillates", { crossings: 6, overshoot: 0.4 }],
    ["holds", { crossings: 6 }],
    ["holds", { crossings: 4, swing: 0.05, overshoot: 0.4 }],
    ["restless", { chatter: 0.2 }],
    ["restless", { overshoot: 0.9 }],
    ["slow", { rise: 0.95, pressed: 0.3 }],
    ["weak", { rise: 0.95, pressed: 0.6 }],
    ["weak", { rise: 0.95 }],
    ["holds", { rise: 0.85, pressed: 0.3 }],
  ])("%s", (which, change) => {
    expect(reads(loop(change), loopRows[which])).toBe(true);
    for (const other of Object.keys(loopRows) as (keyof typeof loopRows)[])
      if (other !== which) expect(reads(loop(change), loopRows[other])).toBe(false);
  });

  test("where it did not follow only slowness counts, and how it failed", () => {
    expect(reads(loop({}, "still"), loopRows.holds)).toBe(false);
    expect(reads(loop({}, "still"), notFollowingRows.other)).toBe(true);
    expect(reads(loop({}, "unclear"), loopRows.holds)).toBe(true);
    expect(reads(loop({}, "unclear"), notFollowingRows.unclear)).toBe(true);
    const slow = loop({ rise: 0.95, pressed: 0.3 }, "still");
    expect(reads(slow, loopRows.slow)).toBe(true);
    expect(reads(slow, notFollowingRows.slow)).toBe(true);
    expect(reads(loop({}), notFollowingRows.other)).toBe(false);
    for (const behaviour of ["runs-away", "mirrored"] as const)
      expect(reads(loop({}, behaviour), notFollowingRows.other)).toBe(false);
    expect(reads({ ...loop({}), kind: "torque" }, loopRows.holds)).toBe(false);
  });

  test("one that holds its reference with the sign turned is read as such", () => {
    const [behaviour, row] = Object.entries(mirrorRows)[0] as [Observation["behaviour"], LikelihoodRow];
    expect(reads({ kind: "speed", behaviour }, row)).toBe(true);
    expect(reads({ kind: "torque", behaviour }, row)).toBe(false);
  });
});
