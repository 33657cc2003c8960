import { describe, expect, test } from "vitest";
import { type WiringAction, wiringPicture } from "../../lib/chart/wiringPicture.js";
import { diagnose } from "../../lib/diagnosis/diagnose.js";
import type { Diagnosis } from "../../lib/diagnosis/types.js";
import type { Bench } from "../../lib/motor/bench.js";
import { commutation } from "../../lib/motor/commutation.js";
import { type LeadOrder, leadOrders } from "../../lib/motor/facts.js";
import { parity } from "../../lib/motor/leadOrder.js";
import { recordingFromTrace } from "../../lib/recording/fromBench.js";
import { cutTrials } from "../../lib/recording/segments/cutTrials.js";
import type { Recording } from "../../lib/recording/types.js";
import { wiringCases } from "../../lib/report/sections/wiring.js";
import { simulate } from "../../lib/simulation/simulate.js";
import { plainBench } from "../motor/samples.js";

/** Electrical turn of the encoder that goes with an order, so that wiring and encoder agree. */
const agreeing = (order: LeadOrder): 1 | -1 => (parity(order) === "even" ? 1 : -1);

/** A bench in an order, with what is wrong. */
function faulty(order: LeadOrder, fault: string): Bench {
  const sound = plainBench({
    order,
    encoder: { sense: agreeing(order) },
    motor: { coulombFriction: 0.006, staticFriction: 0.009, viscousFriction: 2e-5 },
    drive: { speedFilter: 1e-3 },
  });
  const { drive, encoder } = sound;
  const other = leadOrders.find((one) => one !== order && parity(one) === parity(order)) as LeadOrder;
  switch (fault) {
    case "encoder A and B, or two leads, exchanged":
      return { ...sound, encoder: { ...encoder, sense: -agreeing(order) as 1 | -1 } };
    case "leads moved on without alignment":
      return { ...sound, drive: { ...drive, alignment: { kind: "stale", from: other } } };
    case "half a turn":
      return { ...sound, drive: { ...drive, alignment: { kind: "disturbed", by: Math.PI } } };
    case "a lead open":
      return { ...sound, openLead: order[1] as "U" };
    case "encoder lines":
      return { ...sound, drive: { ...drive, encoderLines: 4 * encoder.lines } };
    case "pole pairs":
      return { ...sound, drive: { ...drive, polePairs: drive.polePairs + 1 } };
    default:
      return sound;
  }
}

/** One torque trial of each faulty bench, simulated once. */
const trials = new Map<string, Recording>();
function trialOf(order: LeadOrder, fault: string): Recording {
  const known = trials.get(`${order} ${fault}`);
  if (known !== undefined) return known;
  const bench = faulty(order, fault);
  const trace = simulate(
    bench,
    [
      { kind: "torque", from: 0, duration: 0.3 },
      { kind: "torque", from: 1.2, duration: 1.2 },
      { kind: "torque", from: -1.2, duration: 1.6 },
      { kind: "torque", from: 0, duration: 0.3 },
    ],
    { logRate: 1000, currentNoise: 0.02, seed: 5 },
  );
  const recording = recordingFromTrace(trace, bench, { path: "trial.csv" });
  trials.set(`${order} ${fault}`, recording);
  return recording;
}

/** The verdict on the trial of a faulty bench, its order stated or not; a stated one is judged once. */
const verdicts = new Map<Recording, Diagnosis>();
function judged(order: LeadOrder, fault: string, stated: boolean): Diagnosis {
  const whole = trialOf(order, fault);
  const known = stated ? verdicts.get(whole) : undefined;
  if (known !== undefined) return known;
  const { ordering, ...rest } = whole;
  const recording = stated && ordering ? whole : rest;
  const diagnosis = diagnose([{ recording, trials: cutTrials(recording).trials }]);
  if (stated) verdicts.set(whole, diagnosis);
  return diagnosis;
}

const leadRows = [48, 86, 124];
const encoderRows = [168, 190];

/** Ends of the wires that are drawn as they should be, in the order of the drive's terminals: rows at the motor or the
 * encoder. */
function wiresIn(svg: string, rows: readonly number[]): number[] {
  return [
    ...svg.matchAll(/<path d="M112 (\d+)C182 \d+ 230 \d+ 300 (\d+)" fill="none" stroke="[^"]*" ([^/]*)\/>/g),
  ]
    .filter(([, from, , rest]) => rows.includes(Number(from)) && !rest.includes("dasharray"))
    .sort((a, b) => Number(a[1]) - Number(b[1]))
    .map(([, , to]) => rows.indexOf(Number(to)));
}

/** The bench after what is drawn was done; whatever is drawn ends with an alignment. */
function after(bench: Bench, action: WiringAction, svg: string): Bench {
  const order = wiresIn(svg, leadRows)
    .map((row) => "UVW"[row])
    .join("") as LeadOrder;
  const [a] = wiresIn(svg, encoderRows);
  const { drive, encoder } = bench;
  return {
    ...bench,
    order,
    encoder: { ...encoder, sense: a === 0 ? encoder.sense : (-encoder.sense as 1 | -1) },
    ...(action.kind === "check" && action.what === "leads" ? { openLead: undefined } : {}),
    drive: {
      ...drive,
      alignment: action.kind === "keep" || action.kind === "check" ? drive.alignment : { kind: "aligned" },
      ...(action.kind === "set" && action.what === "the pole pairs"
        ? { polePairs: bench.motor.polePairs }
        : {}),
      ...(action.kind === "set" && action.what === "the encoder lines"
        ? { encoderLines: encoder.lines }
        : {}),
    },
  };
}

/** Each fault with what must be drawn for it; either of two where both undo it. */
const faults: Readonly<Record<string, readonly WiringAction[]>> = {
  none: [{ kind: "keep" }],
  "encoder A and B, or two leads, exchanged": [
    { kind: "exchange-leads", terminals: [1, 2] },
    { kind: "exchange-encoder" },
  ],
  "leads moved on without alignment": [{ kind: "align" }],
  "half a turn": [{ kind: "align" }],
  "a lead open": [{ kind: "check", what: "leads" }],
  "pole pairs": [{ kind: "set", what: "the pole pairs" }],
  "encoder lines": [{ kind: "set", what: "the encoder lines" }],
};

/** Held against the commutation law: n = k - p or k + p, the offset error after an alignment, and three leads that make
 * contact. */
function expectMended(bench: Bench, order: LeadOrder, action: WiringAction): void {
  const svg = wiringPicture({ order, action });
  expect(svg).toContain(`Leads ${[...order].join(", ")} on drive terminals 1, 2, 3.`);
  const mended = after(bench, action, svg);
  expect(mended.openLead, action.kind).toBeUndefined();
  expect(commutation(mended).mismatch, action.kind).toBeCloseTo(0, 9);
  expect(commutation(mended).torqueGain, action.kind).toBeGreaterThan(0.9);
  // Nothing but an exchange of leads moves one, and nothing but an exchange of A and B moves those.
  if (action.kind !== "exchange-leads") expect(mended.order).toBe(order);
  if (action.kind !== "exchange-encoder") expect(mended.encoder.sense).toBe(bench.encoder.sense);
}

describe.each(Object.entries(faults))("%s", (fault, actions) => {
  test.each(leadOrders)("order %s: each picture for it mends it", (order) => {
    const bench = faulty(order, fault);
    const was = commutation(bench);
    const sound = was.mismatch < 1e-9 && was.torqueGain > 0.9 && bench.openLead === undefined;
    expect(sound).toBe(fault === "none");
    for (const action of actions) expectMended(bench, order, action);
  });

  test.each(leadOrders)("order %s: what is drawn for a judged trial mends it", (order) => {
    const bench = faulty(order, fault);
    // A picture is left out where no remedy is likelier than not; the last test counts how often.
    const cases = wiringCases(judged(order, fault, true));
    for (const drawn of cases) {
      expect(drawn.order).toBe(order);
      expect(actions).toContainEqual(drawn.action);
      expectMended(bench, order, drawn.action);
    }
    expect(cases.map(({ choice }) => choice)).toEqual(
      cases.length === 2 ? ["either", "or instead"] : cases.map(() => undefined),
    );
  });
});

test("both ways of one choice done together bring the fault back", () => {
  const bench = faulty("VUW", "encoder A and B, or two leads, exchanged");
  const leads = after(
    bench,
    { kind: "align" },
    wiringPicture({ order: "VUW", action: { kind: "exchange-leads", terminals: [1, 2] } }),
  );
  const both = after(
    leads,
    { kind: "align" },
    wiringPicture({ order: leads.order, action: { kind: "exchange-encoder" } }),
  );
  expect(commutation(leads).mismatch).toBe(0);
  expect(commutation(both).mismatch).toBe(2 * bench.motor.polePairs);
});

test("each kind of remedy is drawn for some order, and without a stated order no lead has a name", () => {
  const drawn = new Set<string>();
  for (const fault of Object.keys(faults))
    for (const order of ["WUV", "UVW"] as const) {
      for (const { action } of wiringCases(judged(order, fault, true)))
        drawn.add(
          action.kind === "set" || action.kind === "check" ? `${action.kind} ${action.what}` : action.kind,
        );
      for (const one of wiringCases(judged(order, fault, false))) {
        expect(one.order).toBeUndefined();
        expect(wiringPicture({ action: one.action })).toContain("The order of the leads was not stated.");
      }
    }
  expect([...drawn].sort()).toEqual([
    "align",
    "check leads",
    "exchange-encoder",
    "exchange-leads",
    "keep",
    "set the encoder lines",
    "set the pole pairs",
  ]);
});
