import { describe, expect, test } from "vitest";
import { observe } from "../../lib/diagnosis/observe.js";
import { runOf } from "../../lib/run/run.js";
import { recordingOf, trialOf } from "./observed.js";

/** Kinematics: from rest a shaft at a goes a t²/2 in t. */
describe("a shaft that stood for a short time", () => {
  const stood = (seconds: number, n = 400): ReturnType<typeof observe> => {
    const time = Float64Array.from({ length: n }, (_, i) => (seconds * i) / (n - 1));
    const of = (value: number): Float64Array => new Float64Array(n).fill(value);
    const recording = recordingOf(time, { positionCommand: of(3), position: of(1) });
    return observe(runOf(recording), { ...trialOf("position"), to: n, start: 0, end: seconds });
  };

  test("for a second: blocked; for ten milliseconds: a free one may have stood as well", () => {
    expect(stood(1).verdict).toBe("blocked");
    expect(stood(0.01)).toMatchObject({ verdict: "undetermined", behaviour: "unclear" });
    expect(stood(0.01).missing[0]).toBe("a command held longer, or a finer position");
  });

  test("the longer it stood the surer", () => {
    const sure = [0.04, 0.1, 0.3, 1]
      .map((t) => stood(t))
      .map(({ verdict, confidence }) => (verdict === "blocked" ? confidence : 0));
    for (let k = 1; k < sure.length; k += 1) expect(sure[k]).toBeGreaterThanOrEqual(sure[k - 1]);
    expect(sure[3]).toBeGreaterThan(sure[0]);
  });
});
