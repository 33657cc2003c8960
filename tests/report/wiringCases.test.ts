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
    case "pole pairs":
      return { ...sound, drive: { ...drive, polePairs: drive.polePairs + 1 } };
    default:
      return sound;
  }
}

/** The verdict on one torque trial of a bench, its order stated or not. */
function judged(bench: Bench, stated: boolean): Diagnosis {
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
  const { ordering, ...rest } = recordingFromTrace(trace, bench, { path: "trial.csv" });
  const recording = stated && ordering ? { ...rest, ordering } : rest;
  return diagnose([{ recording, trials: cutTrials(recording).trials }]);
}

/** The bench after what is drawn was done; whatever is drawn ends with an alignment. */
function after(bench: Bench, action: WiringAction, svg: string): Bench {
  const leads = [
    ...svg.matchAll(
      /<path d="M112 (48|86|124)C182 \d+ 230 \d+ 300 (48|86|124)" fill="none" stroke="[^"]*" ([^/]*)\/>/g,
    ),
  ];
  const order = leads
    .filter(([, , , rest]) => !rest.includes("dasharray"))
    .sort((a, b) => Number(a[1]) - Number(b[1]))
    .map(([, , to]) => "UVW"[[48, 86, 124].indexOf(Number(to))])
    .join("") as LeadOrder;
  const aligned =
    action.kind === "keep" || action.kind === "check" ? bench.drive.alignment : { kind: "aligned" as const };
  return {
    ...bench,
    order,
    ...(action.kind === "check" && action.what === "leads" ? { openLead: undefined } : {}),
    drive: {
      ...bench.drive,
      alignment: aligned,
      ...(action.kind === "set" ? { polePairs: bench.motor.polePairs } : {}),
    },
  };
}

const faults = [
  "none",
  "encoder A and B, or two leads, exchanged",
  "leads moved on without alignment",
  "half a turn",
  "a lead open",
  "pole pairs",
];

// What is drawn for a judged trial is held against the commutation law: n = k - p or k + p, and the offset error after an alignment.
describe.each(faults)("%s", (fault) => {
  test.each(leadOrders)("order %s: what is drawn mends it", (order) => {
    const bench = faulty(order, fault);
    const [drawn] = wiringCases(judged(bench, true));
    // A picture is left out where no remedy is likelier than not.
    if (drawn === undefined) return;
    expect(drawn.order).toBe(order);
    const svg = wiringPicture({ order, action: drawn.action });
    expect(svg).toContain(`Leads ${[...order].join(", ")} on drive terminals 1, 2, 3.`);
    const mended = after(bench, drawn.action, svg);
    expect(mended.openLead, drawn.action.kind).toBeUndefined();
    expect(commutation(mended), drawn.action.kind).toMatchObject({ mismatch: 0 });
    expect(commutation(mended).torqueGain, drawn.action.kind).toBeGreaterThan(0.9);
    // Nothing but an exchange of leads moves one.
    if (drawn.action.kind !== "exchange-leads") expect(mended.order).toBe(order);
  });
});

test("of these six orders and six faults most are drawn, and without a stated order no lead has a name", () => {
  let drawn = 0;
  for (const fault of faults) {
    const [stated] = wiringCases(judged(faulty("WUV", fault), true));
    if (stated) drawn += 1;
    for (const { order, action } of wiringCases(judged(faulty("WUV", fault), false))) {
      expect(order).toBeUndefined();
      expect(wiringPicture({ action })).toContain("The order of the leads was not stated.");
    }
  }
  expect(drawn).toBeGreaterThanOrEqual(5);
});
