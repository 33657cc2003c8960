/**
 * The workings between a table and its channels: how clocks are cleaned, stamps read, tables of one value a row or of
 * several devices turned into columns, channels of a capture joined, counts and units brought to SI; asked alone on
 * columns of many shapes.
 */
import { answerArguments, answerText, mapAnswer, unitAnswer } from "../../lib/recording/columns/answers.js";
import { channelInSi, scaled } from "../../lib/recording/columns/channelInSi.js";
import { type Choice, contradicts } from "../../lib/recording/columns/chooseChannels.js";
import { cleanTime } from "../../lib/recording/columns/cleanTime.js";
import { settleDays, zeroed } from "../../lib/recording/columns/dayOrder.js";
import { devicesApart } from "../../lib/recording/columns/devicesApart.js";
import { devicesInTurns } from "../../lib/recording/columns/devicesInTurns.js";
import { encoderLinesFromGrid } from "../../lib/recording/columns/encoderLinesFromGrid.js";
import { glanceAtTable } from "../../lib/recording/columns/glance.js";
import { gridOf, gridScore } from "../../lib/recording/columns/gridOfTurn.js";
import { joinChannels } from "../../lib/recording/columns/joinChannels.js";
import { lateColumns } from "../../lib/recording/columns/lateColumns.js";
import { intervalFromMotion, linesFromSpeed } from "../../lib/recording/columns/linesFromSpeed.js";
import { usualCountAbove } from "../../lib/recording/columns/linesInDoubt.js";
import { wideTable } from "../../lib/recording/columns/longTable.js";
import { mergedRows } from "../../lib/recording/columns/mergedRows.js";
import { ratioWhereCounted } from "../../lib/recording/columns/motionFit.js";
import { partsByClock } from "../../lib/recording/columns/partsByClock.js";
import { daysInSeconds } from "../../lib/recording/columns/serialDays.js";
import { splitRows } from "../../lib/recording/columns/splitRows.js";
import { oneSeconds } from "../../lib/recording/columns/splitSeconds.js";
import { stampMoment } from "../../lib/recording/columns/stampMoment.js";
import { stampForm } from "../../lib/recording/columns/stamps.js";
import { timeAtRate, timeInSeconds, timeOfStamps } from "../../lib/recording/columns/timeAxis.js";
import { mayBeTime, onOneTime, resampled } from "../../lib/recording/columns/timeBases.js";
import { understandTable } from "../../lib/recording/columns/understand.js";
import { unscaledChannel } from "../../lib/recording/columns/unscaledChannel.js";
import { judgedByOrder } from "../../lib/recording/columns/withoutClock.js";
import { isoOf, zeroStamps } from "../../lib/recording/columns/wordsAndStamps.js";
import { clockColumn, worthReading } from "../../lib/recording/columns/worthReading.js";
import type { SourceTable } from "../../lib/recording/formats/sourceTable.js";
import type { Channel, ChannelRole, Finding } from "../../lib/recording/types.js";
import { lettersByQuestion, lettersOf } from "./answerLines.js";
import type { Case } from "./cases.js";
import { tableOf } from "./hands.js";
import { bank } from "./inner.js";

type Question = readonly [string, () => unknown];

const said = (name: string, questions: () => readonly Question[]): Case => ({
  name: `column workings: ${name}`,
  give: () => ({ recordings: [] }),
  answer: async () => {
    const lines: string[] = [];
    for (const [what, ask] of questions())
      try {
        lines.push(`${what}: ${lettersOf(await ask())}`);
      } catch (error) {
        lines.push(`${what}: thrown ${error instanceof Error ? error.message : String(error)}`);
      }
    return lettersByQuestion(lines);
  },
});

const shapes = [...bank()];
const long = shapes.filter(([, values]) => values.length > 100);
const at = (name: string): string => name.replaceAll(/\W+/g, "-");
const of = (n: number, f: (k: number) => number): Float64Array =>
  Float64Array.from({ length: n }, (_, k) => f(k));
const next = (k: number): Float64Array => long[(k + 7) % long.length][1];

/** What a table reads as: its columns and all of their values. */
async function contents(table: SourceTable | undefined): Promise<unknown> {
  if (table === undefined) return undefined;
  const { columns, words, origins, findings } = await table.read(table.columns.map((_, k) => k));
  return [table.columns, columns, words, origins, findings, table.findings, table.label];
}
/** A table with a column of words. */
function withWords(
  names: readonly string[],
  values: readonly Float64Array[],
  at: number,
  words: readonly string[],
): SourceTable {
  const plain = tableOf(names, values);
  const columns = plain.columns.map((c, k) =>
    k === at
      ? {
          ...c,
          kind: "text" as const,
          samples: Array.from(values[at].subarray(0, 20), (v) => words[v] ?? ""),
        }
      : c,
  );
  return {
    ...plain,
    columns,
    read: async (wanted) => ({
      ...(await plain.read(wanted)),
      words: new Map(wanted.includes(at) ? [[at, words]] : []),
    }),
  };
}

/** Clocks with something wrong, in steps of a 64th of a second. */
const clocks: Readonly<Record<string, Float64Array>> = {
  even: of(60, (k) => k / 64),
  "one step back": of(60, (k) => (k === 30 ? 28 : k) / 64),
  "equal stamps": of(60, (k) => (k - (k % 2)) / 64),
  "three equal": of(60, (k) => (k - (k % 3)) / 64),
  holes: of(60, (k) => (k % 11 === 5 ? Number.NaN : k / 64)),
  "holes at the ends": of(60, (k) => (k < 2 || k > 57 ? Number.NaN : k / 64)),
  "a leap": of(60, (k) => (k < 30 ? k : k + 500) / 64),
  "a stray": of(60, (k) => (k === 20 ? 9e9 : k / 64)),
  "two strays": of(60, (k) => (k === 20 || k === 40 ? -5 : k / 64)),
  backwards: of(60, (k) => (60 - k) / 64),
  shuffled: of(60, (k) => ((k * 7) % 60) / 64),
  "from the middle": of(60, (k) => ((k + 20) % 60) / 64),
  anew: of(60, (k) => (k % 20) / 64),
  register: of(60, (k) => (250 + k) % 256),
  "register of words": of(60, (k) => (65500 + 3 * k) % 65536),
  constant: of(60, () => 5),
  empty: of(60, () => Number.NaN),
  "far away": of(60, (k) => 1.7e9 + k / 64),
  "two rows": of(2, (k) => k),
  "one row": of(1, () => 3),
  none: of(0, () => 0),
  jitter: of(60, (k) => (k + 0.3 * ((k * 13) % 5)) / 64),
  "slow and quick": of(60, (k) => (k < 30 ? k : 30 + (k - 30) / 8) / 64),
};
const ofTimes = (name: string, clock: Float64Array): Question[] => [
  [
    `${at(name)} cleaned`,
    () =>
      [
        {},
        { firstLine: 3 },
        { events: true },
        { rows: Int32Array.from(clock, (_, i) => 2 * i) },
        { strays: new Map([[20, 9e9]]) },
      ].map((more) => {
        const findings: Finding[] = [];
        return [cleanTime(Float64Array.from(clock), findings, { file: "a.csv", ...more }), findings];
      }),
  ],
  [`${at(name)} stamps`, () => timeOfStamps(Float64Array.from(clock, (v) => 1e6 * v))],
  [
    `${at(name)} rate`,
    () => [
      timeAtRate(clock.length, clock),
      timeAtRate(clock.length, clock, 50),
      timeAtRate(clock.length, undefined, 100),
    ],
  ],
  [
    `${at(name)} seconds`,
    async () => {
      const told: unknown[] = [];
      for (const unit of ["s", "ms", undefined, "1", "furlong"]) {
        const findings: Finding[] = [];
        try {
          const axis = await timeInSeconds(
            Float64Array.from(clock),
            false,
            {
              index: 0,
              role: "time",
              unit,
              spelling: unit,
              unitStated: unit === "ms",
              unitProbability: 0.7,
              recognisedBy: "made",
            },
            tableOf(["t"], [clock]),
            findings,
          );
          told.push(axis, findings);
        } catch (error) {
          told.push(String(error));
        }
      }
      return told;
    },
  ],
];
const ofRows = (name: string, clock: Float64Array, k: number): Question[] => [
  [
    `${at(name)} resampled`,
    () => {
      const [, other] = Object.entries(clocks)[(k + 9) % 20];
      return [
        resampled(
          clock,
          clock.map((v) => 2 * v),
          other,
        ),
        resampled(
          clock,
          clock.map((_, i) => i % 3),
          other,
          true,
        ),
      ];
    },
  ],
  [
    `${at(name)} days`,
    () => {
      const days = Float64Array.from(clock, (v) => 8.64e10 * Math.floor(40 * v) + 1.7e15);
      return [
        settleDays(days),
        days,
        zeroed(
          Float64Array.from(clock, (v) => 1e6 * v + 1.7e15),
          { clock: false, apart: true },
          "t",
          "a.csv",
        ),
        zeroStamps(
          Float64Array.from(clock, (v) => 1e6 * v),
          true,
        ),
      ];
    },
  ],
  [
    `${at(name)} parts`,
    () =>
      [true, false].map((clocked) =>
        partsByClock(
          [
            { label: "a", rows: undefined },
            { label: "b", rows: Int32Array.from({ length: clock.length >> 1 }, (_, i) => 2 * i) },
          ],
          {
            time: clock,
            scale: 1,
            clocked,
            marks: [{ row: 25, by: "title", title: "second" }],
            others: [of(clock.length, (i) => i % 5)],
            file: "a.csv",
          },
        ),
      ),
  ],
];
const ofClocks = said("clocks", () =>
  Object.entries(clocks).flatMap(([name, clock], k) => [...ofTimes(name, clock), ...ofRows(name, clock, k)]),
);

const dates = [
  "2024-03-05",
  "2024/3/5",
  "05.03.2024",
  "5.3.24",
  "03/05/2024",
  "13/05/2024",
  "05/13/2024",
  "05-03-2024",
  "20240305",
  "05-Mar-2024",
  "Mar 5 2024",
  "5 March 2024",
  "2024-13-05",
  "2024-02-31",
  "00.00.2024",
  "12/31/99",
  "05-17",
  "17-05",
  "",
];
const times = [
  "14:05:06",
  "14:05:06.25",
  "14:05:06,125",
  "2:05:06 PM",
  "12:05:06 AM",
  "12:05 PM",
  "14:05",
  "140506",
  "05:06.789",
  "25:00:00",
  "1:02:03:456",
  "99:06.5",
  "",
];
const zones = ["", "Z", "+01:00", "-0530", "+02", " UTC"];
const ofStamps = said("stamps", () => [
  ...dates.flatMap((date, k): Question[] => [
    [
      `${k} joined`,
      () =>
        times.flatMap((time, j) =>
          ["", "T"].map((between) => {
            const text = `${date}${between || (date && time ? " " : "")}${time}${zones[(j + k) % zones.length]}`;
            const form = stampForm([text, text]);
            return [String(stampMoment(text)), form];
          }),
        ),
    ],
    [`${k} several`, () => stampForm([`${date} 10:00:00`, `${date} 10:00:01`, date, "n/a"])],
  ]),
  ["iso all", () => [0, 1, 999, 86399999, 951782400000, 1709647506250, -1, 8.64e15].map((ms) => isoOf(ms))],
]);

const texts = ["time", "speed rpm", "pos", "i_q [A]", "motor", "run", "U V", "n"];
interface Shaped {
  readonly name: string;
  readonly k: number;
  readonly clock: Float64Array;
  readonly values: Float64Array;
  readonly first: Float64Array;
  readonly second: Float64Array;
  readonly turned: Float64Array;
}
const devicesOf = ({ name, clock, values, first, second, turned }: Shaped): Question[] => {
  const table = tableOf(["time", "id", "speed", "current"], [clock, values, first, second]);
  return [
    [
      `${at(name)} late`,
      () => {
        const t = tableOf(texts.slice(0, 4), [clock, values, first, second]);
        return [
          lateColumns(t, new Map()),
          glanceAtTable(t, new Map()),
          worthReading(t, glanceAtTable(t, new Map()), new Map(), [2]),
          clockColumn(t, [], {}),
          t.columns.map(mayBeTime),
        ];
      },
    ],
    [`${at(name)} apart`, async () => Promise.all((await devicesApart(table)).map(contents))],
    [
      `${at(name)} turns`,
      () => [
        devicesInTurns(new Map([clock, values, first].map((v, i) => [i, v]))),
        devicesInTurns(
          new Map(
            [
              of(values.length, (i) => 0.01 * Math.floor(i / 3)),
              turned,
              values.map((_, i) => values[Math.floor(i / 3)] + 50 * (i % 3)),
            ].map((v, i) => [i, v]),
          ),
        ),
      ],
    ],
    [
      `${at(name)} wide`,
      async () =>
        contents(
          await wideTable(
            withWords(["time", "signal", "value"], [clock, turned, values], 1, [
              "speed rpm",
              "current A",
              "pos",
            ]),
          ),
        ),
    ],
    [
      `${at(name)} wide-clock`,
      async () =>
        contents(
          await wideTable(
            withWords(["time", "signal", "value"], [values, turned, first], 1, ["speed", "torque", "mode"]),
          ),
        ),
    ],
  ];
};
const partedClocks = ({ name, clock, values, first, second }: Shaped): Question[] => [
  [
    `${at(name)} merged`,
    async () =>
      contents(
        mergedRows(
          tableOf(
            ["time", "speed", "current"],
            [
              clock,
              values.map((v, i) => (i % 3 === 0 ? v : Number.NaN)),
              first.map((v, i) => (i % 3 === 1 ? v : Number.NaN)),
            ],
          ),
        ),
      ),
  ],
  [
    `${at(name)} seconds`,
    async () =>
      contents(
        oneSeconds(
          tableOf(
            ["stamp.sec", "stamp.nanosec", "v"],
            [values.map(Math.floor), first.map((v) => Math.abs(v) * 1e6), second],
          ),
        ),
      ),
  ],
  [
    `${at(name)} seconds-apart`,
    async () =>
      contents(
        oneSeconds(
          tableOf(
            ["sec", "usec", "v"],
            [
              of(values.length, (i) => Math.floor(i / 20)),
              of(values.length, (i) => 50000 * (i % 20)),
              values,
            ],
          ),
        ),
      ),
  ],
  [
    `${at(name)} days`,
    async () => contents(daysInSeconds(tableOf(["date", "v"], [clock.map((t) => 45000 + t / 864), values]))),
  ],
];
const severalClocks = ({ name, k, clock, values, first, second, turned }: Shaped): Question[] => [
  [
    `${at(name)} one-time`,
    async () =>
      contents(
        onOneTime(
          tableOf(
            ["time 1", "speed", "time 2", "current"],
            [clock, values, clock.map((t) => 1.5 * t + 0.003), first],
          ),
        ),
      ),
  ],
  [
    `${at(name)} one-time-odd`,
    async () =>
      contents(
        onOneTime(tableOf(["Speed X", "Speed Y", "Current X", "Current Y"], [clock, first, values, second])),
      ),
  ],
  [
    `${at(name)} joined`,
    async () =>
      contents(
        await joinChannels(
          [
            [clock, values],
            [clock.map((t) => t + 0.02), first],
            [values, second],
          ]
            .slice(0, 2 + (k % 2))
            .map((v, i) => ({ ...tableOf(["time", `ch ${i}`], v), path: `cap_CH${i + 1}.csv` })),
        ),
      ),
  ],
  [
    `${at(name)} split`,
    () =>
      [[1], [1, 2]].map((by) =>
        splitRows(
          { columns: [clock, values, turned], words: new Map(), origins: new Map(), findings: [] },
          [0, 1, 2],
          by.map(
            (index) =>
              ({
                index,
                role: "run",
                unit: undefined,
                spelling: undefined,
                unitStated: false,
                unitProbability: 1,
                recognisedBy: "made",
              }) as Choice,
          ),
          values.length,
        ),
      ),
  ],
];
const ofTables = said("tables", () =>
  long.flatMap(([name, values], k) => {
    const one: Shaped = {
      name,
      k,
      values,
      clock: of(values.length, (i) => 0.01 * i),
      first: next(k),
      second: next(k + 3),
      turned: of(values.length, (i) => i % 3),
    };
    return [...devicesOf(one), ...partedClocks(one), ...severalClocks(one)];
  }),
);

const channel = (role: ChannelRole, data: Float64Array): Channel => ({
  role,
  name: role,
  sourceUnit: "1",
  recognisedBy: "made",
  data,
});
const units = [
  "rad",
  "deg",
  "{rev}",
  "{count}",
  "%",
  "{rev}/min",
  "rad/s",
  "A",
  "mA",
  "V",
  "N.m",
  "cats",
  undefined,
];
const roles: readonly ChannelRole[] = [
  "position",
  "speed",
  "current",
  "torque",
  "voltage",
  "speedCommand",
  "duty",
];
const choice = (
  index: number,
  role: ChannelRole,
  unit: string | undefined,
  more: Partial<Choice> = {},
): Choice => ({
  index,
  role,
  unit,
  spelling: unit,
  unitStated: false,
  unitProbability: 0.6,
  recognisedBy: "made",
  ...more,
});

const ofMotion = (name: string, values: Float64Array, k: number): Question[] => {
  const clock = of(values.length, (i) => 0.01 * i);
  return [
    [
      `${at(name)} grid`,
      () => [
        gridOf(values),
        gridScore(gridOf(values), "rad"),
        gridScore(gridOf(values), "{count}"),
        gridScore(gridOf(values), undefined),
        encoderLinesFromGrid(channel("position", values)),
        encoderLinesFromGrid(
          channel(
            "position",
            values.map((v) => (2 * Math.PI * Math.round(100 * v)) / 4096),
          ),
        ),
      ],
    ],
    [
      `${at(name)} counted`,
      () => [
        ratioWhereCounted(values, next(k), clock),
        ratioWhereCounted(
          of(240, (i) => Math.round(values.slice(0, i).reduce((a, b) => a + b, 0))),
          values,
          clock,
        ),
      ],
    ],
    [
      `${at(name)} order`,
      () =>
        [next(k), values.map((v) => 0.5 * v)].flatMap((other) =>
          [240, 60, 30].map((rows) =>
            judgedByOrder(
              { speedCommand: channel("speedCommand", values), speed: channel("speed", other) },
              rows,
              () => 0.9,
            ),
          ),
        ),
    ],
  ];
};
const inSi = (name: string, values: Float64Array, k: number): Question[] => {
  const clock = of(values.length, (i) => 0.01 * i);
  const table = tableOf(["t", "pos", "speed"], [clock, values, next(k)], {
    facts: { encoder: { lines: 500 } },
  });
  return [
    [
      `${at(name)} si`,
      async () => {
        const told: unknown[] = [];
        for (const [j, unit] of units.entries())
          for (const stated of [true, false]) {
            const findings: Finding[] = [];
            try {
              told.push(
                await channelInSi(
                  {
                    raw: Float64Array.from(values),
                    mine: false,
                    choice: choice(1, roles[(j + k) % roles.length], unit, {
                      unitStated: stated,
                      ...(j % 4 === 1 ? { scale: { factor: 0.1, zero: 3 } as never } : {}),
                    }),
                    table,
                    stated: {
                      lines: j % 2 === 0 ? 500 : undefined,
                      drive: {},
                      machine: {},
                      encoder: {},
                    } as never,
                  },
                  findings,
                ),
                findings,
              );
            } catch (error) {
              told.push(String(error));
            }
          }
        return told;
      },
    ],
    [
      `${at(name)} lines`,
      async () => {
        const speed = values;
        const counts = of(240, (i) => Math.round(40 * speed.slice(0, i).reduce((a, b) => a + b, 0)));
        const findings: Finding[] = [];
        const choices = [choice(1, "position", "{count}"), choice(2, "speed", "rad/s")];
        const columns = [clock, counts, speed];
        return [
          await linesFromSpeed(
            { table, choices, at: ({ index }) => columns[index], time: clock, timeSure: true },
            findings,
          ),
          await linesFromSpeed(
            { table, choices, at: ({ index }) => columns[index], time: clock, timeSure: false },
            findings,
          ),
          findings,
        ];
      },
    ],
    [
      `${at(name)} interval`,
      async () => {
        const { columns } = understandTable(
          tableOf(["angle rad", "speed rad/s"], [values, next(k)]),
          new Map([values, next(k)].map((v, i) => [i, v])),
          new Map(),
        );
        return intervalFromMotion(columns, (i) => [values, next(k)][i]);
      },
    ],
    [
      `${at(name)} unscaled`,
      () => [
        roles.map((role) => unscaledChannel(values, choice(1, role, "%"), table)),
        scaled(values, 2, 3, false),
      ],
    ],
  ];
};
const ofAnswers = (): Question[] => [
  [
    "answers all",
    () => {
      const table = tableOf(["speed", "speed", "a b", "", 'x"y']);
      return [0, 1, 2, 3, 4].map((k) =>
        [
          mapAnswer(table, k, "speed"),
          mapAnswer(table, k, "speed", ["current", "torque"]),
          unitAnswer(table, k, "A"),
          unitAnswer(table, k, "A", true),
        ].map((one) => [one, answerText(one), answerArguments(one)]),
      );
    },
  ],
  [
    "answers contradict",
    () => {
      const table = tableOf(texts);
      return texts.map((_, k) =>
        (["speed", "position", "current", "time", "run", "speedCommand"] as const).map((role) => [
          contradicts(table, k, role),
          contradicts(table, k, role, "speed"),
        ]),
      );
    },
  ],
  [
    "answers counts",
    () =>
      [96, 100, 400, 1000, 1024, 3999, 4000, 4096, 8000, 65536, 40, 523].flatMap((turn) =>
        [0.01, 0.4, 3, 40].map((half) => usualCountAbove(turn, half)),
      ),
  ],
];
const ofChannels = said("channels", () => [
  ...long.flatMap(([name, values], k) => [...ofMotion(name, values, k), ...inSi(name, values, k)]),
  ...ofAnswers(),
]);

/** All of them. */
export const columnWorkings: readonly Case[] = [ofClocks, ofStamps, ofTables, ofChannels];
