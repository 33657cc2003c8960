/**
 * How whole tables are understood: every table of headings of the corpus, by its headings alone and with rows of a
 * simulated rig; tables drawn from the headings of many hands; and headings whose meaning shows in those beside them.
 * What was found stands as a few letters for each step.
 */
import { readHeadings } from "../../lib/recording/columns/headings.js";
import { blocksOf, breaksOfClock, breaksOfMotion, motionOf } from "../../lib/recording/columns/runBreaks.js";
import { stemRelations } from "../../lib/recording/columns/stemRelations.js";
import { seenOf, understood, whatTableSays } from "../../lib/recording/columns/understand.js";
import { sidesByLetter, wordsBesideOthers } from "../../lib/recording/columns/wordsBesideOthers.js";
import type { SourceColumn, SourceTable } from "../../lib/recording/formats/sourceTable.js";
import { codeTables } from "../corpus/codeTables.js";
import { headingTables, moreHeadingTables } from "../corpus/headingTables.js";
import { heldTables, publicTables } from "../corpus/publicTables.js";
import { type HeadingTable, writeTable } from "../corpus/writeTable.js";
import { uniforms } from "../house/uniforms.js";
import { fewLetters } from "./answerLines.js";
import type { Case } from "./cases.js";
import { bank } from "./inner.js";

const said = (name: string, answer: () => string[]): Case => ({
  name: `hands: ${name}`,
  give: () => ({ recordings: [] }),
  answer,
});
const four = (value: number): number => Number(value.toPrecision(4));
const safe = (text: string): string => text.replaceAll(":", ";").replaceAll(/\s+/g, " ");

/** A table of columns; of their values the kind is told. */
export function tableOf(
  names: readonly string[],
  values: readonly Float64Array[] = [],
  more: Partial<SourceTable> = {},
): SourceTable {
  const columns = names.map(
    (name, k): SourceColumn => ({
      name,
      kind: values[k]?.every(Number.isNaN) ? "empty" : "number",
      samples: Array.from(values[k]?.slice(0, 3) ?? [], String),
    }),
  );
  return {
    path: "table.csv",
    format: "CSV",
    columns,
    findings: [],
    read: async (at) => ({
      columns: at.map((k) => values[k]),
      words: new Map(),
      origins: new Map(),
      findings: [],
    }),
    ...more,
  };
}

/** What is found of a table: of its headings, of each column, of columns together, and what all was taken for. */
function found(name: string, table: SourceTable, values: readonly Float64Array[] = []): string {
  const given = new Map(values.map((v, k) => [k, v] as const));
  const headings = table.columns.map((c) => c.name);
  const read = readHeadings(table, new Map());
  const names = read.names.map(({ score, ...rest }) => [
    rest,
    [...score].map(([role, log]) => `${role} ${log.toFixed(3)}`).sort(),
  ]);
  const seen = seenOf(table, given, new Map());
  const own = seen.own.map((list) =>
    list.map((h) => [h.role, h.unit, four(h.name), four(h.units), four(h.numbers), four(h.habit)]),
  );
  const relations = seen.allRelations.map(({ columns, family, mutual, text, score }) => [
    columns,
    family,
    mutual,
    text,
    columns.length === 2 &&
      seen.own[columns[0]]
        .slice(0, 9)
        .flatMap((a) => seen.own[columns[1]].slice(0, 9).map((b) => four(score([a, b])))),
  ]);
  const all = understood(seen);
  const roles = all.columns.map(
    ({ role, unit, probability }) => `${role ?? "-"} ${unit ?? "-"} ${probability.toFixed(2)}`,
  );
  const says = [...whatTableSays(table, given, new Map(), all)].map(([key, { heading, whole, still }]) => [
    key,
    [...heading].map(([meaning, p]) => `${meaning} ${p.toFixed(3)}`),
    [...whole].map(([meaning, p]) => `${meaning} ${p.toFixed(3)}`),
    still,
  ]);
  const stems = stemRelations(read.stems, seen.whole, table).map(({ columns, text }) => [columns, text]);
  const letters = [
    [wordsBesideOthers(headings), sidesByLetter(headings)],
    [read.headings, read.unitTrust, read.length],
    names,
    [read.groups, read.stems, stems],
    own,
    [relations, seen.sight.time, seen.whole.map(({ wrap }) => wrap)],
    [all, says],
  ].map((part) => fewLetters(part));
  return `${safe(name)}: ${roles.join(", ")} ${letters.join(" ")}`;
}

const tables = [...headingTables, ...moreHeadingTables, ...codeTables, ...publicTables, ...heldTables];
const headingsOf = ({ columns }: HeadingTable): string[] =>
  columns
    .trim()
    .split("\n")
    .map((line) => line.slice(0, line.lastIndexOf(" = ")).trim());
const inParts = <T>(list: readonly T[], size: number): (readonly T[])[] =>
  Array.from({ length: Math.ceil(list.length / size) }, (_, k) => list.slice(size * k, size * (k + 1)));

const alone = inParts(tables, 20).map((some, k) =>
  said(`headings alone, ${k + 1}`, () => some.map((table) => found(table.habit, tableOf(headingsOf(table))))),
);

/** Some rows of a written table. */
function rowsOf(table: HeadingTable, rows: number): Float64Array[] {
  const delimiter = table.delimiter ?? ",";
  const lines = writeTable(table, 3).text.trim().split("\n").slice(1);
  const every = Math.max(1, Math.floor(lines.length / rows));
  const cells = lines.filter((_, k) => k % every === 0).map((line) => line.split(delimiter).map(Number));
  return headingsOf(table).map((_, k) => Float64Array.from(cells, (row) => row[k]));
}
const kept = new Map<HeadingTable, Float64Array[]>();
const rowsKept = (table: HeadingTable): Float64Array[] => {
  const rows = kept.get(table) ?? rowsOf(table, 90);
  kept.set(table, rows);
  return rows;
};
/** Tables whose rows show what the others do not. */
const telling = new Set([0, 8, 9, 10, 12, 14]);
const withRows = inParts(tables, 10)
  .filter((_, k) => telling.has(k))
  .map(
    (some, k): Case => ({
      ...said(`headings and rows, ${k + 1}`, () =>
        some.flatMap((table) => {
          const [names, values] = [headingsOf(table), rowsKept(table)];
          const channels = names.map((_, i) => `CH${i + 1}`);
          return [
            found(table.habit, tableOf(names, values), values),
            found(`${table.habit}, channels`, tableOf(channels, values), values),
          ];
        }),
      ),
      prepare: () => some.forEach(rowsKept),
    }),
  );

const pool = [...new Set(tables.flatMap(headingsOf))];
const drawn = Array.from({ length: 12 }, (_, k) =>
  said(`drawn tables, ${k + 1}`, () => {
    const random = uniforms(900 + k);
    return Array.from({ length: 20 }, (__, j) => {
      const names = Array.from(
        { length: 2 + Math.floor(6 * random()) },
        () => pool[Math.floor(pool.length * random())],
      );
      return found(`table ${j + 1}`, tableOf(names));
    });
  }),
);

/** Headings beside each other that say what the others mean. */
const beside =
  `wl|wr;wl_meas|wr_meas|wl_cmd;wl_cur|wr_cur;thl|thr|oml;vl|vr|il;w|x|y;w|x|y|u;w|x|y|r;u|r;u|e|y;u|y|v;u|i|y;P|I|D;p_out|i_out|d_out;P|I
  ;speedr|speed;speedl|speedr|speed;iq_c|iq;iq_a|iq_c|iq;tpos|pos;lpos|rpos|pos;cvel|vel;rspeed|lspeed|speed;nt|n;notec|note;i_w|i;i_w|i_u|i_v|i;n_w|n;nw|nx
  ;phi_w|phi;omega_w|omega_x;id|iq;id|speed;id|i_q;ID|Iq_ref;i_d|current;x|y|z;ax|ay|az;pos_x|pos_y|vel_x;px|py|pz|vx|vy|vz;is|if|ns;u_a|i_a|n;Ua|Ia;ua|ub|uc;i_a|i_b|i_c
  ;ia|ib|n|t;nsoll|nist;nr|n;M|n;m|n|t;T|n|t;t|T;t|th|w|i;U|I|P;U|I|n|M;V|A|W|RPM;A|V;actual position|position;position|target;set|act;set|actual|speed;ist|soll;Soll1|Ist1|Soll2|Ist2
  ;iq|it;it|im;torque current|flux current;present current|goal current;present position|goal position|A;pres_pos|goal_pos;pterm|iterm|dterm|output;P|I|D|FF;Kp|Ki|Kd|error
  ;i_min|i_max|i_avg;speed min|speed max|speed mean;v_min|v_max;temp min|temp avg;thrust|voltage|current;Thrust (g)|V|A|rpm;Schub N|Strom|Spannung;thrust kgf|motor current|bus voltage
  ;thrust %|current;setpoint|speed;setpoint|actual;actual|current;command|feedback|position;cmd|fb;ref|out;ref|pos|vel;demand|velocity rpm;target|measured|error;input|output;in|out|rpm
  ;left_cmd|right_cmd|left_vel|right_vel;m1|m2;M1 speed|M2 speed|M1 current|M2 current;axis1|axis2|time;A1_pos|A2_pos|A3_pos;FL|FR|RL|RR;q1|q2|q3|dq1|dq2|dq3;tau1|tau2|tau3;joint_1|joint_2|joint_3
  ;q|qd|qdd|tau;q|dq|u;theta|omega|alpha|T;theta|theta_dot;x|xdot|F;pos|vel|acc|eff;position|velocity|effort;angle|rate;ang|angvel|pwm;enc|pwm;enc1|enc2|pwm1|pwm2;ticks|duty;cnt|volt
  ;u1|u2|u3|i1|i2|i3;U1|V1|W1;R|S|T|n;L1|L2|L3|I1|I2|I3;Iu|Iv|Iw|Vdc;i_alpha|i_beta|theta_e;vd|vq|id|iq|we;Speed X|Speed Y;X|Y;X1|Y1|X2|Y2;time|X|Y
  ;current (A)|current (A);speed|speed;rpm|rpm_1|rpm_2;pos|pos filtered|pos raw;iq raw|iq filt;speed est|speed meas;observer speed|encoder speed;Hall A|Hall B|Hall C;hall1|hall2|hall3|rpm
  ;F_L|F_R;i|u|n|phi;i|n|m;s|v|a;s|v|F;z|v;r|y|u|e;r(t)|y(t)|u(t);t|r|y|u;k|u|y;t;n;i;current;id;w;value;value|unit;time|value|name;time|speed|speed;timestamp|status|error|mode
  ;mode|current|voltage|power;bus current|phase current;battery voltage|current;supply|motor;input current|output current;Vin|Vout|Iout;DC V|DC A|AC A;motor temp|drive temp;T1|T2|T3;T_mot|T_amb|M
  ;Drehzahl|Moment|Leistung;Sollwert|Istwert|Stellgröße;Führungsgröße|Regelgröße;consigne|mesure|commande;referencia|salida|control;目標|実際;设定|实际;задание|скорость|ток`
    .split(";")
    .map((list) => list.split("|").map((one) => one.trim()));
const pairsBeside = inParts(beside, 60).map((some, k) =>
  said(`headings beside each other, ${k + 1}`, () => [
    ...some.map((names) => found(names.join(" "), tableOf(names))),
    ...some.map((names) => found(`${names.join(" ")} later`, tableOf(["time [s]", ...names, "speed [rpm]"]))),
  ]),
);

/** Two columns of the bank side by side, with and without a clock. */
const shapes = [...bank()].filter(([, values]) => values.length > 100);
const sideBySide = inParts(shapes, 6).map((some, k) =>
  said(`columns side by side, ${k + 1}`, () =>
    some.flatMap(([name, values], j) => {
      const clock = shapes.find(([one]) => one === "clock")?.[1] ?? values;
      const other = [1, 5, 11].map((step) => shapes[(6 * k + j + step) % shapes.length]);
      const bare = [values, ...other.map(([, v]) => v)];
      const timed = [clock, ...bare];
      return [
        found(`${name} bare`, tableOf(["a", "b", "c", "d"], bare), bare),
        found(`${name} with a clock`, tableOf(["t", "speed", "pos", "i", "cmd"], timed), timed),
        found(
          `${name} of motion`,
          tableOf(["time ms", "speed cmd", "speed rpm", "torque", "duty"], timed),
          timed,
        ),
        found(`${name} without names`, tableOf(["", "", "", ""], bare, { nameless: true }), bare),
      ];
    }),
  ),
);

/** Where a table begins anew, as clocks and motions show it. */
const breaks = said("where runs begin", () => {
  const blocky = shapes.flatMap(([name, values]) => {
    const some = [1, 2, 5, 40].flatMap((fewest) =>
      [2, 6, 8, 300].map((most) => blocksOf(values, fewest, most)),
    );
    return `${name}: ${some.map((blocks) => blocks?.length ?? "-").join(" ")} ${fewLetters(some)}`;
  });
  const clocks: Readonly<Record<string, (k: number) => number>> = {
    even: (k) => k / 64,
    "anew at 50": (k) => (k % 50) / 64,
    "anew at 50 and 70": (k) => (k < 50 ? k : k < 70 ? k - 50 : k - 70) / 64,
    "a pause of two": (k) => (k < 50 ? k : k + 1) / 64,
    "a pause of three": (k) => (k < 50 ? k : k + 2) / 64,
    "a pause of four": (k) => (k < 50 ? k : k + 3) / 64,
    "pauses everywhere": (k) => (k + 5 * Math.floor(k / 10)) / 64,
    "standing at 50": (k) => (k < 50 ? k : k - 1) / 64,
    holes: (k) => (k % 7 === 3 ? Number.NaN : k / 64),
  };
  const motions: Readonly<Record<string, (k: number) => number>> = {
    still: () => 3,
    slow: (k) => k / 8,
    "a leap at 50": (k) => k / 8 + (k < 50 ? 0 : 9),
    "a leap of four steps": (k) => (k < 50 ? k : k + 3) / 8,
    "a leap of five steps": (k) => (k < 50 ? k : k + 4) / 8,
    "leaps at 50 and 70": (k) => k / 8 + (k < 50 ? 0 : k < 70 ? 9 : -9),
    "leaps everywhere": (k) => k / 8 + 9 * (Math.floor(k / 5) % 2),
    "rest, then motion": (k) => (k < 40 ? 0 : k < 60 ? 5 : k < 80 ? 0.2 : 1),
    "rest of a place": (k) => (k < 40 ? 2 : Math.min(k, 60)),
  };
  const of = (f: (k: number) => number): Float64Array => Float64Array.from({ length: 100 }, (_, k) => f(k));
  const starts = [[50], [50, 70], [1, 50], [49, 51], [10, 20, 30]];
  return Object.entries(clocks)
    .flatMap(([clock, t], n) =>
      Object.entries(motions).flatMap(([motion, v]) => {
        const names = ["time", n % 2 === 0 ? "speed rpm" : "position rad", "speed command rpm"];
        const values = [of(t), of(v), of((k) => (k < 40 ? 0 : k < 80 ? 100 : -100))];
        const seen = seenOf(tableOf(names, values), new Map(values.map((one, k) => [k, one])), new Map());
        const chosen = seen.own.map((list) => [...list].sort((a, b) => b.score - a.score)[0]);
        const whole = { facts: seen.whole, chosen, values: seen.given };
        const parts = [new Set<number>(), new Set([1]), new Set([2]), new Set([1, 2])].map((left) => {
          const one = motionOf(whole, left);
          const rest = values[0].map((_, k) => Number(one.atRest(k)));
          const moving = [0, 20, 39, 40, 60, 79].map((from) => one.moves({ from, to: from + 20, value: 0 }));
          return [
            starts.map((s) => breaksOfClock(one, s)),
            starts.map((s) => breaksOfMotion(one, s)),
            Array.from(rest),
            moving,
          ];
        });
        const [first] = parts;
        return `${clock}, ${motion}: ${[first[0], first[1]].map((b) => (b as boolean[][]).map((s) => s.map(Number).join("")).join("/")).join(" ")} ${parts.map((p) => fewLetters(p)).join(" ")}`;
      }),
    )
    .concat(blocky);
});

/** All of them. */
export const handCases: readonly Case[] = [
  ...alone,
  ...withRows,
  ...drawn,
  ...pairsBeside,
  ...sideBySide,
  breaks,
];
