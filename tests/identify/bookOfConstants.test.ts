import { describe, expect, test } from "vitest";
import { Book, magnitude } from "../../lib/identify/book.js";
import { compareRoutes, withholdContradicted } from "../../lib/identify/compareRoutes.js";
import type { ConstantName, Constants } from "../../lib/identify/constants.js";
import { addDerived } from "../../lib/identify/derivedConstants.js";
import { withoutScale } from "../../lib/identify/withoutScale.js";
import type { Run } from "../../lib/run/run.js";
import type { Estimate } from "../../lib/units/estimate.js";

// What follows from constants that are known, by arithmetic and by what each of them is.

const about = (value: number, part: number, more: Partial<Estimate> = {}) => ({
  value,
  low: value * (1 - part),
  high: value * (1 + part),
  method: "made",
  ...more,
});
const bookOf = (all: readonly (readonly [ConstantName, ReturnType<typeof about>])[]): Book => {
  const book = new Book();
  for (const [name, estimate] of all) book.add(name, estimate);
  return book;
};
const codes = ({ findings }: Pick<Book, "findings">): string[] => findings.map(({ code }) => code);

describe("a book of routes", () => {
  test("keeps the order they were found in, but one of less than half the width comes first", () => {
    const wide = about(2, 0.2);
    const book = bookOf([
      ["inertia", wide],
      ["inertia", about(3, 0.09)],
      ["inertia", about(1, 0.3)],
    ]);
    expect(book.all("inertia").map(({ value }) => value)).toEqual([2, 3, 1]);
    book.add("inertia", about(4, 0.04));
    expect(book.all("inertia").map(({ value }) => value)).toEqual([4, 2, 3, 1]);
    expect(book.get("inertia")).toMatchObject({ value: 4, unit: "kg.m2", level: 0.95 });
    expect(book.get("resistance")).toBeUndefined();
  });

  test("takes no number that is not finite, and no interval the wrong way round", () => {
    const book = bookOf([
      ["inertia", { value: 1, low: Number.NEGATIVE_INFINITY, high: 2, method: "" }],
      ["inertia", { value: Number.NaN, low: 0, high: 2, method: "" }],
      ["inertia", { value: 1, low: 2, high: 1, method: "" }],
    ]);
    book.add("inertia", null);
    expect(book.routes).toEqual([]);
    book.add("inertia", { value: 1, low: 1, high: 1, method: "" });
    expect(book.routes).toHaveLength(1);
  });

  test("cuts at zero what cannot be below, and says so where all of it is", () => {
    const cut = bookOf([["inertia", { value: 1, low: -1, high: 3, method: "" }]]);
    expect(cut.get("inertia")).toMatchObject({ value: 1, low: 0, high: 3 });
    expect(cut.findings).toEqual([]);
    const below = bookOf([["inertia", { value: -2, low: -3, high: -1, method: "" }]]);
    expect(below.get("inertia")).toBeUndefined();
    expect(codes(below)).toEqual(["below-zero"]);
    expect(below.findings[0].meaning).toContain("it is left out");
    // A law that is wrong by so much says that friction is no larger.
    const friction = bookOf([["coulombFriction", { value: -2, low: -3, high: -1, method: "" }]]);
    expect(friction.get("coulombFriction")).toMatchObject({ value: 0, low: 0, high: 3, limit: "upper" });
    expect(friction.findings[0].meaning).toContain("no larger than that law");
    const bound = bookOf([["coulombFriction", { value: -2, low: -3, high: 1, method: "" }]]);
    expect(bound.get("coulombFriction")).toMatchObject({ value: 0, low: 0, high: 1, limit: "upper" });
    expect(bound.findings).toEqual([]);
  });

  test("leaves what may have either sign, and the friction of one direction that a load outweighs", () => {
    const gain = bookOf([["torqueGain", { value: -0.5, low: -0.6, high: -0.4, method: "" }]]);
    expect(gain.get("torqueGain")).toMatchObject({ value: -0.5, low: -0.6, high: -0.4 });
    const load = bookOf([["coulombFrictionPositive", { value: -2, low: -3, high: -1, method: "" }]]);
    expect(load.get("coulombFrictionPositive")).toMatchObject({ value: -2, high: -1 });
    expect(load.findings).toEqual([]);
  });

  test("a magnitude is turned with its ends", () => {
    expect(magnitude({ value: -2, low: -3, high: -1 })).toEqual({ value: 2, low: 1, high: 3 });
    expect(magnitude({ value: 2, low: 1, high: 3 })).toEqual({ value: 2, low: 1, high: 3 });
    expect(magnitude({ value: 0, low: -1, high: 1 })).toEqual({ value: 0, low: -1, high: 1 });
  });
});

describe("routes to one quantity", () => {
  const meaningOf = (second: number): string => {
    const book = bookOf([
      ["fluxLinkage", about(1, 1e-3)],
      ["fluxLinkage", about(second, 1e-3 / second)],
    ]);
    compareRoutes(book);
    expect(codes(book)).toEqual(["routes-disagree"]);
    expect(book.findings[0].value).toBeCloseTo(second, 12);
    return String(book.findings[0].meaning);
  };
  test.each([
    [Math.SQRT2, "RMS and peak"],
    [1 / Math.SQRT2, "RMS and peak"],
    [Math.sqrt(3), "phase and line-to-line"],
    [2, "poles and pole pairs"],
    [0.25, "encoder lines and counts"],
    [2 / Math.sqrt(3), "space-vector modulation"],
    [1.5, "amplitude- and power-invariant"],
    [1.6, "one of the two rests on an assumption"],
    [5, "one of the two rests on an assumption"],
  ])("a ratio of %d: %s", (ratio, words) => expect(meaningOf(ratio)).toContain(words));

  test("agree as long as their intervals meet, from either side", () => {
    for (const second of [about(1.1, 0.1), about(0.9, 0.1), { value: 1.5, low: 1.25, high: 2, method: "" }]) {
      const book = bookOf([
        ["fluxLinkage", { value: 1, low: 0.75, high: 1.25, method: "" }],
        ["fluxLinkage", second],
      ]);
      compareRoutes(book);
      expect(book.findings).toEqual([]);
    }
    const three = bookOf([
      ["fluxLinkage", about(1, 0.01)],
      ["fluxLinkage", about(1.005, 0.01)],
      ["fluxLinkage", about(3, 0.01)],
    ]);
    compareRoutes(three);
    expect(three.findings).toHaveLength(1);
  });
});

describe("friction of a driven motion against that of the coast", () => {
  const contradicted = (driven: number, more: Partial<Estimate> = {}) => {
    const book = bookOf([
      ["coulombOverInertia", about(10, 0.1, { source: "coast-down" })],
      ["coulombOverInertia", about(driven, 0.1, { source: "driven-motion", ...more })],
      ["viscousOverInertia", about(1, 0.1)],
      ["inertia", about(1, 0.1, { source: "driven-motion" })],
      ["inertia", about(1, 0.1, { source: "driven-motion-in-rotor" })],
      ["inertia", about(1, 0.1)],
      ["resistance", about(1, 0.1)],
    ]);
    withholdContradicted(book);
    return book;
  };
  test("three times as much and it was no such torque: what it gave is taken out", () => {
    const book = contradicted(40);
    expect(codes(book)).toEqual(["driven-contradicted"]);
    expect(book.findings[0].value).toBeCloseTo(4, 12);
    expect(book.routes.map(({ quantity, estimate }) => `${quantity} ${estimate.source ?? ""}`)).toEqual([
      "coulombOverInertia coast-down",
      "inertia ",
      "resistance ",
    ]);
  });
  test("less is what a load or a brush makes; a bound is no measured friction", () => {
    expect(contradicted(35).routes).toHaveLength(7);
    expect(contradicted(40, { limit: "upper" }).routes).toHaveLength(7);
    const alone = bookOf([["coulombOverInertia", about(90, 0.1, { source: "driven-motion" })]]);
    withholdContradicted(alone);
    expect(alone.routes).toHaveLength(1);
  });
});

describe("what follows from two constants", () => {
  const derived = (all: Parameters<typeof bookOf>[0], machine = {}): Book => {
    const book = bookOf(all);
    addDerived({ machine } as never, book);
    return book;
  };
  const root = Math.hypot(0.1, 0.05);

  test("ratios to the torque constant times it: relative errors add in squares", () => {
    const book = derived([
      ["torqueConstant", about(0.05, 0.05, { channels: ["a", "b"] })],
      ["inertiaOverTorqueConstant", about(4, 0.1, { samples: 7, channels: ["b", "c"] })],
    ]);
    const inertia = book.get("inertia") as Estimate;
    expect(inertia.value).toBeCloseTo(0.2, 12);
    expect(inertia.low).toBeCloseTo(0.2 * (1 - root), 12);
    expect(inertia.high).toBeCloseTo(0.2 * (1 + root), 12);
    expect(inertia).toMatchObject({
      samples: 7,
      channels: ["b", "c", "a"],
      convention: "torque gain g taken as 1",
    });
    expect(inertia.method).toBe("made, times Kt (made)");
  });

  test("whether the torque gain is in it depends on where the torque was measured", () => {
    const conventionOf = (kt: string | undefined, ratio: string | undefined) =>
      derived([
        ["torqueConstant", about(0.05, 0.05, { source: kt as never })],
        ["coulombOverTorqueConstant", about(4, 0.1, { source: ratio as never })],
      ]).get("coulombFriction")?.convention;
    expect(conventionOf("measured-torque", undefined)).toBe("torque gain g cancels");
    expect(conventionOf(undefined, "driven-motion-in-rotor")).toBe("torque gain g taken out");
    expect(conventionOf(undefined, undefined)).toBe("torque gain g taken as 1");
  });

  test("a stated torque constant is exact, and a measured one goes before it", () => {
    const ratio = ["viscousOverTorqueConstant", about(2, 0.1)] as const;
    const book = derived([ratio], { torqueConstant: 0.5 });
    expect(book.get("viscousFriction")?.value).toBeCloseTo(1, 12);
    expect(book.get("viscousFriction")?.high).toBeCloseTo(1.1, 12);
    expect(book.get("viscousFriction")?.method).toContain("times Kt (as stated)");
    expect(
      derived([ratio, ["torqueConstant", about(1, 0.1)]], { torqueConstant: 0.5 }).get("viscousFriction")
        ?.value,
    ).toBeCloseTo(2, 12);
    expect(derived([ratio]).get("viscousFriction")).toBeUndefined();
  });

  test("static friction is what broke the shaft away times the torque constant, and the gain where it is known", () => {
    const [kt, away] = [
      ["torqueConstant", about(0.5, 0.05)],
      ["breakawayCurrent", about(2, 0.1)],
    ] as const;
    const plain = derived([kt, away]).get("staticFriction");
    expect(plain?.value).toBeCloseTo(1, 12);
    expect(plain?.convention).toBe("torque gain g taken as 1");
    const gain = ["torqueGain", about(-0.8, -0.1)] as const;
    const known = derived([kt, away, gain]).get("staticFriction");
    expect(known?.value).toBeCloseTo(0.8, 12);
    expect(known?.convention).toBe("torque gain g taken out");
    const carried = derived([
      ["torqueConstant", about(0.5, 0.05, { source: "measured-torque" })],
      away,
      gain,
    ]);
    expect(carried.get("staticFriction")?.value).toBeCloseTo(1, 12);
    expect(carried.get("staticFriction")?.convention).toBe("torque gain g taken out");
    expect(derived([kt]).get("staticFriction")).toBeUndefined();
  });

  test("friction of a coast times the inertia, and J/B", () => {
    const rate = about(3, 0.1, { source: "coast-down" });
    const book = derived([
      ["inertia", about(0.2, 0.05)],
      ["coulombOverInertia", rate],
      ["viscousOverInertia", rate],
    ]);
    expect(book.get("coulombFriction")?.value).toBeCloseTo(0.6, 12);
    expect(book.get("coulombFriction")?.high).toBeCloseTo(0.6 * (1 + root), 12);
    expect(book.get("viscousFriction")?.method).toBe("coast-down, times J (made)");
    const tau = book.get("mechanicalTimeConstant") as Estimate;
    expect([tau.value, tau.low, tau.high].map((v) => v.toPrecision(9))).toEqual(
      [1 / 3, 1 / 3.3, 1 / 2.7].map((v) => v.toPrecision(9)),
    );
    expect(tau.convention).toBe("J/B");
    const driven = derived([
      ["inertia", about(0.2, 0.05)],
      ["coulombOverInertia", about(3, 0.1, { source: "driven-motion" })],
    ]);
    expect(driven.get("coulombFriction")).toBeUndefined();
    expect(derived([["coulombOverInertia", rate]], { inertia: 2 }).get("coulombFriction")?.value).toBeCloseTo(
      6,
      12,
    );
    expect(derived([["coulombOverInertia", rate]]).get("coulombFriction")).toBeUndefined();
    const none = derived([["viscousOverInertia", { value: 1, low: 0, high: 2, method: "" }]]);
    expect(none.get("mechanicalTimeConstant")).toBeUndefined();
  });

  test("the electromechanical time constant is 1.5*J*R/Kt^2 (phase resistance, Kt per ampere peak)", () => {
    const [j, kt] = [
      ["inertia", about(2e-4, 0.1)],
      ["torqueConstant", about(0.05, 0)],
    ] as const;
    const tau = derived([j, kt, ["resistance", about(0.5, 0.05)]]).get(
      "electromechanicalTimeConstant",
    ) as Estimate;
    expect(tau.value).toBeCloseTo((1.5 * 2e-4 * 0.5) / 0.05 ** 2, 12);
    expect(tau.high).toBeCloseTo(tau.value * (1 + root), 12);
    expect(tau.low).toBeCloseTo(tau.value * (1 - root), 12);
    expect(derived([j, kt], { resistance: 0.5 }).get("electromechanicalTimeConstant")?.value).toBeCloseTo(
      tau.value,
      12,
    );
    expect(derived([j, kt]).get("electromechanicalTimeConstant")).toBeUndefined();
    expect(derived([j], { resistance: 0.5 }).get("electromechanicalTimeConstant")).toBeUndefined();
  });
});

describe("constants of a motion whose scale is in doubt", () => {
  const estimate = (value: number, low = 0.9 * value, high = 1.1 * value): Estimate => ({
    value,
    low,
    high,
    unit: "1",
    level: 0.95,
    method: "made",
  });
  const [r, psi, j] = [estimate(1), estimate(0.02), estimate(1e-4)];
  const constants = {
    electrical: { resistance: r, fluxLinkage: psi },
    mechanical: { inertia: j },
    ratios: { coulombOverTorqueConstant: estimate(2), coulombOverInertia: estimate(3) },
    harmonics: [{}],
    routes: [
      { quantity: "resistance", estimate: r },
      { quantity: "fluxLinkage", estimate: psi },
      { quantity: "inertia", estimate: j },
    ],
    findings: [],
    missing: [{ quantity: "torqueConstant", needs: "more" }],
  } as unknown as Constants;
  interface Doubt {
    readonly withheld?: string;
    readonly checks?: readonly { readonly code: string; readonly value: unknown }[];
    readonly counts?: { readonly column: string; readonly overReference?: number };
    readonly findings?: readonly string[];
    readonly angle?: Float64Array;
    readonly step?: number;
  }
  const runOf = ({ withheld, checks = [], counts, findings = [], angle, step }: Doubt): Run =>
    ({
      health: { withholds: () => (withheld === undefined ? undefined : { message: withheld }) },
      checks,
      shaft: angle && { angle, step },
      once: () => counts,
      logged: { findings: findings.map((code) => ({ code })), channels: { speed: { name: "n_act" } } },
    }) as unknown as Run;
  const without = (doubt: Doubt): Constants => withoutScale(constants, runOf(doubt));

  test("all of them stand where nothing is in doubt", () => expect(without({})).toBe(constants));

  test("where it is open only those are left that hold whatever one turn is, and the others are listed", () => {
    const left = without({ withheld: "position and speed disagree" });
    expect(Object.keys(left.electrical)).toEqual(["resistance"]);
    expect(left.mechanical).toEqual({});
    expect(Object.keys(left.ratios)).toEqual(["coulombOverTorqueConstant"]);
    expect(left.harmonics).toEqual([]);
    expect(left.routes.map(({ quantity }) => quantity)).toEqual(["resistance"]);
    expect(left.missing.map(({ quantity, needs }) => `${quantity}: ${needs}`)).toEqual([
      "fluxLinkage: a sure scale of the motion (position and speed disagree)",
      "inertia: a sure scale of the motion (position and speed disagree)",
      "torqueConstant: more",
    ]);
  });

  test.each([
    [1.05, 1.05],
    [0.8, 1.25],
    [-1.05, 1.05],
  ])("a scale that is %d times another widens every interval by as much either way", (value, spread) => {
    const { electrical, routes } = without({ checks: [{ code: "scale-doubtful", value }] });
    expect(electrical.fluxLinkage?.low).toBeCloseTo(psi.low / spread, 12);
    expect(electrical.fluxLinkage?.high).toBeCloseTo(psi.high * spread, 12);
    expect(electrical.resistance).toEqual(r);
    expect(routes[2].estimate.high).toBeCloseTo(j.high * spread, 15);
    expect(routes[0].estimate).toEqual(r);
  });

  test("an interval below zero widens the other way", () => {
    const signed = { ...constants, mechanical: { inertia: estimate(-2, -3, -1) } } as Constants;
    const { inertia } = withoutScale(
      signed,
      runOf({ checks: [{ code: "scale-doubtful", value: 2 }] }),
    ).mechanical;
    expect([inertia?.low, inertia?.high]).toEqual([-6, -0.5]);
  });

  test("counts that were missed are held against all that were counted", () => {
    // A hundred counts there and as many back.
    const angle = Float64Array.from({ length: 201 }, (_, i) => 0.01 * Math.min(i, 200 - i));
    const checks = [{ code: "missed-counts", value: -20 }];
    expect(without({ checks, angle, step: 0.01 }).mechanical.inertia?.high).toBeCloseTo(j.high * 1.1, 15);
    expect(without({ checks })).toBe(constants);
    expect(without({ checks, angle, step: 0 })).toBe(constants);
    expect(without({ checks: [{ code: "missed-counts", value: "many" }], angle, step: 0.01 })).toBe(
      constants,
    );
    const gap = angle.map((v, i) => (i === 50 ? Number.NaN : v));
    expect(without({ checks, angle: gap, step: 0.01 }).mechanical.inertia?.high).toBeCloseTo(
      j.high * (1 + 20 / 198),
      12,
    );
  });

  test("what rests on one column alone is kept, and that is said", () => {
    const inferred = without({ findings: ["lines-inferred"] }).findings;
    expect(inferred.map(({ code }) => code)).toEqual(["scale-unconfirmed"]);
    expect(inferred[0].message).toContain('rests on the unit of "n_act" alone');
    expect(inferred[0].meaning).toMatch(/if that unit is wrong, so are .+, .+; state --lines/);
    const counts = without({ counts: { column: "enc", overReference: 1.02345 } }).findings;
    expect(counts[0].message).toContain('rests on "enc" and the lines as stated');
    expect(counts[0].message).toContain("settles at 1.023 times its reference");
    expect(without({ counts: { column: "enc" } }).findings[0].message).not.toContain("settles");
    const bare = { ...constants, routes: constants.routes.slice(0, 1) };
    expect(withoutScale(bare, runOf({ counts: { column: "enc" } }))).toBe(bare);
    expect(counts[0].meaning).not.toContain("and others");
    const many = [
      "inertia",
      "fluxLinkage",
      "torqueConstant",
      "coulombFriction",
      "viscousFriction",
      "gravityTorque",
      "staticFriction",
    ];
    const routes = many.map((quantity) => ({ quantity, estimate: j })) as unknown as Constants["routes"];
    expect(
      withoutScale({ ...constants, routes }, runOf({ counts: { column: "enc" } })).findings[0].meaning,
    ).toContain("and others would");
  });
});
