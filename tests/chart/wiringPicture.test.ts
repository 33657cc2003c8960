import { expect, test } from "vitest";
import { actionText, orderAfter, type WiringAction, wiringPicture } from "../../lib/chart/wiringPicture.js";
import type { Bench } from "../../lib/motor/bench.js";
import { commutation } from "../../lib/motor/commutation.js";
import { leadOrders } from "../../lib/motor/facts.js";
import { parity } from "../../lib/motor/leadOrder.js";

const rows = { 48: 1, 86: 2, 124: 3 } as const;

/** What a picture draws: from terminal to lead, the wires as they should be (solid), and whether the encoder's wires
 * cross. */
function read(svg: string): { order: string; crossed: boolean } {
  const wires = [
    ...svg.matchAll(/<path d="M112 (\d+)C182 \d+ 230 \d+ 300 (\d+)" fill="none" stroke="[^"]*" ([^/]*)\/>/g),
  ];
  const solid = wires.filter(([, , , rest]) => !rest.includes("dasharray"));
  const order = ["", "", ""];
  let crossed = false;
  for (const [, from, to] of solid) {
    const terminal = rows[from as unknown as keyof typeof rows];
    if (terminal) order[terminal - 1] = "UVW"[rows[to as unknown as keyof typeof rows] - 1];
    else if (from !== to) crossed = true;
  }
  return { order: order.join(""), crossed };
}

const bench = (
  order: Bench["order"],
  sense: 1 | -1,
  alignment: Bench["drive"]["alignment"],
  polePairs = 4,
): Bench => ({
  motor: {
    polePairs: 4,
    resistance: 0.9,
    inductanceD: 1e-3,
    inductanceQ: 1e-3,
    fluxLinkage: 0.0155,
    inertia: 1.4e-4,
    coulombFriction: 0.02,
    viscousFriction: 0,
    staticFriction: 0.02,
  },
  drive: {
    busVoltage: 48,
    modulation: "space-vector",
    currentLimit: 3,
    samplePeriod: 1e-4,
    currentBandwidth: 2500,
    polePairs,
    encoderLines: 1024,
    speedLoop: { kp: 0.03, ki: 0.3 },
    speedDivider: 5,
    speedFilter: 0,
    alignment,
  },
  encoder: { lines: 1024, sense },
  order,
});

/** The bench after what a picture draws was done, with the alignment that every such remedy ends in. */
function done(before: Bench, action: WiringAction): Bench {
  const drawn = read(wiringPicture({ order: before.order, action }));
  return {
    ...before,
    order: drawn.order as Bench["order"],
    encoder: {
      ...before.encoder,
      sense: (drawn.crossed ? -before.encoder.sense : before.encoder.sense) as 1 | -1,
    },
    drive: {
      ...before.drive,
      alignment: { kind: "aligned" },
      ...(action.kind === "set" ? { polePairs: 4 } : {}),
    },
  };
}

// The commutation law (n = k - p or k + p, offset error after an alignment) says whether what is drawn is a remedy.
test.each(leadOrders)(
  "order %s: each picture of a remedy for two leads exchanged ends in a commutation without error",
  (order) => {
    const sense = parity(order) === "odd" ? 1 : -1;
    const faulty = bench(order, sense, { kind: "aligned" });
    expect(commutation(faulty).mismatch).toBe(8);
    const remedies: WiringAction[] = [
      { kind: "exchange-leads", terminals: [1, 2] },
      { kind: "exchange-leads", terminals: [2, 3] },
      { kind: "exchange-leads", terminals: [3, 1] },
      { kind: "exchange-encoder" },
    ];
    for (const action of remedies) {
      const { mismatch, torqueGain } = commutation(done(faulty, action));
      expect([mismatch, torqueGain]).toEqual([0, 1]);
      expect(read(wiringPicture({ order, action })).order).toBe(orderAfter(order, action));
    }
    // Pictures that move nothing do not mend it.
    for (const action of [{ kind: "keep" }, { kind: "align" }] as const)
      expect(commutation(done(faulty, action)).mismatch).toBe(8);
  },
);

test.each(leadOrders)("order %s: alignment and settings are mended without moving a lead", (order) => {
  const sense = parity(order) === "even" ? 1 : -1;
  const stale = bench(order, sense, { kind: "disturbed", by: (2 * Math.PI) / 3 });
  expect(commutation(stale).torqueGain).toBeCloseTo(-0.5, 12);
  expect(commutation(done(stale, { kind: "align" }))).toMatchObject({ mismatch: 0, torqueGain: 1 });
  const wrong = bench(order, sense, { kind: "aligned" }, 5);
  expect(commutation(wrong).mismatch).toBe(1);
  expect(commutation(done(wrong, { kind: "set", what: "the pole pairs" })).mismatch).toBe(0);
});

test("a picture says in words what it draws, also where the order is not known", () => {
  expect(actionText({ action: { kind: "exchange-leads", terminals: [2, 3] } })).toBe(
    "Exchange the leads on terminals 2 and 3, then repeat the alignment.",
  );
  const svg = wiringPicture({ action: { kind: "check", what: "leads" } }, "dark");
  expect(svg).toContain(
    "The order of the leads was not stated. Find the lead that makes no contact and repair it.",
  );
  expect(svg).not.toMatch(/NaN|undefined/);
});
