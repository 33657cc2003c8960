/** One log of a simulated rig in the habits of many loggers: rows out of order, clocks that wrap, tables of signals. */
import { machines, runTrial } from "../corpus/rig.js";
import { type Case, text } from "./cases.js";

interface Row {
  readonly k: number;
  readonly t: number;
  readonly cmd: string;
  readonly w: string;
  readonly i: string;
  readonly p: string;
  readonly counts: number;
}

const signals = runTrial("speed", machines.small, 7);
const rows: readonly Row[] = Array.from(signals.time, (t, k) => ({
  k,
  t,
  cmd: signals.speedCommand[k].toFixed(1),
  w: signals.speed[k].toFixed(2),
  i: signals.current[k].toFixed(3),
  p: signals.position[k].toFixed(4),
  counts: Math.round((signals.position[k] * 2048) / (2 * Math.PI)),
})).filter(({ k }) => k % 5 === 0);

const heading = "time [s],speed command [rad/s],speed [rad/s],current [A],position [rad]";
const plain = ({ t, cmd, w, i, p }: Row, time = t.toFixed(3)): string => `${time},${cmd},${w},${i},${p}`;
const table = (name: string, lines: readonly string[], options = {}): Case =>
  text(`quirk: ${name}`, "log.csv", () => `${lines.join("\n")}\n`, options, true);
const timed = (name: string, of: (row: Row, at: number) => string | number): Case =>
  table(name, [heading, ...rows.map((row, at) => plain(row, String(of(row, at))))]);

const two = (digits: number): string => String(digits).padStart(2, "0");
const clock = (t: number, hour = 11): string => {
  const s = t + 58;
  return `${hour}:${two(59 + Math.floor(s / 60) - 1)}:${(s % 60).toFixed(3).padStart(6, "0")}`;
};

const clocks = [
  timed("strays and holes in the clock", ({ t }, at) =>
    at === 40 ? 9e5 : at === 90 ? "" : at === 120 ? 0 : t,
  ),
  timed("a clock of milliseconds in a register", ({ t }) => (64000 + Math.round(1000 * t)) % 65536),
  timed("seconds within the minute", ({ t }) => ((57 + t) % 60).toFixed(3)),
  timed("a clock that begins anew", ({ t }, at) => (at < 70 ? t : t - rows[70].t).toFixed(3)),
  timed("a clock set ahead", ({ t }, at) => (at < 70 ? t : t + 7200).toFixed(3)),
  timed("a clock that counts down", ({ t }) => (9 - t).toFixed(3)),
  timed("stamps of one day", ({ t }) => `2024-05-03 ${clock(t)}`),
  timed("stamps with slashes", ({ t }) => `03/05/2024 ${clock(t)}`),
  timed("stamps with AM and PM", ({ t }) => `05/03/2024 ${clock(t)} AM`),
  timed("stamps with points", ({ t }) => `03.05.2024 ${clock(t)}`),
  timed("days as a workbook counts them", ({ t }) => (45415.5 + t / 86400).toFixed(9)),
  timed("seconds after 1970", ({ t }) => (1714732318 + t).toFixed(3)),
  timed("whole seconds only", ({ t }) => Math.floor(3 * t)),
  table("rows newest first", [heading, ...[...rows].reverse().map((row) => plain(row))]),
  table("rows of a ring buffer", [
    heading,
    ...[...rows.slice(60), ...rows.slice(0, 60)].map((row) => plain(row)),
  ]),
  table("rows sorted by speed", [
    heading,
    ...[...rows].sort((a, b) => Number(a.w) - Number(b.w)).map((row) => plain(row)),
  ]),
  table("some rows written late", [
    heading,
    ...rows.map((_, at) => plain(rows[at % 20 === 7 ? at + 1 : at % 20 === 8 ? at - 1 : at])),
  ]),
  table("seconds and microseconds apart", [
    "sec,usec,speed [rad/s],current [A]",
    ...rows.map(({ t, w, i }) => `${1714732318 + Math.floor(t)},${Math.round(1e6 * (t % 1))},${w},${i}`),
  ]),
  table("date and time apart", [
    "date;time;speed rpm;current A",
    ...rows.map(({ t, w, i }) => `03.05.2024;${clock(t)};${w};${i}`),
  ]),
];

const forms = [
  table("one signal a row", [
    "time,signal,value,unit",
    ...rows.flatMap(({ t, cmd, w, i }) => [
      `${t.toFixed(3)},speed_cmd,${cmd},rad/s`,
      `${t.toFixed(3)},speed,${w},rad/s`,
      `${(t + 0.001).toFixed(3)},iq,${i},A`,
    ]),
  ]),
  table("one signal a row, of two sources, without units", [
    "time,source,signal,value",
    ...rows.flatMap(({ t, cmd, w, i }, at) => [
      `${t.toFixed(3)},m${1 + (at % 2)},speed_cmd,${cmd}`,
      `${t.toFixed(3)},m${1 + (at % 2)},speed,${w}`,
      `${t.toFixed(3)},m${1 + (at % 2)},iq,${i}`,
    ]),
  ]),
  table("two devices in turns", [
    "time [s],id,speed [rad/s],current [A]",
    ...rows.flatMap(({ t, w, i }, at) => [
      `${t.toFixed(3)},1,${w},${i}`,
      `${t.toFixed(3)},2,${rows[rows.length - 1 - at].w},${rows[rows.length - 1 - at].i}`,
    ]),
  ]),
  table("devices by name, block after block", [
    "time [s],drive,speed [rad/s],current [A]",
    ...rows.slice(0, 90).map(({ t, w, i }) => `${t.toFixed(3)},left,${w},${i}`),
    ...rows.slice(0, 90).map(({ t, w, i }) => `${t.toFixed(3)},right,-${w},-${i}`.replaceAll("--", "")),
  ]),
  table("a run and a motor in columns", [
    "run,motor,ordering,time [s],speed command [rad/s],speed [rad/s]",
    ...rows.map(
      ({ t, cmd, w }, at) =>
        `${at < 90 ? 1 : 2},M7,${at < 90 ? "UVW" : "UWV"},${(t % 2.25).toFixed(3)},${cmd},${w}`,
    ),
  ]),
  table("rows of topics merged", [
    "time,speed,current,position",
    ...rows.map(
      ({ t, w, i, p }, at) =>
        `${t.toFixed(3)},${at % 3 === 0 ? w : ""},${at % 3 === 1 ? i : ""},${at % 3 === 2 ? p : ""}`,
    ),
  ]),
  table("pairs of X and Y", [
    "Speed X,Speed Y,Current X,Current Y",
    ...rows.map(({ t, w, i }) => `${t.toFixed(3)},${w},${(t + 0.002).toFixed(3)},${i}`),
  ]),
  table("columns that begin late and stay empty", [
    "time [s],speed [rad/s],current [A],nothing,torque [Nm]",
    ...rows.map(
      ({ t, w, i }, at) =>
        `${t.toFixed(3)},${w},${at < 100 ? "" : i},,${at < 30 ? "" : (0.03 * Number(i)).toFixed(4)}`,
    ),
  ]),
  table("letters for phases, and three-phase voltages", [
    "t[s] R[A] S[A] T[A] L1[V] L2[V] L3[V] n[rpm]",
    ...rows.map(({ t, w }, at) => {
      const wave = (k: number): string => (2 * Math.cos(at / 3 + (k * 2 * Math.PI) / 3)).toFixed(3);
      return `${t.toFixed(3)} ${[0, 1, 2, 0, 1, 2].map(wave).join(" ")} ${w}`;
    }),
  ]),
  table("counts, and a speed that tells the lines", [
    "time [s],counts,speed [rpm]",
    ...rows.map(
      ({ t, w, counts }) => `${t.toFixed(3)},${counts},${((Number(w) * 60) / (2 * Math.PI)).toFixed(1)}`,
    ),
  ]),
  table("counts that wrap, no clock, and a speed", [
    "sample,counts,speed [rad/s]",
    ...rows.map(({ w, counts }, at) => `${at},${((counts % 65536) + 65536) % 65536},${w}`),
  ]),
  table("percent of ratings without them", [
    "time [s],speed ref [%],speed act [%],torque [%]",
    ...rows.map(
      ({ t, cmd, w, i }) =>
        `${t.toFixed(3)},${(Number(cmd) / 3).toFixed(1)},${(Number(w) / 3).toFixed(1)},${(25 * Number(i)).toFixed(1)}`,
    ),
  ]),
  table(
    "no clock at all",
    ["speed command [rad/s],speed [rad/s],current [A]", ...rows.map(({ cmd, w, i }) => `${cmd},${w},${i}`)],
    { withoutClock: true },
  ),
  table("words and states", [
    "time [s],mode,state,speed [rad/s],note",
    ...rows.map(
      ({ t, w }, at) =>
        `${t.toFixed(3)},${at < 40 ? "idle" : "run"},${at % 50 === 0 ? "FAULT" : "OK"},${w},${at === 7 ? "knocked the bench" : ""}`,
    ),
  ]),
];

const options = [
  table(
    "stated by a person",
    ["a,b,c,d", ...rows.map(({ t, cmd, w, i }) => `${t.toFixed(3)},${cmd},${w},${i}`)],
    {
      map: { time: "a", speedCommand: "#2", speed: "c", current: "d" },
      unit: { speed: "{rev}/min", "#2": "{rev}/min", d: "0.05 A from 2" },
    },
  ),
  table("stated wrongly", [heading, ...rows.map((row) => plain(row))], {
    map: { speed: "nowhere", wind: "#2", current: "#4" },
    unit: { position: "furlong", "#9": "A" },
    ignore: ["speed command [rad/s]", "#7"],
  }),
  table(
    "a counter and a stated rate",
    ["n,speed [rad/s],pos", ...rows.map(({ w, counts }, at) => `${at},${w},${counts}`)],
    {
      rate: 40,
      encoder: { lines: 512 },
      drive: { encoderLines: 512, polePairs: 4 },
    },
  ),
  table(
    "numbers without any heading",
    rows.map((row) => plain(row)),
  ),
  table(
    "a descriptor's facts beside percent",
    [
      "t;Iq %;n %",
      ...rows.map(
        ({ t, w, i }) => `${t.toFixed(3)};${(20 * Number(i)).toFixed(1)};${(Number(w) / 4).toFixed(2)}`,
      ),
    ],
    {
      unit: { "Iq %": "0.04 A", "n %": "4 rad/s" },
      map: { current: "Iq %", speed: "n %" },
    },
  ),
];

/** All of them. */
export const quirks: readonly Case[] = [...clocks, ...forms, ...options];
