/** Motions that follow an equation exactly: a turning shaft with cogging, friction that falls with speed, a ramp that
 * breaks a shaft loose; files that go on where others end; and shapes of a step fitted alone. */

import { Book } from "../../lib/identify/book.js";
import { addBreakaway } from "../../lib/identify/mechanical/breakaway.js";
import { harmonicsOf } from "../../lib/identify/mechanical/harmonics.js";
import type { SteadyPoint } from "../../lib/identify/mechanical/steadyPoints.js";
import { stretchesOf } from "../../lib/identify/mechanical/stretches.js";
import { stribeckFrom } from "../../lib/identify/mechanical/stribeck.js";
import { signalsOf } from "../../lib/identify/signals.js";
import { fitStepShape } from "../../lib/identify/steps/fitStepShape.js";
import { goesOn, groupSplit } from "../../lib/recording/columns/groupSplit.js";
import { readAll } from "../../lib/recording/columns/readAll.js";
import type { SourceTable } from "../../lib/recording/formats/sourceTable.js";
import type { TrialKind } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { madeRecording } from "../house/madeRecording.js";
import { uniforms } from "../house/uniforms.js";
import { lettersByQuestion, lettersOf } from "./answerLines.js";
import type { Case } from "./cases.js";
import { tableOf } from "./hands.js";
import { inLetters, type Question } from "./routes.js";

const said = (name: string, questions: () => readonly Question[]): Case => ({
  name: `motions: ${name}`,
  give: () => ({ recordings: [] }),
  answer: () => lettersByQuestion(inLetters(questions())),
});
const of = (n: number, f: (k: number) => number): Float64Array =>
  Float64Array.from({ length: n }, (_, k) => f(k));

/** A recording of one trial with a position in counts. */
function trialOf(kind: TrialKind, period: number, angle: Float64Array, current: Float64Array, counts = 8192) {
  const step = (2 * Math.PI) / counts;
  const time = angle.map((_, k) => period * k);
  const position = angle.map((v) => step * Math.floor(v / step));
  const run = runOf(
    madeRecording(
      time,
      { position, current },
      { resolution: step },
      { declaredTrials: [{ kind, start: Number.NEGATIVE_INFINITY, end: Number.POSITIVE_INFINITY }] },
    ),
  );
  return { run, signals: signalsOf(run) };
}

/**
 * A shaft that turns at 3 rad/s and a little about it, with u = Tc + B*w + J*dw/dt in A and a current
 * `cogging * sin(order * angle + 0.4)` against what the shaft position adds.
 */
export function coggingTrial(order: number, cogging: number, seed: number) {
  const random = uniforms(seed);
  const angle = of(9000, (k) => 0.003 * k + 0.05 * Math.sin(0.001 * k));
  const current = angle.map((a, k) => {
    const [speed, acceleration] = [3 + 0.05 * Math.cos(0.001 * k), -0.05 * Math.sin(0.001 * k)];
    const plain = 0.4 + 0.05 * speed + 0.02 * acceleration;
    return plain + cogging * Math.sin(order * a + 0.4) + 0.002 * (random() - 0.5);
  });
  return trialOf("torque", 0.001, angle, current, 65536);
}
const ofCogging = said("cogging", () =>
  [
    [6, 0.05],
    [24, 0.01],
    [50, 0.02],
    [6, 0],
  ].flatMap(([order, cogging], n): Question[] => {
    const { run, signals } = coggingTrial(order, cogging, 60 + n);
    const stretches = run.trials.flatMap(stretchesOf);
    if (!signals) return [];
    return [
      [
        `order ${n}`,
        () =>
          [0.02, 0.5].map((inertiaRatio) =>
            harmonicsOf(signals, stretches, { leastSpeed: 0.5, inertiaRatio }),
          ),
      ],
    ];
  }),
);

/** A current that rises by `level` in 0.6 s, at which a shaft breaks loose as the time to a power, twice. */
export function rampTrial(level: number, power: number, seed: number) {
  const random = uniforms(seed);
  const current = of(1500, (k) => (level / 600) * (k % 900) + 0.004 * (random() - 0.5));
  const angle = of(1500, (k) => {
    const late = 0.001 * ((k % 900) - 600);
    return Math.sign(level) * ((late > 0 ? 4 * late ** power : 0) + (k >= 900 ? 0.11 : 0));
  });
  return trialOf("torque", 0.001, angle, current, 4096);
}
const ofBreakaway = said("ramps that break a shaft loose", () =>
  [
    [0.5, 3],
    [1, 2],
    [-0.8, 3],
  ].flatMap(([level, power], n): Question[] => {
    const { run, signals } = rampTrial(level, power, 70 + n);
    if (!signals) return [];
    return [
      [
        `ramp ${n}`,
        () => {
          const book = new Book();
          addBreakaway(signals, run.trials, book);
          return [book.routes, book.findings, book.missing];
        },
      ],
    ];
  }),
);

const point = (speed: number, input: number, error: number): SteadyPoint => ({
  speed,
  input,
  inputError: error,
  speedError: 0.01,
  acceleration: 0,
  accelerationError: 0.1,
  across: 0,
  degreesOfFreedom: 9,
  samples: 20,
  from: 0,
  to: 20,
  stretch: {} as never,
});
const ofStribeck = said("friction that falls", () => {
  const speeds = [0.5, 1, 2, 3, 5, 8, 13, 20, 40, 80];
  const curve = (w: number, excess: number, at: number): number =>
    0.3 + excess * Math.exp(-((w / at) ** 2)) + 0.002 * w;
  return [0, 0.2].flatMap((excess) =>
    [0.7, 4, 60].map(
      (at, n): Question => [
        `friction ${excess * 100}-${n}`,
        () => {
          const random = uniforms(80 + n);
          const points = speeds.map((w) => point(w, curve(w, excess, at) + 0.002 * (random() - 0.5), 0.001));
          return [
            points,
            points.map((p) => ({ ...p, input: -p.input })),
            points.slice(3),
            points.slice(0, 6),
            points.map((p) => ({ ...p, inputError: 0.05 })),
            points.map((p, k) => (k % 2 ? { ...p, speed: -p.speed, input: -p.input } : p)),
          ].map(stribeckFrom);
        },
      ],
    ),
  );
});

const ofShapes = said("shapes of a step alone", () =>
  (["first-order", "first-order-dead-time", "second-order", "second-order-critical"] as const).flatMap(
    (shape) =>
      [false, true].map(
        (drift): Question => [
          `${shape} ${drift ? "drift" : "plain"}`,
          () => {
            const time = of(120, (k) => -0.1 + 0.01 * k);
            const random = uniforms(90);
            const noise = time.map(() => 0.02 * (random() - 0.5));
            const curves = [
              (t: number) => 1 - Math.exp(-t / 0.2),
              (t: number) => (t < 0.1 ? 0 : 1 - Math.exp(-(t - 0.1) / 0.1)),
              (t: number) => 1 - Math.exp(-5 * t) * (Math.cos(20 * t) + 0.25 * Math.sin(20 * t)),
              (t: number) => 1 - (1 + 9 * t) * Math.exp(-9 * t) + 0.2 * t,
            ];
            return curves.map((curve) => [
              fitStepShape(
                time,
                time.map((t, k) => 3 + (t < 0 ? 0 : 2 * curve(t)) + noise[k]),
                shape,
                { stepTime: 0, drift },
              ),
              fitStepShape(time.subarray(0, 9), time.subarray(0, 9), shape, { drift }),
            ]);
          },
        ],
      ),
  ),
);

/** Three files of a clock, the later ones a gap after the end of the one before. */
const files = (gap: number, stamps = false): SourceTable[] =>
  [0, 1, 2].map((n) => {
    const time = of(20, (k) => (stamps ? 0 : n * (19 + gap) * 0.01) + 0.01 * k);
    const plain = tableOf(
      ["time [s]", "speed rpm", "mode"],
      [time, time.map((t) => 3 * t), time.map((_, k) => k % 2)],
    );
    const columns = plain.columns.map((c, k) => {
      if (k === 2) return { ...c, kind: "text" as const };
      return k === 0 && stamps ? { ...c, kind: "stamp" as const, samples: [`2024-05-03T10:00:0${n}`] } : c;
    });
    return {
      ...plain,
      columns,
      read: async (at) => ({
        ...(await plain.read(at)),
        words: new Map([[2, n === 1 ? ["run", "idle"] : ["idle", "run"]]]),
        origins: stamps
          ? new Map([[0, new Date(1714730400000 + n * 10 * (19 + gap)).toISOString()]])
          : new Map(),
      }),
    };
  });
const ofFiles: Case = {
  name: "motions: files that go on",
  give: () => ({ recordings: [] }),
  answer: async () => {
    const lines: string[] = [];
    for (const stamps of [false, true])
      for (const gap of [-19, 0, 1, 9, 10, 11, 300]) {
        const tables = files(gap, stamps);
        const groups = await groupSplit(tables, [], {});
        const other = [{ ...tables[1], columns: tables[1].columns.slice(0, 2) }, tableOf(["a", "b", "c"])];
        const on = await Promise.all([...other, tables[1]].map((after) => goesOn(tables[0], after, [], {})));
        const { columns, words, origins } = await readAll(tables, [0, 1, 2]);
        lines.push(
          `${stamps ? "stamps" : "seconds"} ${gap}: ${groups.map((g) => g.length).join("+")} ${on.map(Number).join("")} ${lettersOf([columns, words, origins])}`,
        );
      }
    return lines;
  },
};

/** All of them. */
export const motionCases: readonly Case[] = [ofCogging, ofBreakaway, ofStribeck, ofShapes, ofFiles];
