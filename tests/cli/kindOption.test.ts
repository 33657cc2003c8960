import { describe, expect, test } from "vitest";
import { readOptionsOf } from "../../lib/cli/readingOptions.js";
import { cutTrials, type Recording, readRecordings } from "../../lib/recording/index.js";
import { goodRun } from "../recording/bench.js";

describe("--kind states what was tried in a stretch of time", () => {
  test("from, to and kind; an end that is left out is that of the log", () => {
    const { kinds } = readOptionsOf({ kind: ["3..8.5=voltage", "..=coast", "-1e-2..=held"] });
    expect(kinds).toEqual([
      { kind: "voltage", start: 3, end: 8.5 },
      { kind: "coast", start: Number.NEGATIVE_INFINITY, end: Number.POSITIVE_INFINITY },
      { kind: "held", start: -0.01, end: Number.POSITIVE_INFINITY },
    ]);
  });

  test("a coast-down may be called what it is", () => {
    for (const text of ["..=coast-down", "..=coastDown", "..=COAST"])
      expect(readOptionsOf({ kind: [text] }).kinds?.[0].kind).toBe("coast");
  });

  test("what it is not is said, with the form or the kinds", () => {
    for (const text of ["voltage", "3-8=voltage", "8..3=voltage", "a..b=voltage"])
      expect(() => readOptionsOf({ kind: [text] })).toThrow(/from\.\.to=kind/);
    expect(() => readOptionsOf({ kind: ["3..8=spin"] })).toThrow(/--kind is one of torque, voltage, duty/);
  });

  test("a stated stretch is taken as stated, the rest of the log is cut as usual", () => {
    const run = goodRun([
      { kind: "coast", duration: 1 },
      { kind: "torque", from: 1, duration: 1 },
      { kind: "torque", from: -1, duration: 1 },
      { kind: "coast", duration: 2 },
      { kind: "speed", from: 60, duration: 1 },
      { kind: "speed", from: -60, duration: 1 },
    ]);
    const stated: Recording = {
      ...run,
      declaredTrials: [{ kind: "unknown", start: 4.5, end: Number.POSITIVE_INFINITY, by: "caller" }],
    };
    const { trials, leftOver } = cutTrials(stated);
    const kinds = trials.map((t) => [t.kind, t.source]).filter(([kind]) => kind !== "idle");
    expect(kinds).toEqual([
      ["torque", "found"],
      ["coast", "found"],
      ["unknown", "declared"],
    ]);
    expect(trials.at(-1)?.conditions).toMatchObject({ probability: 1, why: ["it was declared"] });
    let at = 0;
    for (const part of [...trials, ...leftOver].sort((a, b) => a.from - b.from)) {
      expect(part.from).toBe(at);
      at = part.to;
    }
    expect(at).toBe(run.time.length);
  });

  test("it reaches the recordings that are read", async () => {
    const { recordings } = await readRecordings(["datasets/parcel-sorter/order-vuw.csv"], {
      kinds: [{ kind: "held", start: 0, end: 1 }],
    });
    expect(recordings.length).toBeGreaterThan(0);
    for (const recording of recordings)
      expect(cutTrials(recording).trials[0]).toMatchObject({ kind: "held", source: "declared" });
  });
});
