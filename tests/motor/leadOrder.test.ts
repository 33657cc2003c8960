import { describe, expect, test } from "vitest";
import {
  composeOrders,
  exchangeLeads,
  exchangesBetween,
  exchangeTerminals,
  inverseOrder,
  type LeadOrder,
  leadOrders,
  parity,
  windingShift,
} from "../../lib/motor/index.js";

const sign = (order: LeadOrder) => (parity(order) === "even" ? 1 : -1);

describe("the six orders are the symmetric group of three leads", () => {
  test("closed, with U-V-W as identity and an inverse for each", () => {
    for (const a of leadOrders) {
      expect(composeOrders(a, "UVW")).toBe(a);
      expect(composeOrders("UVW", a)).toBe(a);
      expect(composeOrders(a, inverseOrder(a))).toBe("UVW");
      expect(composeOrders(inverseOrder(a), a)).toBe("UVW");
      for (const b of leadOrders) expect(leadOrders).toContain(composeOrders(a, b));
    }
  });

  test("associative", () => {
    for (const a of leadOrders)
      for (const b of leadOrders)
        for (const c of leadOrders)
          expect(composeOrders(composeOrders(a, b), c)).toBe(composeOrders(a, composeOrders(b, c)));
  });

  test("not commutative: it matters what is moved first", () => {
    expect(composeOrders("VUW", "VWU")).not.toBe(composeOrders("VWU", "VUW"));
  });

  test("parity multiplies: two exchanges undo each other's reversal of the field", () => {
    for (const a of leadOrders)
      for (const b of leadOrders) expect(sign(composeOrders(a, b))).toBe(sign(a) * sign(b));
  });

  test("three even, three odd; exchanging any two leads or terminals changes the parity", () => {
    expect(leadOrders.filter((order) => parity(order) === "even")).toEqual(["UVW", "VWU", "WUV"]);
    for (const order of leadOrders) {
      for (const [a, b] of [
        [1, 2],
        [2, 3],
        [1, 3],
      ] as const) {
        expect(sign(exchangeTerminals(order, a, b))).toBe(-sign(order));
        expect(exchangeTerminals(exchangeTerminals(order, a, b), a, b)).toBe(order);
      }
      for (const [a, b] of [
        ["U", "V"],
        ["V", "W"],
        ["U", "W"],
      ] as const)
        expect(sign(exchangeLeads(order, a, b))).toBe(-sign(order));
    }
  });
});

test("the winding's shift is a multiple of 120 degrees, one of each among the even and among the odd orders", () => {
  const third = (2 * Math.PI) / 3;
  expect(windingShift("UVW")).toBe(0);
  expect(windingShift("VWU")).toBeCloseTo(third, 12);
  expect(windingShift("WUV")).toBeCloseTo(-third, 12);
  expect(["VUW", "UWV", "WVU"].map((order) => Math.round(windingShift(order as LeadOrder) / third))).toEqual([
    1, 0, -1,
  ]);
});

test("the exchanges named lead from one order to the other, and there are never more than two", () => {
  for (const from of leadOrders) {
    for (const to of leadOrders) {
      const exchanges = exchangesBetween(from, to);
      let now = from;
      for (const [a, b] of exchanges) now = exchangeTerminals(now, a, b);
      expect(now).toBe(to);
      expect(exchanges.length).toBe(from === to ? 0 : parity(from) === parity(to) ? 2 : 1);
    }
  }
});
