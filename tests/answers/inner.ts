/**
 * Numbers of the inner steps, which the answers to whole recordings round away: what headings, units and stamps are
 * taken for, what columns of numbers look like alone and in pairs, and how likely each meaning makes them.
 */

import { clockRuns } from "../../lib/recording/columns/clockRuns.js";
import { backSteps, carryOn, usualStep } from "../../lib/recording/columns/clockWraps.js";
import type { ColumnFacts } from "../../lib/recording/columns/columnFacts.js";
import { columnNumbers } from "../../lib/recording/columns/columnNumbers.js";
import { settleDays } from "../../lib/recording/columns/dayOrder.js";
import { turnOf } from "../../lib/recording/columns/devicesInTurns.js";
import { wordsOf } from "../../lib/recording/columns/foldedWords.js";
import { type Hypothesis, hypothesesOf } from "../../lib/recording/columns/hypotheses.js";
import { leadOf } from "../../lib/recording/columns/leadOf.js";
import { meaningOf, partsOf } from "../../lib/recording/columns/lexicon.js";
import { linesInDoubt } from "../../lib/recording/columns/linesInDoubt.js";
import { edgesOf, looked, lookedRows } from "../../lib/recording/columns/lookedRows.js";
import { ratioToIntegral } from "../../lib/recording/columns/motionFit.js";
import { motorGroups } from "../../lib/recording/columns/motorGroups.js";
import { nameEvidence } from "../../lib/recording/columns/nameEvidence.js";
import { relationsOf } from "../../lib/recording/columns/relationList.js";
import {
  accelerationExplained,
  differenceOfTwo,
  lineThrough,
  motionExplained,
  neededToStay,
  rateFit,
  speedChanges,
  sumOfThree,
} from "../../lib/recording/columns/relations.js";
import { rowsInOrder } from "../../lib/recording/columns/rowsInOrder.js";
import { stampMoment } from "../../lib/recording/columns/stampMoment.js";
import { stampForm } from "../../lib/recording/columns/stamps.js";
import { strayStamps } from "../../lib/recording/columns/strayStamps.js";
import { xOfPairs } from "../../lib/recording/columns/timeBases.js";
import { dimension } from "../../lib/recording/columns/unitDimension.js";
import {
  isOtherUnit,
  splitHeading,
  unitInHeading,
  unitOfText,
} from "../../lib/recording/columns/unitText.js";
import { type Windows, windowsOf } from "../../lib/recording/columns/windows.js";
import { crossedInMotion, wrapOf } from "../../lib/recording/columns/wrapOf.js";
import { codeTables } from "../corpus/codeTables.js";
import { headingTables, moreHeadingTables } from "../corpus/headingTables.js";
import { heldTables, publicTables } from "../corpus/publicTables.js";
import { machines, runTrial } from "../corpus/rig.js";
import { uniforms } from "../house/uniforms.js";
import { answerLines, fewLetters, shortNumber } from "./answerLines.js";
import type { Case } from "./cases.js";

const said = (name: string, answer: () => string[]): Case => ({
  name: `inner: ${name}`,
  give: () => ({ recordings: [] }),
  answer,
});

/** All headings of the tables of the corpus, each once. */
const headingsOf = (tables: readonly { readonly columns: string }[]): string[] => [
  ...new Set(
    tables.flatMap(({ columns }) =>
      columns
        .trim()
        .split("\n")
        .map((line) => line.slice(0, line.lastIndexOf(" = ")).trim()),
    ),
  ),
];

/** One heading: its words and unit, and the log likelihood of every meaning as a few letters. */
function headingLine(heading: string): string {
  const { words, unit, plain } = splitHeading(heading);
  const { score, told, ...rest } = nameEvidence(words);
  const ranked = [...score].sort((a, b) => b[1] - a[1]);
  const best = ranked.slice(0, 2).map(([meaning, log]) => `${meaning} ${log.toFixed(3)}`);
  const flags = Object.entries(rest).flatMap(([key, value]) =>
    value === undefined ? [] : [value === true ? key : value === false ? "" : value],
  );
  const all = ranked.map(([meaning, log]) => `${meaning} ${log.toFixed(4)}`).sort();
  return [
    `"${words}" ${unit ? `${unit.code} ${unit.scale ? `${unit.scale.factor} ${unit.scale.zero}` : ""}` : "-"} ${plain}`,
    best.join(" "),
    fewLetters(all.join()),
    fewLetters([
      told,
      flags,
      unitInHeading(heading),
      isOtherUnit(heading),
      wordsOf(words).map((w) => [meaningOf(w), partsOf(w)]),
    ]),
  ].join(" ");
}

const inHundreds = (list: readonly string[]): (readonly string[])[] =>
  Array.from({ length: Math.ceil(list.length / 100) }, (_, k) => list.slice(100 * k, 100 * (k + 1)));

const headings = headingsOf([
  ...headingTables,
  ...moreHeadingTables,
  ...codeTables,
  ...publicTables,
  ...heldTables,
]);
const words = inHundreds(headings).map((some, k) =>
  said(`headings, hundred ${k + 1}`, () =>
    some.map((heading) => `${heading.replaceAll(":", ";")}: ${headingLine(heading)}`),
  ),
);

const unitTexts =
  `rpm|1/min|min-1|min^-1|U/min|r/min|rev/s|rps|Hz|rad/s|rad/sec|deg/s|°/s|dps|krpm|mrpm|drpm|mrad/s|deg|°|rad|mrad|cdeg
  |rev|turns|counts|inc|ticks|A|mA|Arms|A rms|A pk|Aeff|V|mV|kV|Nm|N·m|mNm|Ncm|N.mm|kgf cm|ozf·in|lbf·ft|%|% In|0.1%|‰|ppm|°C|degC|dC|K|s
  |ms|us|µs|ns|min|h|100 mV/A|10 mV/rpm|1 V/Nm|0.05 A from 2048|x 0.1 rpm|1/10 A|1/100 deg|1e-3 Nm|2*pi rad|m|mm|m/s|km/h|kW|W|Ohm|-|1|
  millidegrees/s|U·min⁻¹|gcm|kgf*m|mNcm|rad/s2|g|bar|[A]|(V)|p.u.|pu|1/rev|LSB|digit`
    .split("|")
    .map((t) => t.trim());
const units = said("units", () =>
  unitTexts.flatMap((unit) => [
    ...answerLines(`unit ${unit}`, unitOfText(unit)),
    `dimension ${unit}: ${dimension(unitOfText(unit)?.code ?? unit)} ${isOtherUnit(unit)}`,
  ]),
);

const stampTexts =
  `2024-03-05 14:05:06.25|2024-03-05T14:05:06Z|2024-03-05T14:05:06+01:00|2024/03/05 14:05:06|05.03.2024 14:05:06,125
  |5.3.24 4:05:06|03/05/2024 02:05:06 PM|03/05/2024 12:05:06 AM|13/05/2024 14:05|05-03-2024 14:05:06|31.02.2024 14:05:06|20240305T140506
  |20240305T140506.5Z|14:05:06|14:05:06.789|2:05:06 PM|12:00:00 AM|12:30:00 PM|05:06.789|99:06.5|1:02:03:456|25:61:00|05-Mar-2024 14:05:06
  |Mar 5 2024 14:05:06|2024-13-05 14:05:06|00/00/2024 00:00:00|1709647506|12.5|n/a`
    .split("|")
    .map((t) => t.trim());
const stamps = said("stamps", () =>
  stampTexts.map((t) => {
    const [other, zone] = [stampMoment(t.replaceAll("05", "17")), stampForm([t])?.apart];
    return `stamp ${t.replaceAll(":", ";")}: ${stampMoment(t)} ${other} ${stampForm([t])?.name.replaceAll(" ", "-")} ${zone}`;
  }),
);

/** Columns of many shapes, made without noise that a library could draw otherwise. */
export function bank(): Map<string, Float64Array> {
  const random = uniforms(5);
  const n = 240;
  const of = (f: (k: number) => number): Float64Array => Float64Array.from({ length: n }, (_, k) => f(k));
  const angle = of((k) => 0.002 * k * k);
  const noise = of(() => random() + random() + random() - 1.5);
  return new Map([
    ["constant", of(() => 3.5)],
    ["zero", of(() => 0)],
    ["on and off", of((k) => (k > 40 && k < 170 ? 1 : 0))],
    ["steps", of((k) => [0, 5, 10, -10, 2.5, 0][Math.floor(k / 40)])],
    ["ramps", of((k) => Math.min(60, k / 2))],
    ["clock", of((k) => 0.01 * k)],
    ["uneven clock", of((k) => 0.01 * (k + 0.3 * noise[k]))],
    ["clock of a register", of((k) => (65000 + 20 * k) % 65536)],
    ["clock that begins anew", of((k) => 0.01 * (k % 80))],
    ["clock set ahead", of((k) => 0.01 * k + (k > 100 ? 3600 : 0))],
    ["clock with strays", of((k) => (k === 50 ? 99 : k === 120 ? 0 : 0.01 * k))],
    ["clock backwards", of((k) => 5 - 0.01 * k)],
    ["clock written late", of((k) => 0.01 * (k % 30 === 7 ? k - 3 : k))],
    ["clock in turns", of((k) => 0.01 * (k >> 1))],
    ["rows in a ring", of((k) => 0.01 * ((k + 90) % n))],
    ["rows", of((k) => k)],
    ["devices", of((k) => 1 + (k % 3))],
    ["wrapped angle", of((k) => (57.3 * angle[k]) % 360)],
    ["wrapped centred", of((k) => Math.atan2(Math.sin(angle[k]), Math.cos(angle[k])))],
    ["wrapped counts", of((k) => Math.floor(700 * angle[k]) % 4096)],
    ["angle", angle],
    ["rate", of((k) => 0.4 * k)],
    ["noise", noise],
    ["smooth", of((k) => 4 * Math.sin(0.05 * k) + 0.02 * noise[k])],
    ["smooth, later", of((k) => 4 * Math.sin(0.05 * (k - 6)))],
    ["smooth, turned", of((k) => 2 - 3 * Math.sin(0.05 * k))],
    ["third", of((k) => 4 * Math.sin(0.05 * k) - (2 - 3 * Math.sin(0.05 * k)))],
    ["gaps", of((k) => (k % 7 === 0 ? Number.NaN : 12 + noise[k]))],
    ["empty", of(() => Number.NaN)],
    ["short", Float64Array.of(0, 1, 2)],
    ["one", Float64Array.of(4)],
  ]);
}

const shapes = said("columns of numbers", () =>
  [...bank()].flatMap(([name, values]) => {
    const rows = lookedRows(values.length);
    const stray = strayStamps(values);
    const days = Float64Array.from(values);
    return [
      ...answerLines(`${name} numbers`, columnNumbers(looked(values, rows), edgesOf(rows))),
      ...answerLines(`${name} numbers of two`, columnNumbers(values, [0, values.length >> 1, values.length])),
      ...answerLines(`${name} wraps`, wrapOf(values, [1, 2 * Math.PI, 360, 4096, 65536])),
      ...answerLines(`${name} clock`, {
        back: backSteps(values).flat(),
        usual: usualStep(values),
        stray,
        turn: turnOf(values),
        crossed: [2 * Math.PI, 360, 4096].map((size) => crossedInMotion(values, size)),
        settled: settleDays(days),
      }),
      ...answerLines(`${name} runs`, clockRuns(values, values.length)),
      ...answerLines(
        `${name} runs by title`,
        clockRuns(values, values.length, [{ row: 60, title: "b", by: "title" }]),
      ),
      ...answerLines(
        `${name} runs by heading`,
        clockRuns(values, values.length, [{ row: 160, by: "heading" }]),
      ),
      ...answerLines(
        `${name} carried`,
        carryOn(values, 1, () => [values]),
      ),
      ...answerLines(`${name} order`, rowsInOrder(values)),
    ];
  }),
);

const pairs = said("pairs of columns", () => {
  const all = [...bank()].filter(([, values]) => values.length > 100);
  const four = (value: number): number => Number(value.toPrecision(4));
  return all.map(([a, x]) => {
    const found = all.map(([b, y]) => {
      const integral = ratioToIntegral(
        x,
        y,
        Float64Array.from(x, (_, k) => 0.01 * k),
      );
      return { b, line: lineThrough(x, y), lead: leadOf(x, y), integral };
    });
    const values = found.map(({ lead, line, integral }) =>
      [lead, ...Object.values(line ?? {}), ...Object.values(integral ?? {})].map((v) =>
        typeof v === "number" ? four(v) : v,
      ),
    );
    const shown = found.flatMap(({ integral }) => (integral ? [shortNumber(integral.value)] : []));
    return `${a} with the others: ${shown.join(" ")} ${values.map(fewLetters).join(" ")}`;
  });
});

const turns = [
  96,
  100,
  400,
  1000,
  1024,
  3999,
  4000,
  4001,
  4096,
  6283.2,
  8000,
  25000,
  65536,
  4096 * 9.5493,
  40,
  523,
];
const lines = said("lines in doubt", () =>
  turns.flatMap((turn) =>
    [0.01, 0.4, 3, 40].flatMap((half) => answerLines(`turn ${turn} ${half}`, linesInDoubt(turn, half))),
  ),
);

const groups = said("several motors", () =>
  [
    ["time", "pos1", "pos2", "vel1", "vel2"],
    ["left_velocity", "right_velocity", "left_current", "right_current"],
    ["i1", "i2", "i3", "speed"],
    ["Left_RPM", "Right_RPM"],
    ["t", "Axis0_Ref", "Axis1_Ref", "Axis0_Act", "Axis1_Act"],
    ["Speed X", "Speed Y", "Current X", "Current Y"],
  ].flatMap((names, k) => [
    ...answerLines(
      `motors ${k}`,
      motorGroups(names, (column) => column > 0),
    ),
    ...answerLines(`pairs ${k}`, [...xOfPairs(names)].flat()),
  ]),
);

/** Columns of a simulated rig that belong together. */
function rigColumns(machine: string, trial: Parameters<typeof runTrial>[0]) {
  const signals = runTrial(trial, machines[machine], 11);
  const names = [
    "time",
    "speedCommand",
    "speed",
    "position",
    "currentCommand",
    "current",
    "voltage",
    "torque",
    "duty",
  ];
  const all = [
    ...names,
    "currentU",
    "currentV",
    "currentW",
    "electricalAngle",
    "positionCommand",
    "voltageBus",
  ];
  const values = all.map((name) => signals[name].filter((_, k) => k % 3 === 0));
  const rows = lookedRows(values[0].length);
  return { all, values, edges: edgesOf(rows), windows: windowsOf(values, values[0], edgesOf(rows)) };
}

const rigs = (
  [
    ["small", "speed"],
    ["servo", "position"],
    ["gear", "duty"],
    ["spindle", "current"],
  ] as const
).map(([machine, trial]) =>
  said(`columns of a rig, ${machine} ${trial}`, () => {
    const { all, values, edges, windows } = rigColumns(machine, trial);
    const facts = all.map((name, index) => factsOf(name, index, columnNumbers(values[index], edges)));
    const hypotheses = facts.map((one) => hypothesesOf(one));
    const bare = facts.map((one) =>
      hypothesesOf({ ...one, heading: splitHeading(""), name: nameEvidence("") }),
    );
    return [
      ...answerLines("windows", { duration: windows.duration, wraps: windows.wraps.map(String) }),
      ...all.flatMap((name, k) => [
        `${name} may be: ${ranked(hypotheses[k])}`,
        `${name} without its name may be: ${ranked(bare[k])}`,
        ...answerLines(`${name} window`, {
          change: windows.change[k],
          area: windows.area[k],
          mean: windows.mean[k],
        }),
      ]),
      ...motions(all, windows),
      ...related(facts, values, windows, bare),
    ];
  }),
);

/** A column of numbers under a heading. */
export function factsOf(name: string, index: number, numbers: ColumnFacts["numbers"]): ColumnFacts {
  const heading = splitHeading(name);
  return {
    index,
    kind: "number",
    samples: [],
    heading,
    unitTrust: 1,
    name: nameEvidence(heading.words),
    numbers,
  };
}

/** The three likeliest hypotheses, and all of them as a few letters. */
export function ranked(list: readonly Hypothesis[]): string {
  const log = (h: Hypothesis): number => h.name + h.units + h.numbers;
  const short = (h: Hypothesis): string =>
    `${h.role} ${h.unit ?? "-"} ${[h.name, h.units, h.numbers, h.habit].map((v) => Number(v.toPrecision(4))).join(" ")}`;
  const sorted = [...list].sort((a, b) => log(b) - log(a));
  return `${sorted.slice(0, 3).map(short).join(" | ")} ${fewLetters(sorted.map(short).sort())}`;
}

function motions(all: readonly string[], w: Windows): string[] {
  const at = (name: string): number => all.indexOf(name);
  const changes = speedChanges(w, at("speed"));
  return [
    ...answerLines("rate", rateFit(w, at("position"), at("speed"))),
    ...answerLines("speed changes", changes),
    ...all.flatMap((name, k) =>
      answerLines(`${name} drives`, {
        acceleration: changes && accelerationExplained(w, changes, k),
        motion: motionExplained(w, at("position"), k),
        stays: neededToStay(w, at("speed"), k),
      }),
    ),
  ];
}

/** What columns show together, and what it adds for pairs of meanings. */
function related(
  facts: readonly ColumnFacts[],
  values: readonly Float64Array[],
  windows: Windows,
  hypotheses: readonly (readonly Hypothesis[])[],
): string[] {
  const columns = facts.flatMap(({ index, numbers, name }) =>
    numbers
      ? [
          {
            index,
            place: index,
            label: `c${index}`,
            values: values[index],
            numbers,
            named: name.namesQuantity,
            unit: undefined,
          },
        ]
      : [],
  );
  const compared = { windows, time: 0, steady: false, mayBe: () => true, apart: () => false };
  const three = [9, 10, 11].map((k) => values[k]);
  return [
    ...answerLines("three", {
      sum: sumOfThree(three[0], three[1], three[2]),
      difference: differenceOfTwo(values[1], values[2], values[3]),
    }),
    ...relationsOf(columns, compared).map(({ columns: of, family, mutual, text, score }, k) => {
      const lists = of.map((c) => hypotheses[c].filter((_, i) => i % 3 === 0));
      const scores = lists[0].flatMap((a) =>
        (lists[1] ?? [undefined]).map((b) =>
          Number(score([a, b ?? a, ...(lists[2]?.slice(0, 1) ?? [])]).toPrecision(4)),
        ),
      );
      const most = scores.reduce((x, y) => Math.max(x, y), Number.NEGATIVE_INFINITY);
      return `relation ${k}: ${of.join("+")} ${family ?? "-"} ${mutual ?? "-"} most ${most} ${fewLetters([text, scores])}`;
    }),
  ];
}

/** All of them. */
export const innerCases: readonly Case[] = [...words, units, stamps, shapes, pairs, lines, groups, ...rigs];
