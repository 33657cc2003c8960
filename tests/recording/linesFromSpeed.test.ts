import { describe, expect, test } from "vitest";
import type { Choice } from "../../lib/recording/columns/chooseChannels.js";
import { intervalFromMotion, linesFromSpeed } from "../../lib/recording/columns/linesFromSpeed.js";
import type { ColumnUnderstanding, Finding } from "../../lib/recording/types.js";
import { tableOf } from "../answers/hands.js";

// A shaft of a known motion, its angle counted by an encoder of known lines: what it was counted with must come back.

const n = 3000;
const dt = 1e-3;
const of = (value: (t: number, i: number) => number): Float64Array =>
  Float64Array.from({ length: n }, (_, i) => value(i * dt, i));
const turn = 2 * Math.PI;
/** Speed of up to 100 rad/s with a swing, and the angle that it comes to. */
const speed = of((t) => 100 * Math.min(1, t) + 20 * Math.sin(5 * t));
const angle = of((t) => (t < 1 ? 50 * t * t : 50 + 100 * (t - 1)) + 4 * (1 - Math.cos(5 * t)));

interface Counted {
  readonly counts: number;
  readonly wrap?: number;
  readonly unit?: string;
  readonly speeds?: Float64Array;
  readonly angles?: Float64Array;
  readonly position?: Partial<Choice>;
  readonly speedChoice?: Partial<Choice>;
  readonly timeSure?: boolean;
}
async function lines({
  counts,
  wrap,
  unit = "rad/s",
  speeds = speed,
  angles = angle,
  position,
  speedChoice,
  timeSure = true,
}: Counted) {
  const counted = angles.map((v) => {
    const count = Math.floor((v / turn) * counts);
    return wrap === undefined ? count : ((count % wrap) + wrap) % wrap;
  });
  const time = of((t) => t);
  const columns = [time, counted, speeds];
  const choice = (
    index: number,
    role: "position" | "speed",
    own: string,
    more: Partial<Choice> = {},
  ): Choice => ({
    index,
    role,
    unit: own,
    spelling: own,
    unitStated: true,
    unitProbability: 1,
    recognisedBy: "made",
    ...more,
  });
  const findings: Finding[] = [];
  const found = await linesFromSpeed(
    {
      table: tableOf(["t", "enc", "n_act"], columns),
      choices: [choice(1, "position", "{count}", position), choice(2, "speed", unit, speedChoice)],
      at: ({ index }) => columns[index],
      time,
      timeSure,
    },
    findings,
  );
  return { found, findings, codes: findings.map(({ code }) => code) };
}

describe("encoder lines from the speed beside a counted position", () => {
  test.each([
    [2000, undefined, 500],
    [4096, undefined, 1024],
    [10_000, undefined, 2500],
    [4096, 65_536, 1024],
    [4096, 4096, 1024],
    [40_000, 65_536, 10_000],
    [-2000, undefined, 500],
  ])("of %d counts a turn, kept in %s: %d lines", async (counts, wrap, wanted) => {
    const { found, findings, codes } = await lines({ counts, wrap });
    expect(found).toBe(wanted);
    expect(codes).toEqual(["lines-inferred"]);
    expect(findings[0].value).toBe(wanted);
    expect(findings[0].message).toContain(
      `gives ${Math.abs(counts)} counts a turn, as position "enc" and speed "n_act"`,
    );
    expect(findings[0].meaning).toContain(`${wanted} lines are used`);
  });

  test("in whatever unit the speed is, and by the interval that is said", async () => {
    const rpm = speed.map((v) => (v * 60) / turn);
    const { found, findings } = await lines({ counts: 2000, unit: "{rev}/min", speeds: rpm });
    expect(found).toBe(500);
    const [low, high] = (/\(([\d.]+) to ([\d.]+)\)/.exec(findings[0].message) ?? []).slice(1).map(Number);
    expect(low).toBeLessThan(2000);
    expect(high).toBeGreaterThan(2000);
    expect(high - low).toBeLessThan(40);
  });

  test("says nothing without a sure time and a sure unit, or where a scale was stated", async () => {
    expect((await lines({ counts: 2000, timeSure: false })).found).toBeUndefined();
    const open = { unitStated: false, unitProbability: 0.9 };
    expect((await lines({ counts: 2000, speedChoice: open })).found).toBeUndefined();
    expect((await lines({ counts: 2000, speedChoice: { ...open, unitProbability: 0.96 } })).found).toBe(500);
    const scale = { factor: 0.1, zero: 0 };
    expect((await lines({ counts: 2000, position: { scale } })).found).toBeUndefined();
    expect((await lines({ counts: 2000, speedChoice: { scale } })).found).toBeUndefined();
    expect((await lines({ counts: 2000, position: { unit: "deg" } })).found).toBeUndefined();
    expect((await lines({ counts: 2000, unit: "V" })).found).toBeUndefined();
  });

  test("nor of a shaft that stands, a speed that is another's, or fewer than eight counts a turn", async () => {
    expect((await lines({ counts: 2000, angles: of(() => 1), speeds: of(() => 0) })).found).toBeUndefined();
    expect((await lines({ counts: 2000, speeds: of((t) => 60 * Math.sin(31 * t)) })).found).toBeUndefined();
    expect((await lines({ counts: 6 })).found).toBeUndefined();
  });

  test("a count that no usual encoder has: the unit of the speed may be another, by the factor that makes it usual", async () => {
    // Turns a minute that are called rad/s.
    const rpm = speed.map((v) => (v * 60) / turn);
    const { codes, findings } = await lines({ counts: 4096, speeds: rpm });
    expect(codes).toEqual(["lines-inferred", "lines-doubtful"]);
    expect(findings[1].value).toBeCloseTo(60 / turn, 3);
    expect(findings[1].message).toContain("4096");
    expect(findings[1].column).toBe("n_act");
  });

  test("a count a little below a usual one: counts may be lost on the way", async () => {
    const { codes, findings } = await lines({ counts: 1960 });
    expect(codes).toEqual(["lines-inferred", "lines-unusual"]);
    expect(findings[1].value).toBeCloseTo(0.98, 3);
    expect(findings[1].message).toContain("2 % below 2000");
    expect(findings[1].column).toBe("enc");
    // A shaft that twitches does not tell it so well.
    const little = { angles: angle.map((v) => v / 20), speeds: speed.map((v) => v / 20) };
    expect((await lines({ counts: 19_600, ...little })).codes).not.toContain("lines-unusual");
  });
});

describe("the time from row to row for which a position and a speed agree", () => {
  const interval = (
    step: number,
    change: Partial<Record<"position" | "speed", Partial<ColumnUnderstanding>>> = {},
    stretch = 1,
  ) => {
    const w = Float64Array.from({ length: 900 }, (_, i) => (stretch / step) * 0.02 * (1 + Math.sin(i / 40)));
    const p = new Float64Array(900);
    for (let i = 1; i < 900; i += 1) p[i] = p[i - 1] + (step * (w[i] + w[i - 1])) / 2;
    const column = (index: number, role: "position" | "speed", unit: string) =>
      ({ index, role, unit, probability: 0.9, ...change[role] }) as ColumnUnderstanding;
    return intervalFromMotion(
      [column(0, "position", "rad"), column(1, "speed", "rad/s")],
      (index) => [p, w][index],
    );
  };
  test.each([
    [1e-3, "1ms"],
    [2.5e-3, "2.5ms"],
    [5e-4, "500us"],
    [0.02, "20ms"],
    [0.5, "500ms"],
    [2, "2"],
  ])("of %d s is offered as %s", async (step, text) => expect(await interval(step)).toBe(text));

  test("none where the columns are unsure, have no unit, one of no angle, or do not move", async () => {
    expect(await interval(1e-3, { position: { probability: 0.4 } })).toBeUndefined();
    expect(await interval(1e-3, { speed: { unit: undefined } })).toBeUndefined();
    expect(await interval(1e-3, { speed: { unit: "V" } })).toBeUndefined();
    expect(await interval(1e-3, { position: { unit: "no unit" } })).toBeUndefined();
    expect(await interval(1e-3, {}, 0)).toBeUndefined();
    expect(await interval(1e-3, {}, -1)).toBe("1ms");
  });
});
