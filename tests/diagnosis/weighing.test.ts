import { describe, expect, test } from "vitest";
import { indexRow, withoutCurrent } from "../../lib/diagnosis/likelihood.js";
import type { Measures } from "../../lib/diagnosis/measures.js";
import { settingsVariants, swappedVariants } from "../../lib/diagnosis/mismatch.js";
import type { Behaviour, Observation } from "../../lib/diagnosis/observe.js";
import { offsetGrid, offsetPrior } from "../../lib/diagnosis/offsetGrid.js";
import type { FullGain } from "../../lib/diagnosis/recordLikelihood.js";
import { type CauseCode, causes } from "../../lib/diagnosis/tables/causes.js";
import { logOf } from "../../lib/diagnosis/tables/row.js";
import { hold, seen, settings } from "./observed.js";
import { bayes, posteriorOf, weighed } from "./weighed.js";

const empty = settings();
const command = Float64Array.of(1);

/** What the answer to one question adds for every cause, as a factor against that for sound wiring. */
function factors(
  observation: Observation,
  measures: Measures,
  question: string,
): Map<CauseCode, number> | undefined {
  const logs = weighed(empty, observation, measures).answer(question);
  if (!logs) return undefined;
  const sound = logs.get("nothing-wrong") as number;
  return new Map([...logs].map(([code, log]) => [code, Math.exp(log - sound)]));
}
const best = (by: Map<CauseCode, number>) => [...by].reduce((a, b) => (b[1] > a[1] ? b : a))[0];

describe("whether the current reached its command", () => {
  const at = (reach: number, behaviour: Behaviour = "turns", kind: "torque" | "speed" = "torque") =>
    seen(kind, behaviour, { holds: [hold({ currentReach: reach })], signals: { currentCommand: command } });
  const parts = (observation: Observation) => weighed(empty, observation).answer("current");

  test("far below its command it speaks for a drive that gives no current, far past it for an open lead", () => {
    for (const reach of [0, 0.15, 0.25, 0.55])
      expect(best(factors(at(reach), {}, "current")!)).toBe("current-not-following");
    for (const reach of [1.25, 1.75, 1.9, 5])
      expect(best(factors(at(reach), {}, "current")!)).toBe("open-phase");
    for (const reach of [0.65, 1, 1.15]) {
      const by = factors(at(reach), {}, "current")!;
      expect(by.get("current-not-following")).toBeLessThan(0.05);
      expect(by.get("open-phase")).toBeLessThan(0.5);
      expect(by.get("phases-swapped")).toBe(1);
    }
  });

  test("its five ranges exclude each other and leave nothing out: their chances add up to one under every cause", () => {
    for (const behaviour of ["turns", "still", "swings"] as const)
      for (const { code } of causes) {
        const sum = [0.1, 0.4, 0.9, 1.5, 2].reduce(
          (s, r) => s + Math.exp(parts(at(r, behaviour))!.get(code)!),
          0,
        );
        // Within half a per cent: the chances are rounded as they are.
        expect(sum).toBeCloseTo(1, 2);
      }
  });

  test("of several holds the one that reached most counts, and holds without a command do not", () => {
    const holds = [
      hold({ currentReach: 0.1 }),
      hold({ currentReach: 0.95 }),
      hold({ sense: 0, currentReach: 2 }),
    ];
    const observation = seen("torque", "turns", { holds, signals: { currentCommand: command } });
    expect(parts(observation)).toEqual(parts(at(0.95)));
  });

  test("without a command logged nothing is said", () => {
    expect(parts(seen("torque", "turns", { holds: [hold({ currentReach: 0.1 })] }))).toBeUndefined();
  });

  test("under speed control only a current that is missing counts: having reached the command says nothing", () => {
    expect(parts(at(0.9, "follows", "speed"))).toBeUndefined();
    expect(parts(at(1.5, "follows", "speed"))).toBeUndefined();
    expect(best(factors(at(0.4, "follows", "speed"), {}, "current")!)).toBe("current-not-following");
  });
});

describe("signs of an open lead", () => {
  const signs = (s: Partial<NonNullable<Measures["signs"]>>): Measures => ({
    signs: { countStopped: false, ...s },
  });
  const pulsating = (size: number, explained: number) => signs({ pulsation: { size, explained } });

  test("a current that pulsates twice an electrical turn speaks for it, more in a shaft that turns; one that does not, against", () => {
    const turns = factors(seen("torque", "turns"), pulsating(0.2, 0.5), "pulsation")!;
    const swings = factors(seen("torque", "swings"), pulsating(0.2, 0.5), "pulsation")!;
    expect(best(turns)).toBe("open-phase");
    expect(turns.get("open-phase")).toBeGreaterThan(100);
    expect(swings.get("open-phase")).toBeGreaterThan(20);
    expect(turns.get("open-phase")).toBeGreaterThan(swings.get("open-phase")!);
    // A large pulsation that explains little is noise, a small one that explains much is ripple.
    for (const measures of [pulsating(0.1, 0.5), pulsating(0.2, 0.05)])
      expect(factors(seen("torque", "turns"), measures, "pulsation")!.get("open-phase")).toBeLessThan(0.1);
  });

  test("pulsating or not: both chances add up to one under every cause", () => {
    for (const behaviour of ["turns", "swings"] as const) {
      const log = (m: Measures) => weighed(empty, seen("torque", behaviour), m).answer("pulsation")!;
      const [yes, no] = [log(pulsating(0.2, 0.5)), log(pulsating(0, 0))];
      for (const { code } of causes)
        expect(Math.exp(yes.get(code)!) + Math.exp(no.get(code)!)).toBeCloseTo(1, 9);
    }
  });

  test("a current along the magnet axis speaks for it where the shaft stood, and is not asked about where it turned", () => {
    for (const behaviour of ["still", "swings"] as const) {
      expect(best(factors(seen("torque", behaviour), signs({ direct: 0.2 }), "pulsation")!)).toBe(
        "open-phase",
      );
      expect(
        factors(seen("torque", behaviour), signs({ direct: 0.2 }), "pulsation")!.get("open-phase"),
      ).toBeGreaterThan(30);
      expect(
        factors(seen("torque", behaviour), signs({ direct: 0.05 }), "pulsation")!.get("open-phase"),
      ).toBeLessThan(0.5);
    }
    expect(factors(seen("torque", "turns"), signs({ direct: 0.2 }), "pulsation")).toBeUndefined();
    expect(factors(seen("speed", "still"), signs({ direct: 0.2 }), "pulsation")).toBeUndefined();
    // The pulsation shows under speed control as well (physics: the current lies on an axis fixed in the stator).
    expect(best(factors(seen("speed", "follows"), pulsating(0.7, 0.5), "pulsation")!)).toBe("open-phase");
  });

  test("a phase without current speaks for it, the more in a shaft that turns: at rest a phase may carry none by its angle", () => {
    const by = (behaviour: Behaviour, leastPhase: number) =>
      factors(seen("torque", behaviour), { leastPhase }, "phases")!.get("open-phase")!;
    expect(by("turns", 0.1)).toBeGreaterThan(100);
    for (const behaviour of ["still", "swings"] as const) {
      expect(by(behaviour, 0.1)).toBeGreaterThan(5);
      expect(by(behaviour, 0.1)).toBeLessThan(20);
    }
    expect(by("turns", 0.2)).toBeLessThan(0.2);
  });
});

describe("findings that point to one cause", () => {
  test("a count that stopped dead: the encoder, fifty to one", () => {
    const by = factors(seen("torque", "locks"), { signs: { countStopped: true } }, "count stopped")!;
    expect(best(by)).toBe("sensor-fault");
    expect(by.get("sensor-fault")).toBeCloseTo(50, 6);
    expect(
      factors(seen("torque", "locks"), { signs: { countStopped: false } }, "count stopped"),
    ).toBeUndefined();
  });

  test("a logged speed against the position: the display", () => {
    const compared = (sign: 1 | -1) =>
      factors(
        seen("torque", "turns", { signals: { speedAgainstPosition: { sign, factor: sign, spread: 0 } } }),
        {},
        "speed sign",
      )!;
    expect(best(compared(-1))).toBe("speed-sign-display");
    expect(compared(-1).get("speed-sign-display")).toBeGreaterThan(100);
    expect(compared(1).get("speed-sign-display")).toBeLessThan(1);
    expect(compared(1).get("phases-swapped")).toBe(1);
  });

  test("settings that contradict what is stated of motor and encoder, twelve to one; agreeing or absent ones say nothing", () => {
    const change = (facts: Parameters<typeof settings>[0]) =>
      weighed(settings(facts), seen("torque", "turns")).answer("settings");
    const pairs = change({ drive: { polePairs: 5 }, machine: { polePairs: 4 } })!;
    expect(Math.exp(pairs.get("pole-pairs-wrong")!)).toBeCloseTo(12, 9);
    expect(pairs.get("line-count-wrong")).toBeCloseTo(0, 9);
    const lines = change({ drive: { encoderLines: 1000 }, encoder: { lines: 1024 } })!;
    expect(Math.exp(lines.get("line-count-wrong")!)).toBeCloseTo(12, 9);
    expect(Math.exp(lines.get("line-count-quadrature")!)).toBeCloseTo(12, 9);
    expect(lines.get("pole-pairs-wrong")).toBeCloseTo(0, 9);
    for (const facts of [
      { drive: { polePairs: 4 }, machine: { polePairs: 4 } },
      { drive: { polePairs: 4 } },
      { machine: { polePairs: 4 } },
      { drive: { encoderLines: 1024 }, encoder: { lines: 1024 } },
      { drive: { encoderLines: 1024 } },
      { encoder: { lines: 1024 } },
    ])
      expect(change(facts)).toBeUndefined();
  });

  const codes = causes.map(({ code }) => code);
  const lineCountLogs = (seenTurns: { ratio: number; spread: number }) => (code: CauseCode) =>
    logOf(indexRow(seenTurns), code);
  test("the index says one turn: lines right; a factor of four: quadrature; anything else: lines wrong", () => {
    const say = (ratio: number, spread = 1e-4) => {
      const logs = lineCountLogs({ ratio, spread });
      return codes.reduce((a, b) => (logs(b) > logs(a) ? b : a));
    };
    for (const ratio of [4, 0.25, 3.95, 4.1]) expect(say(ratio)).toBe("line-count-quadrature");
    for (const ratio of [2, 0.5, 1.024, 0.98, 3.7, 4.4]) expect(say(ratio)).toBe("line-count-wrong");
    for (const ratio of [1, 1.003, 0.997]) expect(say(ratio)).toBe("nothing-wrong");
    // A wide spread makes a small difference no difference.
    expect(say(1.02, 0.01)).toBe("nothing-wrong");
    expect(say(1.04, 0.01)).toBe("line-count-wrong");
    // Missing counts make the spacing vary: a fault of the encoder stays open either way.
    const [fits, not] = [lineCountLogs({ ratio: 1, spread: 0 }), lineCountLogs({ ratio: 1.5, spread: 0 })];
    expect(fits("sensor-fault")).toBeLessThan(fits("nothing-wrong"));
    expect(not("sensor-fault")).toBeGreaterThan(not("nothing-wrong"));
    const by = factors(
      seen("torque", "turns"),
      { indexTurns: { ratio: 4, spread: 1e-4, count: 3 } },
      "index",
    )!;
    expect(best(by)).toBe("line-count-quadrature");
  });

  test("no current under speed control: a drive that gives none, and nothing about wiring or offset", () => {
    const measures: Measures = { signs: { countStopped: false, followed: 0.1 } };
    for (const behaviour of ["still", "swings", "locks", "unclear"] as const) {
      const observation = seen("speed", behaviour);
      expect(withoutCurrent(observation, measures)).toBe(true);
      const { answer, offsets, findings } = weighed(empty, observation, measures);
      const logs = answer("no current")!;
      expect(best(new Map(logs))).toBe("current-not-following");
      expect(logs.get("phases-swapped")).toBe(logs.get("nothing-wrong"));
      expect(new Set(offsets)).toEqual(new Set([1]));
      expect(findings.map(({ finding }) => finding)).toEqual(["no current flowed under speed control"]);
    }
    // Current in two phases, or along the magnet axis, is no drive that gives none (physics: one phase is open).
    const across = (more: Measures) => {
      const of = { ...more, signs: { ...measures.signs!, ...more.signs } };
      const { findings } = weighed(empty, seen("speed", "still"), of);
      const sum = (code: CauseCode) => findings.reduce((all, { logs }) => all + logs.get(code)!, 0);
      return Math.exp(sum("open-phase") - sum("current-not-following"));
    };
    const none = across({});
    expect(across({ leastPhase: 0.05 })).toBeGreaterThan(10 * none);
    expect(across({ signs: { countStopped: false, followed: 0.1, direct: 0.5 } })).toBeGreaterThan(30 * none);
    expect(across({ leastPhase: 0.6 })).toBeLessThan(0.2 * none);
    expect(withoutCurrent(seen("speed", "follows"), measures)).toBe(false);
    expect(withoutCurrent(seen("torque", "still"), measures)).toBe(false);
    expect(withoutCurrent(seen("speed", "still"), {})).toBe(false);
    expect(withoutCurrent(seen("speed", "still"), { signs: { countStopped: false, followed: 0.2 } })).toBe(
      false,
    );
  });
});

describe("how well the speed was held", () => {
  const calm = { overshoot: 0.05, crossings: 1, swing: 0.01, rise: 0.2, chatter: 0.05, pressed: 0.9 };
  const of = (change: Partial<typeof calm>, behaviour: Behaviour = "follows") =>
    factors(
      seen("speed", behaviour),
      { signs: { countStopped: false, loop: { ...calm, ...change } } },
      "speed held",
    );

  test("a loop that swings, chatters, overshoots or takes its time without pressing is mistuned rather than sound", () => {
    for (const change of [
      { swing: 0.3 },
      { crossings: 5, swing: 0.05 },
      { crossings: 5, overshoot: 0.4 },
      { rise: 0.95, pressed: 0.2 },
    ]) {
      expect(best(of(change)!)).toBe("speed-loop-mistuned");
      expect(of(change)!.get("speed-loop-mistuned")).toBeGreaterThan(8);
    }
    for (const change of [{ chatter: 0.3 }, { overshoot: 0.9 }]) {
      expect(of(change)!.get("speed-loop-mistuned")).toBeCloseTo(2, 9);
      expect(best(of(change)!)).toBe("current-not-following");
    }
  });

  test("one that takes its time and presses is heavy, or short of current or torque", () => {
    const by = of({ rise: 0.95, pressed: 0.8 })!;
    expect(best(by)).toBe("load-or-friction");
    expect(by.get("open-phase")).toBeGreaterThan(3);
    expect(by.get("disturbed-offset")).toBeGreaterThan(1.5);
    expect(by.get("speed-loop-mistuned")).toBeLessThan(1.5);
    // Where the limit is not known, it counts as pressing.
    expect(of({ rise: 0.95, pressed: undefined })).toEqual(by);
  });

  test("a calm loop is sound rather than mistuned", () => {
    const by = of({})!;
    expect(by.get("speed-loop-mistuned")).toBeLessThan(0.5);
    expect(Math.max(...by.values())).toBeLessThan(1 + 1e-9);
    // Few crossings, or many small ones, are no swinging.
    expect(of({ crossings: 4, swing: 0.05 })).toEqual(by);
    expect(of({ crossings: 9, swing: 0.03, overshoot: 0.2 })).toEqual(by);
  });

  test("a shaft that stays moves for none of these reasons: only slowness counts there", () => {
    const swinging = of({ swing: 0.3 }, "still");
    expect(swinging?.get("open-phase") ?? 1).toBe(1);
    expect(of({ rise: 0.95, pressed: 0.2 }, "still")!.get("speed-loop-mistuned")).toBeGreaterThan(20);
    expect(of({ swing: 0.3 }, "unclear")!.get("speed-loop-mistuned")).toBeGreaterThan(
      of({ swing: 0.3 })!.get("speed-loop-mistuned")!,
    );
    for (const behaviour of ["runs-away", "mirrored"] as const)
      expect(of({ swing: 0.3 }, behaviour)).toBeUndefined();
  });

  test("five kinds of loop exclude each other: their chances add up to one under every cause", () => {
    const logs = (change: Partial<typeof calm>) =>
      weighed(empty, seen("speed", "follows"), {
        signs: { countStopped: false, loop: { ...calm, ...change } },
      }).answer("speed held")!;
    const kinds = [{}, { swing: 0.3 }, { chatter: 0.3 }, { rise: 0.95, pressed: 0.2 }, { rise: 0.95 }].map(
      logs,
    );
    for (const { code } of causes)
      expect(kinds.reduce((sum, by) => sum + Math.exp(by.get(code)!), 0)).toBeCloseTo(1, 9);
  });
});

describe("the likelihood of an offset error eps, torque gain cos(eps)", () => {
  const degree = Math.PI / 180;
  const at = (offsets: Float64Array, angle: number) =>
    offsets[offsetGrid.findIndex((e) => Math.abs(e - angle * degree) < 1e-9)];
  const likelihood = (
    kind: "torque" | "speed",
    behaviour: Behaviour,
    change: Parameters<typeof seen>[2] = {},
    beside: { readonly full?: FullGain } = {},
    measures: Measures = {},
  ) => weighed(empty, seen(kind, behaviour, change), measures, beside).offsets;

  test("a shaft that turns with its command: g > 0; against it: g < 0", () => {
    const along = likelihood("torque", "turns");
    const against = likelihood("torque", "turns", { sense: "against" });
    for (const angle of [0, 40, -40, 60]) {
      expect(at(along, angle)).toBeGreaterThan(0.9);
      expect(at(against, angle)).toBeLessThan(0.01);
    }
    for (const angle of [120, -120, 180, 140]) {
      expect(at(along, angle)).toBeLessThan(0.01);
      expect(at(against, angle)).toBeGreaterThan(0.9);
    }
    expect(at(along, 90)).toBeLessThan(0.01);
  });

  test("friction over torque is taken evenly in the logarithm from 2 to 50 %: the chance of breaking away at g is log(g/0.02)/log(25)", () => {
    const [turns, still] = [likelihood("torque", "turns"), likelihood("torque", "still")];
    for (const angle of [62, 70, 80, 86, 88, -70]) {
      const chance = Math.log(Math.cos(angle * degree) / 0.02) / Math.log(25);
      expect(at(turns, angle)).toBeCloseTo(0.002 + 0.96 * chance, 9);
      expect(at(still, angle)).toBeCloseTo(0.001 + 0.9 * (1 - chance), 9);
    }
    // Speed control may use all the current there is: 1.8 times the torque.
    const follows = likelihood("speed", "follows");
    const away = likelihood("speed", "runs-away");
    const stays = likelihood("speed", "still");
    for (const angle of [74, 80, 86]) {
      const chance = Math.log((1.8 * Math.cos(angle * degree)) / 0.02) / Math.log(25);
      expect(at(follows, angle)).toBeCloseTo(0.001 + 0.95 * chance, 9);
      expect(at(away, 180 - angle)).toBeCloseTo(0.003 + 0.95 * chance, 9);
      expect(at(stays, angle)).toBeCloseTo(0.003 + 0.9 * (1 - chance), 9);
    }
    expect(at(follows, 120)).toBeCloseTo(0.001, 9);
    expect(at(away, 0)).toBeLessThan(0.01);
  });

  test("a shaft that stayed, or moved one way, speaks for an offset near a quarter of a turn", () => {
    for (const [kind, behaviour] of [
      ["torque", "still"],
      ["torque", "swings"],
      ["torque", "one-way"],
      ["speed", "still"],
      ["speed", "swings"],
    ] as const) {
      const offsets = likelihood(kind, behaviour);
      expect(at(offsets, 90)).toBeGreaterThan(3 * at(offsets, 0));
      expect(at(offsets, -90)).toBeCloseTo(at(offsets, 90), 9);
    }
    for (const [kind, behaviour] of [
      ["torque", "locks"],
      ["torque", "runs-away"],
      ["torque", "unclear"],
      ["speed", "locks"],
      ["speed", "mirrored"],
      ["speed", "unclear"],
    ] as const)
      expect(new Set(likelihood(kind, behaviour)).size).toBe(1);
  });

  test("the back-EMF vector narrows it to its own angle and error, 6 deg of model error added", () => {
    const emf = { offset: 120 * degree, error: 0.05, unexplained: 0.05 };
    const plain = likelihood("torque", "runs-away");
    const told = likelihood("torque", "runs-away", {}, {}, { voltageOffset: emf });
    const sigma = Math.hypot(0.05, 6 * degree);
    // In three logs of a hundred the fit means nothing.
    const misread = (0.03 / 0.97) * ((sigma * Math.sqrt(2 * Math.PI)) / (2 * Math.PI));
    for (const angle of [120, 110, 126, -120, 180])
      expect(at(told, angle) / at(plain, angle)).toBeCloseTo(
        misread + Math.exp(-0.5 * (((angle === -120 ? 120 : angle - 120) * degree) / sigma) ** 2),
        9,
      );
    // One that leaves much unexplained is not heard.
    expect(
      likelihood("torque", "runs-away", {}, {}, { voltageOffset: { ...emf, unexplained: 0.3 } }),
    ).toEqual(plain);
  });

  test("acceleration per ampere against that of a sound order gives cos(eps)", () => {
    const law = {
      mismatch: 0,
      direct: -200,
      quadrature: 0,
      friction: 0,
      load: 0,
      error: 10,
      unexplained: 0.1,
      peak: 1,
      windows: 9,
      half: 1,
      freedom: 9,
    };
    const fullGain = { value: 400, error: 0.02 };
    const plain = likelihood("torque", "turns", { sense: "against", law });
    const told = likelihood("torque", "turns", { sense: "against", law }, { full: fullGain });
    const ratio = (angle: number) => at(told, angle) / at(plain, angle);
    // g = -0.5: both 120 and -120 deg; three standard errors away little is left.
    const sigma = Math.hypot(10 / 400, 0.08 + 0.02 * 0.5);
    // Against a full torque of which nothing is known but that it lies within a factor of 22, evenly in the logarithm.
    const peak = (0.5 * Math.log(22)) / (sigma * Math.sqrt(2 * Math.PI));
    for (const angle of [120, -120, 130, 180, 100])
      expect(ratio(angle)).toBeCloseTo(
        0.05 + 0.95 * peak * Math.exp(-0.5 * ((-0.5 - Math.cos(angle * degree)) / sigma) ** 2),
        9,
      );
    for (const behaviour of ["still", "locks"] as const)
      expect(likelihood("torque", behaviour, { law }, { full: fullGain })).toEqual(
        likelihood("torque", behaviour, { law }),
      );
    const poor = { ...law, unexplained: 0.4 };
    expect(likelihood("torque", "turns", { law: poor }, { full: fullGain })).toEqual(
      likelihood("torque", "turns", { law: poor }),
    );
  });

  test("a display that is turned is what a loop holding its reference mirrored shows", () => {
    const { logs } = weighed(empty, seen("speed", "mirrored"));
    expect(best(new Map(logs))).toBe("speed-sign-display");
    const away = weighed(empty, seen("speed", "runs-away")).logs;
    expect(away.get("speed-sign-display")).toBeLessThan(away.get("half-turn-offset")! - 3);
  });
});

describe("plateaus under torque", () => {
  const plateau = (sense: 1 | -1, speed: number, currentShare: number) =>
    hold({
      sense,
      level: sense,
      turning: true,
      resting: false,
      endSpeed: sense * speed,
      tailSpeed: sense * speed,
      currentShare,
    });
  const offsets = (...holds: ReturnType<typeof hold>[]) =>
    weighed(empty, seen("torque", "turns", { holds, signals: { current: command, currentCommand: command } }))
      .offsets;
  const at = (list: Float64Array, angle: number) => list[Math.round((angle + 178) / 2)];

  test("a current that fell to little on both plateaus alike speaks for no offset, one that stayed for a large one", () => {
    const fell = offsets(plateau(1, 300, 0.2), plateau(-1, 300, 0.2));
    expect(at(fell, 0)).toBeGreaterThan(10 * at(fell, 50));
    const stayed = offsets(plateau(1, 400, 0.85), plateau(-1, 250, 0.2));
    expect(Math.max(at(stayed, 50), at(stayed, -50))).toBeGreaterThan(5 * at(stayed, 0));
  });

  test("the faster plateau, where the current stays, tells the sign of the offset; either way round is its mirror image", () => {
    const plus = offsets(plateau(1, 400, 0.85), plateau(-1, 250, 0.2));
    const minus = offsets(plateau(1, 250, 0.2), plateau(-1, 400, 0.85));
    expect(at(plus, 50)).toBeGreaterThan(5 * at(plus, -50));
    for (const angle of [30, 50, 80]) expect(at(minus, -angle)).toBeCloseTo(at(plus, angle), 12);
  });

  test("one sense alone, or no settled plateau, tells no sign", () => {
    for (const list of [
      offsets(plateau(1, 400, 0.85)),
      offsets(hold({ turning: true, currentShare: 0.9, endChange: 0.3 })),
    ])
      for (const angle of [30, 50, 80]) expect(at(list, -angle)).toBeCloseTo(at(list, angle), 12);
    // Not having settled leans towards a weaker torque.
    const rising = offsets(hold({ turning: true, currentShare: 0.9, endChange: 0.3 }));
    expect(at(rising, 60)).toBeGreaterThan(1.2 * at(rising, 0));
  });

  test("a trip that took away the time to settle is not held against the torque", () => {
    const rising = [hold({ turning: true, currentShare: 0.9, endChange: 0.3 })];
    const signals = { current: command, currentCommand: command };
    const tripped = weighed(empty, seen("torque", "turns", { holds: rising, signals, tripped: 0.4 })).offsets;
    expect(at(tripped, 0)).toBeCloseTo(at(tripped, 50), 12);
  });
});

describe("causes with a mismatch n", () => {
  const four = settings({ drive: { polePairs: 4 } });
  const chance =
    (
      observation: Observation,
      measures: Measures = {},
      beside: Parameters<typeof weighed>[3] = {},
      recording = four,
    ) =>
    (code: CauseCode) =>
      Math.exp(weighed(recording, observation, measures, beside).motion.get(code)!);
  /** Mismatches a cause stands for where the order fits the encoder, with their weights. */
  const mismatchesOf = (code: CauseCode, recording: typeof four) =>
    code === "phases-swapped"
      ? swappedVariants(recording).map(({ n }, _, all) => ({ n, weight: 1 / all.length }))
      : settingsVariants(recording)
          .filter(({ cause }) => cause === code)
          .map(({ fitting, weight }) => ({ n: fitting, weight }));

  test("leads exchanged: n = 2p; quadrature: n = 3p or 3p/4; weights add up to one; every n is positive", () => {
    expect(mismatchesOf("phases-swapped", four)).toEqual([{ n: 8, weight: 1 }]);
    const heavy = mismatchesOf("line-count-quadrature", four).filter(({ weight }) => weight > 0.1);
    expect(heavy.map(({ n }) => n)).toEqual([12, 3]);
    for (const recording of [
      empty,
      four,
      settings({ drive: { polePairs: 1, encoderLines: 1000 }, encoder: { lines: 1024 } }),
    ])
      for (const code of [
        "phases-swapped",
        "pole-pairs-wrong",
        "line-count-wrong",
        "line-count-quadrature",
      ] as const) {
        const list = mismatchesOf(code, recording);
        expect(list.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 12);
        expect(Math.min(...list.map(({ n }) => n))).toBeGreaterThan(0);
      }
    expect(mismatchesOf("phases-swapped", empty).map(({ n }) => n)).toEqual([
      4, 6, 8, 10, 12, 14, 16, 20, 24, 28,
    ]);
    // In the other three orders the sum of both pole pairs counts: 2p + d, d = 1 or 2 either way.
    const sums = settingsVariants(four).map(({ crossed }) => crossed);
    for (const n of [6, 7, 9, 10]) expect(sums).toContain(n);
  });

  test("numbers stated that differ lead to their own mismatch: n = abs(d), or p*abs(N/Nset - 1) on the drive's scale", () => {
    const heaviest = (code: CauseCode, recording: typeof four) =>
      mismatchesOf(code, recording).reduce((a, b) => (b.weight > a.weight ? b : a)).n;
    for (const [set, stated] of [
      [7, 4],
      [4, 7],
    ]) {
      expect(
        heaviest("pole-pairs-wrong", settings({ drive: { polePairs: set }, machine: { polePairs: stated } })),
      ).toBe(3);
    }
    const n = heaviest(
      "line-count-wrong",
      settings({ drive: { polePairs: 4, encoderLines: 1000 }, encoder: { lines: 1250 } }),
    );
    expect(n).toBeCloseTo((4 * 0.25) / 1.25, 12);
    // Equal numbers lead nowhere of their own.
    const same = mismatchesOf(
      "line-count-wrong",
      settings({ drive: { polePairs: 4, encoderLines: 1000 }, encoder: { lines: 1000 } }),
    );
    expect(same).toEqual(
      mismatchesOf("line-count-wrong", settings({ drive: { polePairs: 4, encoderLines: 1000 } })),
    );
    expect(same.length).toBeGreaterThan(mismatchesOf("line-count-wrong", four).length);
  });

  test("coming to rest after a travel is a density: over the logarithm of the travel it adds up to one", () => {
    let sum = 0;
    const step = 0.02;
    for (let log = -16; log < 6; log += step)
      sum +=
        chance(seen("torque", "swings", { signals: { angleStep: 1e-9 } }), { firstTravel: Math.exp(log) })(
          "phases-swapped",
        ) * step;
    // 0.9: one shaft in ten shows something else than swings under a mismatch.
    expect(sum).toBeCloseTo(0.9, 2);
  });

  test("an undamped rotor travels half a period of the pattern at most, most often half of that: pi/n is a wall", () => {
    const like = (travel: number) =>
      chance(seen("torque", "swings"), { firstTravel: travel })("phases-swapped");
    const most = Math.PI / 8;
    expect(like(0.5 * most)).toBeGreaterThan(like(0.2 * most));
    expect(like(0.5 * most)).toBeGreaterThan(like(0.95 * most));
    expect(like(0.95 * most)).toBeGreaterThan(5 * like(1.2 * most));
    expect(like(4 * most)).toBeLessThan(0.01);
  });

  test("a shaft that turned on for many half periods has no mismatch of that size", () => {
    for (const behaviour of ["turns", "runs-away"] as const) {
      const like = (x: number) =>
        chance(seen("torque", behaviour), { oneWayTravel: (x * Math.PI) / 8 })("phases-swapped");
      const values = [0.3, 0.5, 1.5, 3].map(like);
      expect(values).toEqual([...values].sort((a, b) => b - a));
      expect(new Set(values).size).toBe(4);
      expect(values[0]).toBeCloseTo(0.5, 9);
      expect(values[3]).toBeLessThan(1e-3);
    }
    const oneWay = (x: number) =>
      chance(seen("torque", "one-way"), { oneWayTravel: (x * Math.PI) / 8 })("phases-swapped");
    expect(oneWay(2)).toBeGreaterThan(10 * oneWay(2.5));
    const speed = (x: number) =>
      chance(seen("speed", "swings"), { oneWayTravel: (x * Math.PI) / 8 })("phases-swapped");
    expect(speed(2)).toBeCloseTo(10 * speed(2.5), 9);
  });

  test("no travel at all is likelier the coarser the count and the shorter the pattern", () => {
    const like = (angleStep: number, pairs = 4) =>
      chance(
        seen("torque", "still", { signals: { angleStep } }),
        {},
        {},
        settings({ drive: { polePairs: pairs } }),
      )("phases-swapped");
    // Within four counts of rest: a quarter of the starts lie anywhere in the half period pi/n, and those after an
    // alignment never that close.
    expect(like(1e-3)).toBeCloseTo(0.003 + (0.997 * 0.25 * 4e-3 * 8) / Math.PI, 6);
    expect(like(1e-3, 8)).toBeGreaterThan(like(1e-3));
    // A count as coarse as the whole pattern shows no travel but an odd one.
    expect(like(1)).toBeCloseTo(0.003 + 0.997 * 0.93, 3);
  });

  test("a sweep tells which mismatch of a cause is meant", () => {
    // A travel of 60 deg: half of pi/n for n = 1.5; too far for n = 3.
    const measures = { firstTravel: Math.PI / 2 };
    const like = (n: number) =>
      chance(seen("torque", "swings"), measures, { swept: { value: n, error: 0.02 } })("pole-pairs-wrong");
    expect(like(1)).toBeGreaterThan(10 * like(4));
  });

  test("the torque law's support of a mismatch multiplies its chance, fully where the best law explains the motion", () => {
    const profile = (log: number, unexplained: number) => ({
      firstTravel: 0.2,
      lawProfile: [
        { mismatch: 0, log: -12, unexplained },
        { mismatch: 8, log, unexplained },
        { mismatch: 1, log: 0, unexplained },
      ],
    });
    const like = (log: number, unexplained: number) =>
      chance(seen("torque", "swings"), profile(log, unexplained))("phases-swapped");
    expect(like(-3, 0.05) / like(0, 0.05)).toBeCloseTo(Math.exp(-3), 9);
    // 1 - (0.45 - 0.2)/0.5 = 0.5: half a say; a tenth at least.
    expect(like(-3, 0.45) / like(0, 0.45)).toBeCloseTo(Math.exp(-1.5), 9);
    expect(like(-3, 0.9) / like(0, 0.9)).toBeCloseTo(Math.exp(-0.3), 9);
    // The law at n = 0 speaks for every cause with n = 0 alike.
    const by = chance(seen("torque", "swings"), profile(0, 0.05));
    const without = chance(seen("torque", "swings"), { firstTravel: 0.2 });
    for (const code of ["nothing-wrong", "half-turn-offset", "disturbed-offset"] as const)
      expect(by(code) / without(code)).toBeCloseTo(Math.exp(-12), 9);
    for (const code of ["jam", "load-or-friction", "unexplained"] as const)
      expect(by(code) / without(code)).toBeCloseTo(Math.exp(-5), 9);
    // On a plateau without voltage the law at n = 0 may break: it counts no less than a motion no law describes.
    const turned = chance(seen("torque", "turns"), profile(0, 0.05));
    expect(
      turned("nothing-wrong") / chance(seen("torque", "turns"), { firstTravel: 0.2 })("nothing-wrong"),
    ).toBeCloseTo(Math.exp(-5), 9);
  });
});

describe("what a single trial says of causes that no torque law describes", () => {
  const of = (observation: Observation, measures: Measures = {}) => {
    const by = posteriorOf(settings({ drive: { polePairs: 4 } }), [observation, measures]);
    return (code: CauseCode) => by.get(code)!;
  };
  test("a shaft that never moved: jam, load, no current or a quarter of a turn of offset, but not sound wiring", () => {
    for (const kind of ["torque", "speed"] as const) {
      const p = of(seen(kind, "still"));
      for (const code of ["jam", "load-or-friction", "current-not-following", "disturbed-offset"] as const)
        expect(p(code)).toBeGreaterThan(5 * p("nothing-wrong"));
      expect(p("jam")).toBeGreaterThan(p("sensor-fault"));
    }
  });
  test("a shaft that swung is not jammed; a hair's breadth may be play", () => {
    const far = of(seen("torque", "swings"), { firstTravel: 0.3 });
    const little = of(seen("torque", "swings"), { firstTravel: 0.04 });
    expect(far("phases-swapped")).toBeGreaterThan(0.5);
    // A held shaft may have play: one in a hundred goes further than 3 degrees.
    expect(far("jam")).toBeLessThan(0.01);
    expect(little("jam") / little("phases-swapped")).toBeGreaterThan(
      10 * (far("jam") / far("phases-swapped")),
    );
  });
  test("a shaft that turns with its command is most likely sound, and never jammed", () => {
    const p = of(seen("torque", "turns"), { oneWayTravel: 60 });
    expect(p("nothing-wrong")).toBeGreaterThan(0.4);
    expect(p("jam")).toBeLessThan(1e-3);
    const against = of(seen("torque", "turns", { sense: "against" }), { oneWayTravel: 60 });
    expect(
      against("stale-offset-plus") + against("stale-offset-minus") + against("half-turn-offset"),
    ).toBeGreaterThan(0.8);
    expect(against("open-phase")).toBeLessThan(0.3 * p("open-phase") * (p("nothing-wrong") / 0.1));
  });
  test("a loop that follows is sound rather than anything else; one that runs away has g < 0", () => {
    expect(of(seen("speed", "follows"), { oneWayTravel: 60 })("nothing-wrong")).toBeGreaterThan(0.5);
    const p = of(seen("speed", "runs-away"), { oneWayTravel: 60 });
    expect(p("stale-offset-plus") + p("stale-offset-minus") + p("half-turn-offset")).toBeGreaterThan(0.8);
  });
  test("one that turned, then locked or went one way, has a mismatch or an open lead, and no jam", () => {
    for (const behaviour of ["locks", "one-way"] as const) {
      const p = of(seen("torque", behaviour), { firstTravel: 0.8, oneWayTravel: 0.8 });
      expect(
        p("pole-pairs-wrong") +
          p("line-count-wrong") +
          p("line-count-quadrature") +
          p("open-phase") +
          p("phases-swapped"),
      ).toBeGreaterThan(0.7);
      expect(p("jam")).toBeLessThan(0.02);
    }
  });
  test("nothing commanded: nothing weighed", () => {
    const idle = seen("torque", "unclear", { holds: [hold({ sense: 0 })] });
    expect(weighed(empty, idle).findings).toEqual([]);
    expect(new Set(weighed(empty, idle).offsets)).toEqual(new Set([1]));
    expect(weighed(empty, seen("torque", "unclear")).findings.length).toBeGreaterThan(0);
    const coast = {
      ...seen("torque", "turns"),
      trial: { ...seen("torque", "turns").trial, kind: "coast" as const },
    };
    expect(weighed(empty, coast).findings).toEqual([]);
  });
});

test("posterior probabilities are Bayes' rule, far below the smallest number too", () => {
  const priors = new Map<CauseCode, number>([
    ["jam", 0.3],
    ["open-phase", 0.1],
  ]);
  const of = (jam: number, open: number) =>
    bayes(
      new Map<CauseCode, number>([
        ["jam", jam],
        ["open-phase", open],
      ]),
      priors,
    );
  const jam = (0.8 * 0.3) / (0.8 * 0.3 + 0.2 * 0.1);
  const found = of(Math.log(0.8), Math.log(0.2));
  expect(found.get("jam")).toBeCloseTo(jam, 12);
  expect(found.get("open-phase")).toBeCloseTo(1 - jam, 12);
  expect(of(-2000, -2001).get("jam")).toBeCloseTo((0.3 * Math.E) / (0.3 * Math.E + 0.1), 12);
});

test("one part in a hundred of a posterior is left to the priors", () => {
  const posterior = posteriorOf(settings({ drive: { polePairs: 4 } }), [
    seen("speed", "follows"),
    { oneWayTravel: 600 },
  ]);
  const priors = causes.filter(({ code }) => code !== "polarity-reversed");
  const total = priors.reduce((sum, { prior }) => sum + prior, 0);
  for (const { code, prior } of priors)
    expect(posterior.get(code)).toBeGreaterThanOrEqual((0.01 * prior) / total);
  expect([...posterior.values()].reduce((a, b) => a + b, 0)).toBeCloseTo(1, 9);
});

test("offset errors before the log is seen: one each, centred where its cause puts them", () => {
  const angles = [...offsetGrid].map((e) => (e * 180) / Math.PI);
  for (const [code, centre] of [
    ["nothing-wrong", 0],
    ["speed-loop-mistuned", 0],
    ["stale-offset-plus", 120],
    ["stale-offset-minus", -120],
    ["half-turn-offset", 180],
  ] as const) {
    const prior = offsetPrior(code)!;
    expect(prior.reduce((a, b) => a + b, 0)).toBeCloseTo(1, 12);
    const by = (angle: number) => prior[angles.findIndex((a) => Math.abs(a - angle) < 1e-9)];
    expect(Math.max(...prior)).toBe(by(centre));
    const wrap = (angle: number) => (angle > 180 ? angle - 360 : angle <= -180 ? angle + 360 : angle);
    expect(by(wrap(centre + 6))).toBeCloseTo(by(wrap(centre - 6)), 12);
    // A normal distribution of 7 or 8 degrees.
    const sigma = code === "half-turn-offset" ? 8 : 7;
    expect(by(wrap(centre + 14)) / by(centre)).toBeCloseTo(Math.exp(-0.5 * (14 / sigma) ** 2), 9);
  }
  const disturbed = offsetPrior("disturbed-offset")!;
  const share = (from: number, to: number) =>
    disturbed.reduce(
      (sum, p, k) => sum + (Math.abs(angles[k]) >= from && Math.abs(angles[k]) < to ? p : 0),
      0,
    );
  expect(share(0, 181)).toBeCloseTo(1, 12);
  expect(share(20, 95)).toBeGreaterThan(0.85);
  expect(share(0, 12)).toBeLessThan(0.01);
  expect(share(12, 20)).toBeGreaterThan(share(95, 110));
  expect(share(95, 110)).toBeGreaterThan(share(110, 181));
});
