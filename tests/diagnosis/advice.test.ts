import { describe, expect, test } from "vitest";
import { adviceFor } from "../../lib/diagnosis/advice.js";
import type { JudgedRecording } from "../../lib/diagnosis/judged.js";
import type { Observation } from "../../lib/diagnosis/observe.js";
import { offsetGrid } from "../../lib/diagnosis/offsetGrid.js";
import { judgeOrders } from "../../lib/diagnosis/orders.js";
import { type CauseCode, causes } from "../../lib/diagnosis/tables/causes.js";
import type { LeadOrder } from "../../lib/motor/facts.js";
import { hold, seen, settings } from "./observed.js";

/** A recording on its way to a verdict, with the probabilities that its set is said to have given. */
function judged(
  ordering: LeadOrder | undefined,
  given: Partial<Record<CauseCode, number>>,
  observations: readonly Observation[],
  change: {
    readonly path?: string;
    readonly motor?: string;
    readonly offsets?: Float64Array;
    readonly logs?: Partial<Record<CauseCode, number>>;
    readonly followed?: number;
  } = {},
): JudgedRecording {
  const posterior = new Map<CauseCode, number>(causes.map(({ code }) => [code, given[code] ?? 0]));
  const logs = new Map<CauseCode, number>(
    causes.map(({ code }) => [code, change.logs?.[code] ?? Math.log(Math.max(1e-9, given[code] ?? 0))]),
  );
  const offsets = change.offsets ?? new Float64Array(offsetGrid.length).fill(1);
  const measures =
    change.followed === undefined ? {} : { signs: { countStopped: false, followed: change.followed } };
  return {
    recording: {
      ...settings(),
      path: change.path ?? `${ordering}.csv`,
      ...(ordering ? { ordering } : {}),
      ...(change.motor ? { motor: change.motor } : {}),
    },
    trials: observations.map((observation) => ({
      observation,
      measures,
      likelihood: { findings: [], offsets, motion: true },
    })),
    driveSigns: [],
    fieldOriented: 1,
    posterior,
    torquePosterior: posterior,
    logs,
    offsets,
    torqueOffsets: offsets,
  };
}

const far = [hold({ travel: 60, swing: 60, turning: true, resting: false })];
const turns = (sense: "with" | "against", change: Partial<Observation> = {}) =>
  seen("torque", "turns", {
    verdict: sense === "with" ? "tracking" : "reversed",
    sense,
    confidence: 0.995,
    holds: far,
    ...change,
  } as never);
const tracks = seen("speed", "follows", { verdict: "tracking", holds: far });
const away = seen("speed", "runs-away", { verdict: "runaway", sense: "against", holds: far });
const stuck = seen("torque", "swings", {
  verdict: "blocked",
  confidence: 0.99,
  holds: [hold({ travel: 0.2, swing: 0.2 })],
});
const sound = { "nothing-wrong": 0.97, "disturbed-offset": 0.02 };
const crossed = { "phases-swapped": 0.95 };
const third = { "stale-offset-plus": 0.95 };

const good = (order: LeadOrder) => judged(order, sound, [turns("with"), tracks]);
const wrong = (order: LeadOrder) => judged(order, third, [turns("against"), away]);
const blocked = (order: LeadOrder) => judged(order, crossed, [stuck]);
const verdicts = (...all: JudgedRecording[]) => judgeOrders(all);
const advice = (all: readonly JudgedRecording[], wanted?: "clockwise" | "counterclockwise") =>
  adviceFor(all, wanted ? { wanted } : {}).advice;
const says = (lines: readonly string[], text: RegExp) => lines.some((line) => text.test(line));

describe("the table of orders", () => {
  test("turning with its command both ways, or tracking a speed, makes an order usable", () => {
    expect(verdicts(good("UVW"))[0]).toMatchObject({ verdict: "tracking", usable: true });
    expect(verdicts(judged("UVW", sound, [turns("with")]))[0]).toMatchObject({
      verdict: "tracking",
      usable: true,
    });
    expect(verdicts(judged("UVW", sound, [tracks]))[0]).toMatchObject({ verdict: "tracking", usable: true });
  });

  test("less does not: one sense, a doubtful reading, less than half a turn, a blocked trial, a loop that did not track", () => {
    const not = (...observations: Observation[]) =>
      expect(verdicts(judged("UVW", sound, observations))[0].usable).toBe(false);
    not(turns("with", { bothSenses: false }));
    not(turns("with", { confidence: 0.94 }));
    not(turns("with", { holds: [hold({ travel: 3 })] }));
    not(turns("with"), stuck);
    not(turns("with"), seen("speed", "unclear", { verdict: "undetermined", holds: far }));
    not({ ...tracks, confidence: 0.85 });
    not(turns("with"), away);
    not(turns("with"), seen("speed", "mirrored", { verdict: "reversed", sense: "against", holds: far }));
    // The odds must agree: nine in ten for a cause that tracks are not enough.
    expect(verdicts(judged("UVW", { "nothing-wrong": 0.9, jam: 0.1 }, [turns("with")]))[0].usable).toBe(
      false,
    );
  });

  test("an offset that leaves less than half the torque is said and not kept", () => {
    const at = (angle: number) =>
      offsetGrid.map((e) => (Math.abs(e - (angle * Math.PI) / 180) < 1e-9 ? 1 : 0));
    const off = (angle: number) =>
      verdicts(judged("UVW", { "disturbed-offset": 1 }, [turns("with")], { offsets: at(angle) }))[0];
    expect(off(58).usable).toBe(true);
    expect(off(62).usable).toBe(false);
    expect(off(62).reason).toMatch(/only about 47 % of the torque/);
  });

  test("one torque trial that turned is enough: friction does not hold the shaft", () => {
    const near = offsetGrid.map((e) => (Math.abs(e - (86 * Math.PI) / 180) < 1e-9 ? 1 : 0));
    const chance = (...observations: Observation[]) =>
      verdicts(judged("UVW", { "disturbed-offset": 1 }, observations, { offsets: near }))[0].probability;
    const unclear = seen("torque", "unclear", { verdict: "undetermined" });
    expect(chance(turns("with"), unclear)).toBeCloseTo(1, 9);
    expect(chance(unclear)).toBeLessThan(0.5);
  });

  test("turning against its command is a runaway, before and after the loop was closed", () => {
    const [torqueOnly] = verdicts(judged("VWU", third, [turns("against")]));
    expect(torqueOnly).toMatchObject({ verdict: "reversed", usable: false });
    expect(torqueOnly.reason).toMatch(/AGAINST.*would run away/);
    const [both] = verdicts(wrong("VWU"));
    expect(both.reason).toMatch(/AGAINST.*ran away, as such an order must/);
    expect(both.rework).toMatch(/Repeat the alignment/);
    const [odd] = verdicts(judged("UVW", sound, [turns("with"), away]));
    expect(odd.reason).toMatch(/turns with its command under torque, yet ran away/);
  });

  test("blocked: how far it moved, against four counts", () => {
    expect(verdicts(blocked("VUW"))[0]).toMatchObject({ verdict: "blocked", usable: false });
    expect(verdicts(blocked("VUW"))[0].reason).toMatch(/moved 11.5 deg and stayed/);
    const still = seen("torque", "still", { verdict: "blocked", holds: [hold({ swing: 3e-4 })] });
    expect(verdicts(judged("VUW", { jam: 0.9 }, [still]))[0].reason).toMatch(/did not move at all/);
    expect(verdicts(blocked("VUW"))[0].rework).toMatch(/Exchange any two leads .*UVW, VWU, WUV/);
    expect(verdicts(blocked("VWU"))[0].rework).toMatch(/VUW, UWV, WVU/);
  });

  test("a speed trial without current says nothing of an order whose torque trial turned", () => {
    const idle = seen("speed", "still", { verdict: "blocked", holds: [hold()] });
    const all = (followed: number) => verdicts(judged("UVW", sound, [turns("with"), idle], { followed }))[0];
    expect(all(0.05)).toMatchObject({ verdict: "tracking", usable: true });
    expect(all(0.05).reason).toMatch(/no current flowed/);
    expect(all(0.9).usable).toBe(false);
    expect(verdicts(judged("UVW", sound, [turns("with")]))[0].reason).toMatch(/No speed trial yet/);
  });

  test("a display that is turned is mended first", () => {
    const mirrored = seen("speed", "mirrored", { verdict: "reversed", sense: "against", holds: far });
    const [order] = verdicts(judged("UVW", { "speed-sign-display": 0.9 }, [mirrored]));
    expect(order.verdict).not.toBe("runaway");
    expect(order.reason).toMatch(/sign of the log right/);
  });

  test("no rework where nothing is wrong or no cause stands out; offsets count together, whichever of them it is", () => {
    expect(verdicts(good("UVW"))[0].rework).toBeUndefined();
    expect(verdicts(judged("VUW", { jam: 0.4, "open-phase": 0.35 }, [stuck]))[0].rework).toBeUndefined();
    const mixed = { "stale-offset-plus": 0.35, "stale-offset-minus": 0.35 };
    expect(verdicts(judged("VWU", mixed, [turns("against")]))[0].rework).toMatch(/Repeat the alignment/);
    expect(verdicts(judged("VWU", mixed, [turns("against")]))[0].reason).toMatch(
      /a third of an electrical turn off, one way or the other \(70 %\)/,
    );
    expect(verdicts(judged("VUW", { jam: 0.9 }, [stuck]))[0].rework).toBe(
      "Free the shaft or release the brake before another trial.",
    );
  });

  test("motors stay apart; orders come in their usual sequence; recordings without trials are no orders", () => {
    const all = verdicts(
      judged("WVU", crossed, [stuck], { motor: "b" }),
      judged("UVW", sound, [turns("with"), tracks], { motor: "a" }),
      judged("UVW", crossed, [stuck], { motor: "b" }),
      judged("VWU", sound, [], { motor: "a" }),
    );
    expect(all.map(({ ordering, verdict }) => `${ordering} ${verdict}`)).toEqual([
      "UVW blocked",
      "WVU blocked",
      "UVW tracking",
    ]);
  });
});

describe("advice on a set of orders", () => {
  test("keep what works; two of one group are equal, two of both groups cannot be", () => {
    expect(advice([good("UVW")])[0]).toBe("Keep UVW. Nothing needs rework.");
    const two = advice([good("UVW"), good("VWU")]);
    expect(two[0]).toMatch(/^Keep UVW or VWU\./);
    expect(says(two, /cyclic shifts of each other/)).toBe(true);
    expect(says(two, /both groups/)).toBe(false);
    const both = advice([good("UVW"), good("VUW")]);
    expect(says(both, /both groups seem to work/)).toBe(true);
    expect(says(both, /cyclic shifts/)).toBe(false);
    expect(says(advice([good("UVW")]), /cyclic|both groups/)).toBe(false);
  });

  test("an alignment that is probably off is to be repeated; one that may be is left open", () => {
    // Whatever the offset is, more than half the torque is left.
    const offsets = offsetGrid.map((e) => (Math.abs(e) < Math.PI / 4 ? 1 : 0));
    const off = judged("UVW", { "disturbed-offset": 0.6, "nothing-wrong": 0.4 }, [turns("with"), tracks], {
      offsets,
    });
    expect(advice([off])[0]).toMatch(/Repeat its alignment first/);
    const open = judged("UVW", { "disturbed-offset": 0.3, "nothing-wrong": 0.7 }, [turns("with"), tracks], {
      offsets,
    });
    expect(advice([open])[0]).toMatch(/left open \(30 %\)/);
    // Another order that shows no such doubt is the one to keep by.
    expect(advice([open, good("VWU")])[0]).toMatch(/Nothing needs rework/);
    expect(advice([off, good("VWU")])[0]).not.toMatch(/Repeat its alignment/);
  });

  test("an offset that may leave less than half the torque is not kept before more is known", () => {
    const open = judged("UVW", { "disturbed-offset": 0.3, "nothing-wrong": 0.7 }, [turns("with"), tracks]);
    const [order] = verdicts(open);
    expect(order).toMatchObject({ verdict: "tracking", usable: false });
    expect(order.reason).toMatch(/how much torque the offset leaves is open/);
    expect(advice([open])[0]).toMatch(/^UVW looks right so far, but the offset may leave too little torque/);
  });

  test("a tempting order is named, with the warning against closing a loop on it", () => {
    const lines = advice([good("UVW"), wrong("VWU"), judged("WUV", third, [turns("against")])]);
    expect(
      says(
        lines,
        /^Not VWU, although it spins and reverses: .* ran away under speed control\. To use it all the same: repeat/,
      ),
    ).toBe(true);
    expect(says(lines, /^Not WUV.* would run away under speed control/)).toBe(true);
    expect(says(lines, /^Do not close a speed/)).toBe(true);
    expect(says(lines, /offset was not found afresh/)).toBe(true);
    expect(says(advice([good("UVW"), blocked("VUW")]), /^Not|^Do not|afresh/)).toBe(false);
    // Of another group it says nothing about the alignment of this one.
    expect(says(advice([good("UVW"), wrong("VUW")]), /afresh/)).toBe(false);
  });

  test("beside a usable order, swapped phases are named together", () => {
    const lines = advice([good("UVW"), blocked("VUW"), blocked("UWV")]);
    expect(says(lines, /^VUW, UWV: two motor phases swapped .* would bring each into/)).toBe(true);
    expect(says(advice([good("UVW"), blocked("VUW")]), /would bring it into/)).toBe(true);
    // A blocked order of the working group is stuck for another reason.
    const mixed = advice([good("UVW"), judged("VWU", { jam: 0.9 }, [stuck])]);
    expect(says(mixed, /^VWU should work like UVW once aligned, and is blocked/)).toBe(true);
    expect(says(mixed, /^VWU: free the shaft/)).toBe(true);
    expect(says(lines, /should work like/)).toBe(false);
  });

  test("causes that look alike are listed as such", () => {
    const open = judged("WUV", { jam: 0.45, "load-or-friction": 0.4, "open-phase": 0.09 }, [stuck], {
      logs: { jam: -1, "load-or-friction": -1.2, "open-phase": -9 },
    });
    const lines = advice([good("UVW"), open]);
    expect(
      says(lines, /^WUV: a jam or brake \(45 %\), load or friction above the torque \(40 %\) look alike/),
    ).toBe(true);
    expect(says(lines, /an open phase \(9 %\)/)).toBe(false);
  });

  test("without a usable order: the least rework first, an offset before a setting before the leads", () => {
    const lines = advice([
      blocked("VUW"),
      judged("UVW", { "pole-pairs-wrong": 0.9 }, [stuck]),
      judged("VWU", third, [turns("against")]),
    ]);
    const place = (text: RegExp) => lines.findIndex((line) => text.test(line));
    expect(place(/^VWU: the offset is a third/)).toBeLessThan(place(/^UVW: the pole pairs/));
    expect(place(/^UVW: the pole pairs/)).toBeLessThan(place(/^VUW: two motor phases/));
    expect(place(/^VWU: the offset is a third/)).toBeGreaterThanOrEqual(0);
    expect(says(lines, /^Keep/)).toBe(false);
    const unsure = advice([judged("VUW", { jam: 0.4, "open-phase": 0.35 }, [stuck])]);
    expect(says(unsure, /no single cause stands out/)).toBe(true);
  });

  test("an order that looks right on too little, or whose drive tripped, is to be tried again", () => {
    const short = judged("UVW", sound, [turns("with", { bothSenses: false })]);
    expect(says(advice([short]), /^UVW looks right so far, but on too little evidence/)).toBe(true);
    const tripped = judged("UVW", sound, [turns("with", { bothSenses: false, tripped: 0.4 })]);
    expect(says(advice([tripped]), /^UVW looks right so far, but the drive tripped/)).toBe(true);
    expect(says(advice([tripped]), /too little evidence/)).toBe(false);
    const two = advice([short, judged("VWU", sound, [turns("with", { bothSenses: false })])]);
    expect(says(two, /^UVW, VWU look right/)).toBe(true);
  });

  test("all six blocked: not the leads; four of both groups: more orders will hardly help; three: nothing yet", () => {
    const all = (["UVW", "VWU", "WUV", "VUW", "UWV", "WVU"] as const).map(blocked);
    expect(says(advice(all), /All six orders are blocked/)).toBe(true);
    expect(says(advice(all.slice(0, 4)), /All orders tried so far are blocked/)).toBe(true);
    expect(says(advice(all.slice(0, 3)), /orders (tried so far )?are blocked/)).toBe(false);
    expect(says(advice([good("UVW"), ...all.slice(1)]), /orders (tried so far )?are blocked/)).toBe(false);
  });

  test("the wanted sense by IEC 60034-8: even orders clockwise seen from the drive end, odd ones the other way", () => {
    expect(says(advice([good("UVW")], "clockwise"), /UVW gives clockwise rotation .* as wanted/)).toBe(true);
    expect(says(advice([good("UVW")], "counterclockwise"), /UVW gives the other sense/)).toBe(true);
    expect(says(advice([good("VUW")], "counterclockwise"), /VUW gives counter-clockwise rotation/)).toBe(
      true,
    );
    expect(says(advice([good("VUW")], "clockwise"), /VUW gives the other sense/)).toBe(true);
    expect(says(advice([blocked("VUW")], "clockwise"), /which no usable order gives yet/)).toBe(true);
    expect(says(advice([good("UVW")]), /IEC 60034-8/)).toBe(false);
  });

  test("several motors are named, one is not; the test for the least certain names its order where there are several", () => {
    const named = advice([
      judged("UVW", sound, [turns("with"), tracks], { motor: "roller a" }),
      judged("VUW", crossed, [stuck], { motor: "roller b" }),
    ]);
    expect(says(named, /^roller a: Keep UVW/)).toBe(true);
    expect(says(named, /^roller b: VUW/)).toBe(true);
    expect(
      says(advice([judged("UVW", sound, [turns("with"), tracks], { motor: "roller a" })]), /^Keep UVW/),
    ).toBe(true);
    const open = judged("VUW", { jam: 0.5, "phases-swapped": 0.5 }, [stuck]);
    expect(adviceFor([good("UVW"), open], {}).nextTest?.test).toMatch(/^\(VUW\) /);
    expect(adviceFor([open], {}).nextTest?.test).not.toMatch(/^\(/);
    expect(adviceFor([good("UVW"), blocked("VUW")], {}).nextTest).toBeUndefined();
  });
});

describe("advice where no order is known", () => {
  const loose = (
    given: Partial<Record<CauseCode, number>>,
    observations: readonly Observation[],
    path = "log.csv",
  ) => judged(undefined, given, observations, { path });
  test("nothing wrong: what to do next depends on what was tried", () => {
    expect(advice([loose(sound, [turns("with", { bothSenses: false })])])[0]).toMatch(
      /^No sign of a fault. Repeat the torque trial/,
    );
    expect(advice([loose(sound, [turns("with")])])[0]).toMatch(/Close the speed loop at low speed/);
    expect(advice([loose(sound, [turns("with"), tracks])])[0]).toBe("No sign of a fault.");
  });
  test("one cause, or those left open, by file where there are several", () => {
    expect(advice([loose(crossed, [stuck])])[0]).toMatch(
      /^Likely \(95 %\): two motor phases .*\. Least rework: exchange/,
    );
    const lines = advice([
      loose({ jam: 0.45, "open-phase": 0.4, unexplained: 0.05 }, [stuck], "a/one.csv"),
      loose(sound, [turns("with")], "a/two.csv"),
    ]);
    expect(lines[0]).toBe("one.csv: The log leaves open: a jam or brake (45 %), an open phase (40 %).");
    expect(lines[1]).toMatch(/^two.csv: No sign of a fault/);
    const still = seen("torque", "still", { verdict: "blocked", holds: [hold()] });
    expect(advice([loose({ jam: 0.45, "disturbed-offset": 0.4 }, [still])])[0]).toMatch(
      /an offset near 90 deg from a disturbed alignment/,
    );
  });
  test("nothing driven: no advice", () => {
    expect(advice([loose(sound, [seen("torque", "unclear", { holds: [hold({ sense: 0 })] })])])).toEqual([]);
    expect(advice([])).toEqual([]);
  });
});
