import { describe, expect, test } from "vitest";
import type { OrderPicture } from "../../lib/diagnosis/orders.js";
import { scaleFirst, setAdvice } from "../../lib/diagnosis/setAdvice.js";
import type { LeadOrder } from "../../lib/motor/facts.js";

// Orders of one motor as pictures, and what is advised of them. U-V-W, V-W-U and W-U-V are cyclic shifts of each other
// and turn the motor one way; the three others turn it the other way (IEC 60034-8).

interface Seen {
  readonly usable?: boolean;
  readonly verdict?: "tracking" | "reversed" | "runaway" | "blocked" | "undetermined";
  readonly cause?: string;
  readonly probability?: number;
  readonly rework?: string;
  readonly known?: boolean;
  readonly behaviour?: string;
  readonly sense?: string;
  readonly tripped?: number;
  readonly weak?: boolean;
  readonly posterior?: Readonly<Record<string, number>>;
  readonly logs?: Readonly<Record<string, number>>;
  readonly remedies?: readonly object[];
  readonly codes?: readonly string[];
}
function order(ordering: LeadOrder, seen: Seen = {}): OrderPicture {
  const {
    verdict = seen.usable ? "tracking" : "undetermined",
    cause = "nothing-wrong",
    probability = 0.9,
  } = seen;
  const posterior = new Map(Object.entries(seen.posterior ?? { [cause]: probability }));
  const judged = {
    posterior,
    logs: new Map(Object.entries(seen.logs ?? { [cause]: 0 })),
    recording: { findings: (seen.codes ?? []).map((code) => ({ code })) },
    trials: [
      {
        observation: {
          verdict,
          behaviour: seen.behaviour ?? "turns",
          sense: seen.sense ?? (verdict === "tracking" ? "with" : "against"),
          tripped: seen.tripped,
          trial: { kind: "torque" },
        },
      },
    ],
  };
  return {
    ordering,
    motor: "",
    judged: [judged],
    leading: judged,
    cause,
    probability,
    remedies: seen.remedies ?? [],
    weak: seen.weak ?? false,
    verdict: {
      verdict,
      usable: seen.usable ?? false,
      rework: seen.rework,
      probability: seen.known === false ? undefined : 0.8,
    },
  } as unknown as OrderPicture;
}
const advice = (set: readonly OrderPicture[], wanted?: "clockwise" | "counterclockwise"): string =>
  setAdvice(set, { wanted } as never).join("\n");
const works = { usable: true } as const;
const against = { verdict: "reversed", cause: "phases-swapped" } as const;
const blocked = { verdict: "blocked", cause: "offset", behaviour: "still", sense: "none" } as const;

describe("orders that work", () => {
  test("one is kept, and nothing needs rework", () => {
    expect(advice([order("UVW", works)])).toBe("Keep UVW. Nothing needs rework.");
  });
  test("cyclic shifts are equal; of both groups something is labelled wrong", () => {
    const three = advice([order("UVW", works), order("VWU", works), order("WUV", works)]);
    expect(three).toContain("Keep UVW, VWU or WUV.");
    expect(three).toContain("cyclic shifts of each other");
    expect(three).not.toContain("labelled right");
    const both = advice([order("UVW", works), order("UWV", works)]);
    expect(both).toContain("Keep UVW or UWV.");
    expect(both).toContain("check that the orders are labelled right");
    expect(both).not.toContain("cyclic shifts");
  });
  test("what is left open of the alignment is said with its probability", () => {
    const doubt = { ...works, posterior: { "nothing-wrong": 0.7, "disturbed-offset": 0.3 } };
    expect(advice([order("UVW", doubt)])).toContain(
      "that the alignment is off all the same is left open (30 %)",
    );
    // The order of the least doubt is the one that counts.
    expect(advice([order("UVW", doubt), order("VWU", works)])).toContain("Nothing needs rework");
    const off = { ...works, cause: "disturbed-offset", probability: 0.9 };
    expect(advice([order("UVW", off)])).toContain("Repeat its alignment first");
    expect(advice([order("UVW", off), order("VWU", works)])).not.toContain("Repeat its alignment first");
  });
});

describe("orders that turn against their command, beside one that works", () => {
  test("are not to be kept, although they spin", () => {
    const said = advice([order("UVW", works), order("UWV", { ...against, rework: "Exchange two leads." })]);
    expect(said).toContain("Not UWV, although it spins and reverses");
    expect(said).toContain("would run away under speed control. To use it all the same: exchange two leads.");
    const ran = advice([order("UVW", works), order("UWV", { ...against, verdict: "runaway" })]);
    expect(ran).toContain("and ran away under speed control.");
    expect(ran).not.toContain("To use it");
  });
  test("of one group with one that works: the offset was not found afresh", () => {
    expect(advice([order("UVW", works), order("VWU", against)])).toContain("not found afresh in each order");
    expect(advice([order("UVW", works), order("UWV", against)])).not.toContain("afresh");
    expect(advice([order("VWU", against), order("UWV", against)])).not.toContain("afresh");
  });
  test("two leads exchanged are named once for all of them", () => {
    const one = advice([order("UVW", works), order("UWV", { ...against, behaviour: "swings" })]);
    expect(one).toContain("UWV: two motor phases swapped against the encoder's sense");
    expect(one).toContain("would bring it into the working group");
    const two = advice([order("UVW", works), order("UWV", against), order("WVU", against)]);
    expect(two).toContain("UWV, WVU: two motor phases swapped");
    expect(two).toContain("would bring each into the working group");
    const unsure = advice([order("UVW", works), order("UWV", { ...against, probability: 0.3 })]);
    expect(unsure).not.toContain("two motor phases swapped");
  });
});

describe("orders that cannot be told, beside one that works", () => {
  const beside = (seen: Seen): string => advice([order("UVW", works), order("WVU", seen)]);
  const shared = { cause: "jam", posterior: { jam: 0.5, "open-phase": 0.42, "pole-pairs": 0.05 } } as const;
  test("causes that look alike are named with their probabilities, those that do not fit are not", () => {
    const said = beside({ ...shared, logs: { jam: 0, "open-phase": -1, "pole-pairs": -1 } });
    expect(said).toMatch(/WVU: .*\(50 %\), .*\(42 %\) look alike in this log/);
    expect(said).toContain("Not needed while another order works");
    expect(beside({ ...shared, logs: { jam: 0, "open-phase": -1 }, rework: "Look at it." })).toContain(
      "look alike in this log. Look at it.",
    );
    // A factor of eight of the likelihood tells them apart.
    expect(beside({ ...shared, logs: { jam: 0, "open-phase": -2.2 } })).toContain("not judged well enough");
    expect(beside({ ...shared, logs: { jam: 0, "open-phase": -2 } })).toContain("look alike");
  });
  test("one cause has its rework, or is not judged well enough", () => {
    expect(beside({ cause: "jam", rework: "Free the shaft." })).toContain("WVU: free the shaft.");
    expect(beside({ cause: "jam" })).toContain("WVU: not judged well enough to advise.");
  });
});

describe("where no order works", () => {
  const remedy = (probability: number, more = {}) => ({
    remedies: [{ remedy: "align", probability, text: "align again", causes: ["offset"], ...more }],
  });
  test("orders of one remedy and cause are named together, with the least rework", () => {
    const set = [order("UVW", { ...blocked, ...remedy(0.9) }), order("UWV", { ...blocked, ...remedy(0.9) })];
    expect(advice(set)).toMatch(/^UVW, UWV: .*Least rework: align again\.$/m);
    const open = { probability: 0.4, ...remedy(0.9, { open: "one of two" }) };
    expect(advice([order("UVW", { ...blocked, ...open })])).toContain(
      "UVW: one of two. Least rework: align again.",
    );
    expect(advice([order("UVW", { ...blocked, ...remedy(0.3) })])).toContain(
      "No order can be kept on this evidence",
    );
  });
  test("an order that looks right on too little is told what is missing", () => {
    const right = { verdict: "tracking" } as const;
    expect(advice([order("UVW", right)])).toContain("UVW looks right so far, but on too little evidence");
    expect(advice([order("UVW", right), order("VWU", right)])).toContain("UVW, VWU look right so far");
    expect(advice([order("UVW", { ...right, weak: true })])).toContain(
      "the offset may leave too little torque",
    );
    expect(advice([order("UVW", { ...right, tripped: 0.4, weak: true })])).toContain("the drive tripped");
    const all = advice([
      order("UVW", { ...right, tripped: 1 }),
      order("VWU", { ...right, weak: true }),
      order("WUV", right),
    ]);
    expect(all.match(/looks right so far/g)).toHaveLength(3);
    expect(advice([order("UVW", { verdict: "blocked" })])).toContain("No order can be kept");
    expect(advice([order("UVW", { verdict: "reversed" })])).not.toContain("right so far");
  });
});

describe("the set as a whole", () => {
  const all: readonly LeadOrder[] = ["UVW", "VWU", "WUV", "UWV", "WVU", "VUW"];
  test("all orders blocked: it is not the leads", () => {
    const set = all.map((one) => order(one, blocked));
    expect(advice(set)).toContain("All six orders are blocked: the leads are not the cause");
    expect(advice(set.slice(0, 4))).toContain("All orders tried so far are blocked, of both groups");
    expect(advice(set.slice(0, 3))).not.toContain("are blocked");
    expect(advice([...set.slice(0, 5), order("VUW", against)])).not.toContain("orders are blocked");
  });
  test("a blocked order beside one of its group that works", () => {
    const one = advice([order("UVW", works), order("VWU", blocked)]);
    expect(one).toContain("VWU should work like UVW once aligned, and is blocked");
    const two = advice([order("UWV", works), order("WVU", blocked), order("VUW", blocked)]);
    expect(two).toContain("WVU, VUW should work like UWV once aligned, and are blocked");
    expect(advice([order("UVW", works), order("UWV", blocked)])).not.toContain("should work like");
  });
  test("the sense of rotation that is wanted (IEC 60034-8)", () => {
    expect(advice([order("UVW", works)])).not.toContain("IEC");
    expect(advice([order("UVW", works)], "clockwise")).toContain("UVW gives clockwise rotation");
    expect(advice([order("UWV", works)], "counterclockwise")).toContain(
      "UWV gives counter-clockwise rotation",
    );
    expect(advice([order("UVW", works)], "counterclockwise")).toContain("UVW gives the other sense");
    expect(advice([order("UWV", works)], "clockwise")).toContain("For clockwise rotation exchange two leads");
    expect(advice([order("UWV", blocked)], "clockwise")).toContain("which no usable order gives yet");
  });
  test("orders without causes for want of a scale: the lines are asked for first", () => {
    const bare = { verdict: "tracking", known: false, codes: ["lines-missing"] } as const;
    expect(scaleFirst([order("UVW", bare)])[0]).toContain("UVW is judged by sense and shape alone");
    expect(scaleFirst([order("UVW", bare), order("VWU", bare)])[0]).toContain("UVW, VWU are judged");
    expect(scaleFirst([order("UVW", { ...bare, codes: [] })])).toEqual([]);
    expect(scaleFirst([order("UVW", { ...bare, known: true })])).toEqual([]);
    expect(scaleFirst([order("UVW", { ...bare, verdict: "undetermined" })])).toEqual([]);
  });
});
