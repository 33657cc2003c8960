/** The cases whose answers are recorded: chosen for the lines of the library that they reach, and for being quick. */
import { codeTables } from "../corpus/codeTables.js";
import { headingTables, moreHeadingTables } from "../corpus/headingTables.js";
import { heldTables, publicTables } from "../corpus/publicTables.js";
import { bench, type Case, dc, headings, joint, rig, servo, set, stored } from "./cases.js";
import { columnWorkings } from "./columnWorkings.js";
import { handCases } from "./hands.js";
import { innerCases } from "./inner.js";
import { motionCases } from "./motions.js";
import { quirks } from "./quirks.js";
import { responseCases } from "./responses.js";
import { routes } from "./routes.js";
import { variants } from "./variants.js";
import { wordCases } from "./words.js";
import { workingCases } from "./workings.js";

const tables = [...headingTables, ...moreHeadingTables, ...codeTables, ...publicTables, ...heldTables];

/** A table of headings of the corpus, by its habit. */
function habit(name: string): Case {
  const table = tables.find((one) => one.habit === name);
  if (table === undefined) throw new Error(`no table of headings has the habit ${name}`);
  return headings(table, 300, 4);
}

/** Habits of headings. */
const named = [
  "Vietnamese thesis",
  "steps of a hand-held tachometer",
  "process trend",
  "wheels of a robot",
  "German table of a machine",
  "two motors, numbered, units after",
  "phase currents and encoder",
  "slip of an induction motor",
  "speed from a tracking loop",
  "bench book of an apprentice",
  "fast log of a current loop",
  "throttle and three currents",
  "wheels of a robot, capital side letters",
  "angle, target and inner speed",
  "step trace in thousandths",
  "power analyser beside a torque flange",
  "Chinese servo studio",
  "bicycle drive bench",
  "sentences",
  "Russian, transliterated",
  "observer log with capital letters",
  "electric vehicle log",
  "CANopen drive profile (CiA 402) object names",
  "drive parameters by number",
  "French laboratory",
  "Portuguese notes",
  "Japanese servo monitor",
  "Russian bench",
  "simulation signals",
  "FOC library monitor",
  "camel case of a program",
  "torque test, lead order in the name",
  "Greek letters",
  "data logger with a device name on all columns",
  "Swedish and Danish mixed shop",
  "actuator bench with both sides",
  "step response of a student",
  "English abbreviations, dots",
  "Matlab-like names",
  "Hungarian and Romanian plant",
  "capitals without separators",
  "thrust stand",
  "Japanese notes",
  "desktop window that saves gains beside values",
  "Indonesian words",
  "joint of an arm, desired and actual",
  "dots spelled out",
  "smart servo",
  "two wheels, filtered and raw",
  "process words",
  "exoskeleton sensors",
  "trajectory with errors in the middle",
  "Spanish program with a derived speed",
  "German display",
  "encoder ticks at the wheels of a rover",
  "time in relative, Indonesian",
  "simulated three-phase machine",
  "phase currents with a local reference",
  "Spanish words around RPM",
  "letters of the block diagram",
  "school robot, sides by words",
  "estimator beside the measurement",
];

/** Rigs of the judging bench, by their seeds. */
const rigs = [
  9, 11, 13, 18, 24, 28, 31, 32, 37, 42, 44, 58, 68, 72, 77, 79, 83, 89, 92, 93, 96, 97, 98, 109, 110,
].map(rig);

const benches = [
  bench(7, "offset-half-turn", "torque"),
  bench(8, "offset-half-turn", "speed"),
  bench(21, "current-not-following", "torque"),
  bench(26, "encoder-stuck", "speed"),
  bench(33, "none", "hand"),
  bench(34, "none", "sweep"),
  bench(37, "leads-exchanged", "hand"),
  bench(38, "leads-exchanged", "sweep"),
  bench(42, "pole-pairs", "sweep"),
  bench(43, "pole-pairs", "coast"),
  bench(47, "line-count", "coast"),
  bench(50, "jam", "sweep"),
  bench(71, "none", "torque", "motion missing for a seventh"),
  bench(83, "none", "torque", "motion filtered by 60 ms"),
  bench(90, "none", "speed", "motion clipped at half"),
  bench(95, "none", "torque", "single rows with false values"),
  bench(101, "none", "torque", "motion in thirty coarse steps"),
];

const motors = [
  servo(3, "steps", "plain"),
  servo(4, "plateau", "voltages", 0.4),
  servo(5, "plateau", "torque"),
  servo(11, "ramp", "torque"),
  servo(12, "ramp", "plain"),
  servo(30, "ramp", "torque", -2.2),
  dc(1, "step", ["voltage", "current", "speed"]),
  dc(2, "step", ["duty", "speed"], 0.005),
  dc(13, "slow", ["voltage", "current", "speed"]),
  dc(16, "slow", ["voltage", "current", "speed", "position"]),
  joint(1),
  set(7),
];

const habits = named.map(habit);

/** Files of strangers. */
const corpus = [
  "a/Haltemoment_Kraftmessdose.csv",
  "a/LOG0042.CSV",
  "a/WFM_drill_3phases.csv",
  "a/align_sweep.csv",
  "a/arm_goes_crazy.txt",
  "a/coastdown.dat",
  "a/combined.csv",
  "a/encoder_ticks_run3.csv",
  "a/gain_tuning.csv",
  "a/kardan_achse.txt",
  "a/ride_snip.csv",
  "a/sens_inverse_v2.csv",
  "a/tests_thursday.txt",
  "a/uart_dump.txt",
  "b/Kt_hold_test_S12.csv",
  "b/Trend_Achse1_2023-03-14.csv",
  "b/abc_currents_after_rewind.csv",
  "b/aufzeichnung_wickler.csv",
  "b/booster_pump_events.csv",
  "b/courbe_variateur_tapis.csv",
  "b/drive_trace_0007.csv",
  "b/logger_ch_shunt.dat",
  "b/nothing happens.csv",
  "b/order_WVU",
  "b/trace_spindle.csv",
].map((name) => stored(name, [`tests/corpus/files/${name}`]));

/** One log in many dialects. */
const dialects = ["german-stamps.csv", "no-header.csv", "runs.csv", "sample-counter.csv"].map((name) =>
  stored(name, [`tests/recording/files/${name}`]),
);

/** The shipped set. */
const shipped = ["wuv"].map((name) =>
  stored(`parcel sorter ${name}`, [`datasets/parcel-sorter/order-${name}.csv`]),
);

/** What takes long alone, and shows in its routes what others show. */
const long = new Set([
  "servo 5 plateau torque",
  "servo 11 ramp torque",
  "bench 95 none torque (single rows with false values)",
]);

/** All of them. */
export const cases: readonly Case[] = [
  ...rigs,
  ...benches,
  ...motors,
  ...habits,
  ...corpus,
  ...dialects,
  ...shipped,
  ...quirks,
  ...innerCases,
  ...wordCases,
  ...handCases,
  ...responseCases,
  ...workingCases,
  ...columnWorkings,
  ...motionCases,
  ...variants,
  ...routes([...rigs, ...benches, ...motors].filter(({ name }) => !long.has(name))),
];
