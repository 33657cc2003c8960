/**
 * The workings between a trial and its verdict, and between rows and constants: laws of chance, distributions of
 * offsets and settings, windows, sums and ratios, asked alone on grids of arguments that meet their limits.
 */
import { dangerSentence, lettersSentence } from "../../lib/diagnosis/danger.js";
import { fieldOrientedProbability, kindUnknown } from "../../lib/diagnosis/driveKind.js";
import { judgeFollowing } from "../../lib/diagnosis/followModels.js";
import { handLikelihood, mismatchChance } from "../../lib/diagnosis/handEvidence.js";
import type { HandResult } from "../../lib/diagnosis/handResult.js";
import { judgeIndex } from "../../lib/diagnosis/indexPulses.js";
import { infer, logOfTwo, logSum, unitLog } from "../../lib/diagnosis/infer.js";
import { leading, offsetPosterior } from "../../lib/diagnosis/judged.js";
import { indexRow } from "../../lib/diagnosis/likelihood.js";
import { looksLike } from "../../lib/diagnosis/likePicture.js";
import { loopProbabilities } from "../../lib/diagnosis/loopForecast.js";
import { lawPeak, settingsVariants, swappedVariants } from "../../lib/diagnosis/mismatch.js";
import { nextTest, posteriorAfter, sameRemedy } from "../../lib/diagnosis/nextTest.js";
import { factorLikelihood } from "../../lib/diagnosis/offsetEvidence.js";
import { averaged, multiply, offsetGrid, offsetPrior } from "../../lib/diagnosis/offsetGrid.js";
import { turnsUnseen } from "../../lib/diagnosis/ohmicRest.js";
import { priorsOf } from "../../lib/diagnosis/options.js";
import { remediesOf, remedySentence, shortText } from "../../lib/diagnosis/remedies.js";
import { type CauseCode, causes } from "../../lib/diagnosis/tables/causes.js";
import { driveSigns } from "../../lib/diagnosis/tables/driveKind.js";
import { factorBelow, factorQuantile } from "../../lib/diagnosis/torqueFactor.js";
import { usability } from "../../lib/diagnosis/usability.js";
import { robustTop } from "../../lib/diagnosis/voltageStill.js";
import { constantNames } from "../../lib/identify/constants.js";
import { breakawayInput } from "../../lib/identify/electrical/dc/breakawayInput.js";
import { dcColumns, dcRecord, timesOf } from "../../lib/identify/electrical/dc/dcModel.js";
import { firstOrderOfHeld, meanOfHeld } from "../../lib/identify/electrical/dc/heldInput.js";
import { senseOf } from "../../lib/identify/electrical/dc/moving.js";
import {
  changesBetweenRows,
  likeliestNoise,
  whitening,
} from "../../lib/identify/electrical/dc/speedNoise.js";
import { inverterLoss } from "../../lib/identify/electrical/inverterLoss.js";
import { torqueSpeedLine } from "../../lib/identify/electrical/torqueSpeedLine.js";
import { travel } from "../../lib/identify/electrical/travel.js";
import { endCorrection } from "../../lib/identify/loop/gainIntegral.js";
import { gainMixups } from "../../lib/identify/loop/gainMixups.js";
import { grouped, solve } from "../../lib/identify/loop/gainRegression.js";
import { fitGrowth } from "../../lib/identify/loop/growthFit.js";
import { meanEstimate } from "../../lib/identify/meanEstimate.js";
import { twoPassCoefficients, twoPassRegression } from "../../lib/identify/mechanical/equationOfMotion.js";
import { evenWindows, growingWindows } from "../../lib/identify/mechanical/growingWindows.js";
import { tangentOfGain } from "../../lib/identify/mechanical/torqueBySense.js";
import {
  leakOf,
  meanOfFits,
  ofUniform,
  withModelError,
  withNoisyColumns,
} from "../../lib/identify/modelError.js";
import { isPossible } from "../../lib/identify/possible.js";
import { ratioOf, ratioOfCoefficients, reciprocal } from "../../lib/identify/quantity.js";
import { linearRegression } from "../../lib/numeric/linear/linearRegression.js";
import { uniforms } from "../house/uniforms.js";
import { lettersByQuestion } from "./answerLines.js";
import type { Case } from "./cases.js";
import { bank } from "./inner.js";
import { inLetters, type Question } from "./routes.js";

/** Four letters for each question; an error is an answer as well. */
const said = (name: string, questions: () => readonly Question[]): Case => ({
  name: `workings: ${name}`,
  give: () => ({ recordings: [] }),
  answer: () => lettersByQuestion(inLetters(questions())),
});

const codes: readonly CauseCode[] = causes.map(({ code }) => code);
/** Posteriors that lead one cause after the other, surely or hardly. */
const posteriors = codes.flatMap((first, k) =>
  [0.97, 0.5].map((most) => {
    const random = uniforms(40 + k);
    const rest = codes.map((code) => [code, code === first ? 0 : random() ** 3] as const);
    const whole = rest.reduce((sum, [, p]) => sum + p, 0);
    return new Map(rest.map(([code, p]) => [code, code === first ? most : ((1 - most) * p) / whole]));
  }),
);
const several = [0, 1, 2, 3, 5, 8].map((k) => posteriors[(4 * k) % posteriors.length]);
const degrees = (k: number): number => (offsetGrid[k] * 180) / Math.PI;
const offsets = [0, 30, 90, -120, 180].flatMap((centre) =>
  [4, 25, 90].map((width) =>
    offsetGrid.map((_, k) => {
      const off = degrees(k) - centre;
      return Math.exp(-0.5 * ((off - 360 * Math.round(off / 360)) / width) ** 2);
    }),
  ),
);
const grid = [-3, -1, -0.5, 0, 0.04, 0.25, 0.5, 1, 2, 8];

const ofCauses = said("causes", () => [
  ["causes leading", () => posteriors.map((p) => leading(p))],
  [
    "causes remedies",
    () =>
      posteriors.map((p) =>
        remediesOf(p).map((r) =>
          [r, remedySentence(r)].flatMap((one) =>
            typeof one === "string" ? one : Object.values(one).join(" "),
          ),
        ),
      ),
  ],
  [
    "causes texts",
    () => codes.map((code) => [shortText(code), shortText(code, true), sameRemedy(code)].flat()),
  ],
  ...posteriors.map(
    (p, k) => [`next ${k}`, () => [nextTest(p), nextTest(p, 0.5), nextTest(p, 0.02)]] as const,
  ),
  ...several.map(
    (p, k) =>
      [
        `after ${k}`,
        () =>
          ["hand-turn", "alignment-sweep", "torque", "nothing"].map((test) =>
            codes.map((truth) =>
              [...(posteriorAfter(p, test, truth) ?? [])].map(([code, v]) => `${code} ${v.toPrecision(4)}`),
            ),
          ),
      ] as const,
  ),
  [
    "causes priors",
    () =>
      [undefined, {}, { jam: 0.5 }, { jam: 0 }].map((given) => {
        try {
          const { priors, ...rest } = priorsOf(given as never);
          return [
            ...priors.values(),
            ...Object.values(rest).flatMap((v) => (v instanceof Map ? [...v.values()] : [])),
          ];
        } catch (error) {
          return [String(error)];
        }
      }),
  ],
  [
    "causes infer",
    () =>
      several.map((p, k) => {
        const states = [...p]
          .slice(k, k + 4)
          .map(([name, probability], j) => ({ name, probability, log: j - 1.5 }));
        const found = infer([
          { prior: 0.3, units: [states] },
          { prior: 0.7, units: [states.slice(1), states] },
        ]) as unknown as Record<string, unknown>;
        return {
          ...found,
          unit: unitLog(states),
          sum: logSum(states.map(({ log }) => log)),
          two: logOfTwo(k, -k),
        };
      }),
  ],
  [
    "causes sums",
    () => [
      logSum([]),
      logSum([Number.NEGATIVE_INFINITY]),
      ...grid.flatMap((a) => grid.map((b) => logOfTwo(a, b))),
      logOfTwo(Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY),
      logOfTwo(1, Number.NEGATIVE_INFINITY),
    ],
  ],
]);

const ofOffsets = said("offsets", () => [
  ...several.flatMap((p, k) =>
    offsets.map(
      (likely, j) =>
        [
          `posterior ${k}.${j}`,
          () => {
            const found = offsetPosterior(p, likely);
            return {
              found: [0, 20, 45, 90, 135, 170].map(
                (at) => found[Math.floor((at / 180) * (found.length - 1))],
              ),
              loops: [loopProbabilities(p, found, true), loopProbabilities(p, found, false)],
              quantiles: [0.025, 0.5, 0.975].map((q) => factorQuantile(found, q)),
              below: [-0.9, -0.2, 0, 0.2, 0.5, 0.99].map((limit) => factorBelow(found, limit)),
            };
          },
        ] as const,
    ),
  ),
  [
    "prior all",
    () =>
      codes.map((code) => {
        const prior = offsetPrior(code);
        return prior === undefined
          ? "-"
          : [...offsets.map((likely) => averaged(prior, likely)), prior.length];
      }),
  ],
  [
    "prior multiplied",
    () => {
      const one = Float64Array.from(offsets[4]);
      multiply(one, (k) => k % 3);
      return one;
    },
  ],
  [
    "factor all",
    () =>
      grid.flatMap((value) =>
        [0.05, 0.5].map((error) => {
          const f = factorLikelihood({ value, error }, { value: 1, error: 0.1 });
          return [0, 0.25, 0.5, 0.75, 1].map((at) => f[Math.floor(at * (f.length - 1))]);
        }),
      ),
  ],
]);

const settings = [undefined, 1, 2, 4, 7, 14];
const ofSettings = said("settings", () => [
  ...settings.flatMap((polePairs) =>
    [undefined, 500, 1024, 2048, 4000].map(
      (lines) =>
        [
          `settings ${polePairs ?? "-"}.${lines ?? "-"}`,
          () => {
            const facts = {
              machine: polePairs === undefined ? {} : { polePairs: 4 },
              drive: { polePairs, encoderLines: lines },
              encoder: lines === undefined ? {} : { lines: 1024 },
            };
            return {
              none: settingsVariants(facts),
              peaks: settingsVariants(facts, [0.5, 1.3, 2]),
              swapped: swappedVariants(facts),
            };
          },
        ] as const,
    ),
  ),
  [
    "settings peak",
    () =>
      [
        [0, 1, 2],
        [0, 0, 0],
        [0, 3, 1],
        [4, 0, 0],
      ].map((logs) =>
        lawPeak({ lawProfile: logs.map((log, k) => ({ mismatch: k / 2, log, unexplained: 0.1 })) } as never),
      ),
  ],
  [
    "drive kinds",
    () => {
      const names = Object.keys(driveSigns) as (keyof typeof driveSigns)[];
      return [[], ...names.map((n) => [n]), names, names.slice(0, 2), names.slice(-2)].map((signs) => {
        const p = fieldOrientedProbability(signs as never);
        return [p, Number(kindUnknown(p, signs as never)), Number(kindUnknown(0.5, signs as never))];
      });
    },
  ],
]);

const hand = (more: Partial<HandResult>): HandResult => ({
  text: "",
  evidence: [],
  verdict: undefined as never,
  sense: undefined as never,
  confidence: 0.8,
  ...more,
});
const logsOf = (of: ReturnType<typeof handLikelihood>) => ({
  findings: of.findings?.map(({ finding, logs }) => [
    finding,
    ...[...logs].map(([code, log]) => `${code} ${log.toPrecision(4)}`),
  ]),
  offsets:
    of.offsets &&
    [0, 20, 45, 90, 135, 170].map((at) => of.offsets?.[Math.floor((at / 180) * (offsetGrid.length - 1))]),
});
const ofHand = said("turned by hand", () => [
  ...grid.flatMap((value) =>
    [0.01, 0.3].flatMap((error) => [
      [
        `hand mismatch ${value}.${error}`,
        () => [0, 0.5, 1, 2, 4, 7].map((n) => mismatchChance({ value, error }, n)),
      ] as const,
      [
        `hand mismatched ${value}.${error}`,
        () => [
          logsOf(handLikelihood(hand({ mismatch: { value, error } }), false)),
          logsOf(handLikelihood(hand({ mismatch: { value, error } }), true)),
        ],
      ] as const,
      [
        `hand offset ${value}.${error}`,
        () => logsOf(handLikelihood(hand({ offset: { value, error } }), true)),
      ] as const,
      [
        `hand lines ${value}.${error}`,
        () => logsOf(handLikelihood(hand({ lineRatio: { value, error }, lag: value }), false)),
      ] as const,
      [
        `index row ${value}.${error}`,
        () => Object.values(indexRow({ ratio: value, spread: error })),
      ] as const,
    ]),
  ),
  [
    "hand words",
    () =>
      (["tracking", "reversed", "blocked", "runaway", "undetermined"] as const).flatMap((verdict) =>
        ([-1, 0, 1, undefined] as const).flatMap((sense) =>
          [true, false, undefined].map((flag) =>
            logsOf(
              handLikelihood(
                hand({
                  verdict,
                  sense: sense as never,
                  missed: flag,
                  frozen: flag === undefined ? undefined : !flag,
                }),
                flag === true,
              ),
            ),
          ),
        ),
      ),
  ],
  ...[1, 2, 3].flatMap((turns) =>
    [undefined, 512].flatMap((lines) =>
      [1, 0.5, 2, 1.37].map(
        (each) =>
          [
            `pulses ${turns}.${lines ?? "-"}.${each}`,
            () => {
              const angle = Float64Array.from({ length: 400 }, (_, k) => (turns * 2 * Math.PI * k) / 399);
              const index = angle.map((a) => ((a / (2 * Math.PI) / each) % 1 < 0.03 && a > 0.3 ? 1 : 0));
              return [
                judgeIndex(angle, index, turns, lines),
                judgeIndex(
                  angle,
                  index.map(() => 0),
                  turns,
                  lines,
                ),
                judgeIndex(
                  angle.map((a) => -a),
                  index,
                  turns,
                  lines,
                ),
              ];
            },
          ] as const,
      ),
    ),
  ),
]);

const shapes = [...bank()].filter(([, values]) => values.length > 100 && !values.some(Number.isNaN));
const clock = Float64Array.from({ length: 240 }, (_, k) => 0.01 * k);
const asMotion = (at: string, values: Float64Array, other: Float64Array): Question[] => [
  [
    `${at} unseen`,
    () => [turnsUnseen(values, other, 0.01), turnsUnseen(other, values, 0.1), robustTop(values)],
  ] as const,
  [
    `${at} following`,
    () => [
      judgeFollowing({ time: clock, command: values, measured: other, offset: false, noise: 0.01 }),
      judgeFollowing({
        time: clock,
        command: values,
        measured: values.map((v, i) => 0.9 * (values[i - 5] ?? v)),
        offset: true,
        noise: 0.1,
      }),
      judgeFollowing({
        time: clock,
        command: values,
        measured: values.map((v) => -v),
        offset: false,
        noise: 0.01,
        angle: other,
      }),
      judgeFollowing({
        time: clock,
        command: values,
        measured: values.map(() => 0),
        offset: false,
        noise: 0.01,
        pressed: true,
      }),
    ],
  ] as const,
  [
    `${at} growth`,
    () => [
      fitGrowth(clock, values, 0),
      fitGrowth(
        clock,
        values.map((v, i) => v + 0.01 * Math.exp(i / 40)),
        0.1,
      ),
      fitGrowth(
        clock,
        values.map((v) => 0.01 * v),
        0,
        1,
      ),
      fitGrowth(clock.subarray(0, 9), values.subarray(0, 9), 0),
    ],
  ] as const,
  [
    `${at} mean`,
    () => [
      meanEstimate(values),
      meanEstimate(values, 0.5),
      meanEstimate(values.subarray(0, 3)),
      meanEstimate(values.subarray(0, 1)),
      travel(values, 3, 90),
      travel(values, 0, values.length),
    ],
  ] as const,
];
const asInput = (at: string, values: Float64Array, other: Float64Array): Question[] => [
  [
    `${at} held`,
    () => [
      firstOrderOfHeld(clock, values, 0.1, 0),
      firstOrderOfHeld(clock, values, 0.02, 0.015, 1),
      meanOfHeld(clock, values, 0.1, 0),
      meanOfHeld(clock, values, 0.3, 0.025),
    ],
  ] as const,
  [
    `${at} sense`,
    () => {
      const { ...sense } = senseOf(values, other);
      return [sense, breakawayInput({ time: clock, input: other, speed: values })];
    },
  ] as const,
  [
    `${at} record`,
    () => {
      const record = dcRecord({ time: clock, input: other, speed: values });
      if (typeof record === "string") return record;
      const used = new Uint8Array(values.length).fill(1);
      return [true, false].map((on) => {
        const shape = { delayed: on, drift: !on, friction: on, lagged: !on };
        return [
          timesOf(shape),
          ...dcColumns(record, used, shape, { tau: 0.1, delay: 0.01, lag: 0.02 }).map((c) => [
            ...c.subarray(0, 11),
          ]),
        ];
      });
    },
  ] as const,
  [
    `${at} noise`,
    () => {
      const rows = {
        time: clock,
        jumps: Float64Array.from(clock, (_, i) => (i % 9 === 0 ? 1 : 0)),
        tau: 0.1,
      };
      const residuals = values.map((v, i) => v - other[i]);
      const noise = likeliestNoise(rows, residuals);
      const { ...white } = whitening(rows, noise);
      return [noise, white, changesBetweenRows(rows, residuals, noise)];
    },
  ] as const,
  [`${at} correction`, () => endCorrection(values, clock, Int32Array.from([0, 40, 120]))] as const,
];
const ofShapes = said("columns as motions", () =>
  shapes
    .filter((_, k) => k % 2 === 0)
    .flatMap(([name, values], k) => {
      const at = name.replaceAll(/\W+/g, "-");
      const [, other] = shapes[(k + 5) % shapes.length];
      return [...asMotion(at, values, other), ...asInput(at, values, other)];
    }),
);

const random = (seed: number, n: number): number[] => {
  const next = uniforms(seed);
  return Array.from({ length: n }, next);
};
const fitsOf = (seed: number) => {
  const [a, b, e] = [random(seed, 60), random(seed + 1, 60), random(seed + 2, 60)];
  const design = a.map((v, k) => [1, v, b[k]]);
  const response = a.map((v, k) => 2 + 3 * v - b[k] + 0.3 * (e[k] - 0.5));
  return { design, response, shape: b, fit: linearRegression(design, response) };
};
const shownFit = (fit: ReturnType<typeof linearRegression>) =>
  fit && {
    coefficients: fit.coefficients,
    errors: fit.standardErrors,
    covariance: fit.covariance.flat(),
    degrees: fit.degreesOfFreedom,
    critical: fit.critical,
    block: fit.blockLength,
  };

const ofRegressions = (): Question[] => [
  ...[3, 9].flatMap((seed) => {
    const { design, response, shape, fit } = fitsOf(seed);
    if (fit === null) return [];
    return [
      [
        `fit ${seed} model`,
        () => [0.01, 0.5].map((deviation) => shownFit(withModelError(fit, design, shape, deviation))),
      ] as const,
      [`fit ${seed} leak`, () => leakOf(fit, design, shape)] as const,
      [
        `fit ${seed} noisy`,
        () =>
          [0, 0.05, 0.3].map((noise) =>
            shownFit(
              withNoisyColumns(
                fit,
                design,
                design.map(() => [0, noise, 0.5 * noise]),
              ),
            ),
          ),
      ] as const,
      [
        `fit ${seed} mean`,
        () => {
          const other = fitsOf(seed + 20).fit ?? fit;
          return [
            [0.5, 0.5],
            [1, 0],
            [0.2, 0.8],
          ].map(([p, q]) =>
            shownFit(
              meanOfFits([
                { fit, weight: p },
                { fit: other, weight: q },
              ]),
            ),
          );
        },
      ] as const,
      [
        `fit ${seed} ratios`,
        () => [
          ratioOfCoefficients(fit, 0, 1),
          ratioOfCoefficients(fit, 1, 2),
          ratioOfCoefficients(fit, 2, 0),
        ],
      ] as const,
      [
        `fit ${seed} passes`,
        () =>
          [[60], [20, 40], [12, 12, 12, 12, 12], [1, 59]].map((lengths) => [
            shownFit(twoPassRegression(design, response, lengths)),
            twoPassCoefficients(design, response, lengths)?.coefficients,
          ]),
      ] as const,
      [
        `fit ${seed} grouped`,
        () => {
          const groups = grouped(response.map((_, k) => Math.floor(k / 15)));
          const { ...seen } = groups;
          return [
            seen,
            solve(
              Float64Array.from(response),
              [Float64Array.from(shape), Float64Array.from(design, (row) => row[1])],
              groups,
            ),
          ];
        },
      ] as const,
    ];
  }),
];
const ofRatios = (): Question[] => [
  [
    "ratios all",
    () =>
      grid.flatMap((a) =>
        grid.flatMap((b) =>
          [
            ratioOf({ value: a, variance: 0.01 }, { value: b, variance: 0.04 }, 0.005, 2) ?? "-",
            ratioOf({ value: a, variance: 0 }, { value: b, variance: 0 }, 0, 2) ?? "-",
          ].map((r) => (typeof r === "string" ? r : Object.values(r))),
        ),
      ),
  ],
  [
    "ratios reciprocal",
    () =>
      grid.flatMap((low) =>
        [0, 0.5, 2].map((wide) =>
          reciprocal(
            { value: low + wide / 2, low, high: low + wide, unit: "1", level: 0.95, method: "made" },
            3,
            { unit: "s" },
          ),
        ),
      ),
  ],
  [
    "possible all",
    () =>
      (Object.keys(constantNames) as (keyof typeof constantNames)[]).map((name) =>
        [1e-12, 1e-9, 1e-6, 1e-4, 1e-2, 1, 1e2, 1e4, 1e7, 1e12]
          .map((v) => Number(isPossible(name, { low: v, high: 1.5 * v })))
          .join(""),
      ),
  ],
  ["possible uniform", () => grid.map((v) => [ofUniform(v), tangentOfGain(v)])],
];
const ofWindows = (): Question[] => [
  [
    "windows all",
    () =>
      [0, 5, 9, 10, 11, 19, 20, 21, 40, 99, 200].flatMap((n) =>
        [growingWindows(3, 3 + n), evenWindows(3, 3 + n), growingWindows(0, n, 4), evenWindows(0, n, 4)].map(
          (list) => list.map(({ from, to }) => `${from}-${to}`).join(" "),
        ),
      ),
  ],
  [
    "losses all",
    () =>
      [0, 0.2, 1, [0.5, 1], [0, 2, 4]].flatMap((usual) =>
        [undefined, { size: 0.4, error: 0.1 }, { size: 0, error: 1 }].map((found) =>
          inverterLoss(usual, found),
        ),
      ),
  ],
  [
    "lines all",
    () =>
      [
        [],
        [[0, 2]],
        [
          [0, 2],
          [100, 0],
        ],
        [
          [10, 1.8],
          [50, 1],
          [90, 0.2],
        ],
        [
          [10, 1.8],
          [50, 1.4],
          [90, 0.2],
          [95, 0],
        ],
        [
          [5, 1],
          [5, 1],
        ],
        [
          [0, 0],
          [10, 1],
        ],
      ].map((points) =>
        torqueSpeedLine(
          points.map(([speed, torque]) => ({ speed, torque })),
          24,
        ),
      ),
  ],
  ...grid.flatMap((kp) =>
    [0.1, 3].map(
      (ki) =>
        [
          `mixups ${kp}.${ki}`,
          () => {
            const of = (value: number) => ({
              value,
              low: 0.9 * value,
              high: 1.1 * value,
              unit: "1",
              level: 0.95,
              method: "made",
            });
            return [0.5, 1, 2 * Math.PI, 1e-3, 1000, 4, 0.08].map((factor) => [
              gainMixups(
                { kp, ki },
                { kp: of(factor * kp), ki: of(ki) },
                { sampleTime: 1e-3, polePairs: 4, torqueConstant: 0.08 },
              ),
              gainMixups({ kp, ki }, { kp: of(kp), ki: of(factor * ki) }),
            ]);
          },
        ] as const,
    ),
  ),
];
const ofFits = said("fits", () => [...ofRegressions(), ...ofRatios(), ...ofWindows()]);

const words = ["tracking", "reversed", "blocked", "runaway", "undetermined"] as const;
const ofWords = said("sentences", () => [
  [
    "sentences danger",
    () =>
      words.flatMap((a) =>
        words.map((b) => dangerSentence([{ verdict: a }, { verdict: b }, { verdict: b }] as never)),
      ),
  ],
  [
    "sentences usable",
    () =>
      words.flatMap((verdict) =>
        [true, false].flatMap((usable) =>
          [0.3, 0.5, 0.6, 0.8, 0.9, 0.95, 1, undefined].map((probability) =>
            usability({ verdict, usable, probability } as never),
          ),
        ),
      ),
  ],
  ["sentences letters", () => [lettersSentence({ recordings: [], orderings: [] } as never)]],
  [
    "pictures all",
    () => {
      const picture = (length: number, off: number) => ({
        length,
        strokes: Float64Array.from({ length: 48 }, (_, k) => Math.sin(k) + off),
      });
      return [0, 0.01, 0.02, 0.021, 0.1].flatMap((off) =>
        [1, 1.01, 1.02, 1.03, 0.5].map((length) => Number(looksLike(picture(1, 0), picture(length, off)))),
      );
    },
  ],
]);

/** All of them. */
export const workingCases: readonly Case[] = [
  ofCauses,
  ofOffsets,
  ofSettings,
  ofHand,
  ofShapes,
  ofFits,
  ofWords,
];
