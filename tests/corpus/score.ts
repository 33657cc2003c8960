/**
 * Scores how columns of strangers' logs are understood: `npx tsx tests/corpus/score.ts <folder>... [--half=tune|look]
 * [--list]`. Every file `x` with an
 * `x.truth.json` beside it is read without any option; each column of the truth is compared with what it was taken for.
 */
import { createHash } from "node:crypto";
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { readRecordings } from "../../lib/recording/index.js";
import type { ColumnUnderstanding } from "../../lib/recording/types.js";

/** One column as the author of the file knows it. */
export interface TruthColumn {
  readonly name: string;
  readonly role: string | null;
  readonly unit?: string | null;
  readonly unitStated?: boolean;
  readonly motor?: string;
  readonly scale?: string;
  /** Roles that say as much. */
  readonly accept?: readonly string[];
  /** An angle or a speed of the field, and not of the shaft. */
  readonly electrical?: boolean;
}

/** What is known of one file. */
export interface Truth {
  readonly columns: readonly TruthColumn[];
  readonly runs?: number;
  readonly ask?: string | null;
  readonly habit?: string;
  /** One value a row, with the name of its signal: the columns of the file itself are none of the recording. */
  readonly layout?: "long";
}

/** How one column was taken. */
export interface ColumnScore {
  readonly file: string;
  readonly truth: TruthColumn;
  readonly got?: ColumnUnderstanding;
  readonly roleRight: boolean;
  readonly unitRight: boolean;
  /** A wrong role was stated with more than 80 %. */
  readonly sureAndWrong: boolean;
}

/** Words of authors who did not know our names of roles. */
const same: Readonly<Record<string, string>> = {
  index: "sample",
  "": "other",
  busVoltage: "voltageBus",
  busCurrent: "currentBus",
  phaseCurrentU: "currentU",
  phaseCurrentV: "currentV",
  phaseCurrentW: "currentW",
  dutyCommand: "duty",
  // An error is no channel.
  speedError: "other",
  positionError: "other",
  currentError: "other",
};

/** Roles for which an author without a word for them wrote the plainer one, or that it is none of his. */
const narrower: Readonly<Record<string, readonly string[]>> = {
  other: ["currentD", "currentDCommand", "voltageD", "currentBus"],
  voltage: ["voltageQ"],
  voltageCommand: ["voltageQ"],
};

/** Role of a column by its truth. */
export function roleOf(truth: TruthColumn): string {
  return truth.role === null ? "other" : (same[truth.role] ?? truth.role);
}

const saysAcceleration = /acel|acc(el|[^a-z]|[xyz]|$)|beschl|qdd|ddq|ddot|s\^?2\b|s²|alpha_m_rad/i;

/** True when the role that was taken says the same as the truth; a counter that is left out as no channel is no error,
 * and a pulse may be a counter. */
function roleMatches(truth: TruthColumn, got: ColumnUnderstanding | undefined): boolean {
  const wanted = roleOf(truth);
  const taken = got?.role ?? "other";
  if (wanted === taken || truth.accept?.includes(taken) === true) return true;
  if (truth.electrical === true && wanted === "position" && taken === "electricalAngle") return true;
  // Only where it is an electrical quantity too.
  if (/^m?[AV]$/.test(truth.unit ?? "A") && narrower[wanted]?.includes(taken) === true) return true;
  // Authors before there was a role for it.
  if (wanted === "other" && /^acceleration/.test(taken) && saysAcceleration.test(truth.name)) return true;
  return (
    (wanted === "sample" && taken === "other") ||
    // A clock in counts, and the count of samples that it is.
    (wanted === "time" && taken === "sample" && truth.unit === "{count}") ||
    (wanted === "other" &&
      (taken === "run" || taken === "ordering" || taken === "motor" || taken === "sample"))
  );
}

const unitNames: Readonly<Record<string, string>> = {
  "1": "1",
  "[ppth]": "[ppth]",
  rpm: "{rev}/min",
  circ: "{rev}",
};

/** One writing for each unit: the factors of a product in one order, an ounce of force as a weight (UCUM). */
function oneWriting(code: string): string {
  const plain = (unitNames[code] ?? code).replace("[ozf_av]", "[oz_av].[g]");
  return plain.includes("/") ? plain : plain.split(".").sort().join(".");
}

function unitMatches(truth: TruthColumn, got: ColumnUnderstanding | undefined): boolean {
  if (
    truth.unit === undefined ||
    truth.unit === null ||
    /time|date/i.test(truth.unit) ||
    roleOf(truth) === "other" ||
    truth.role === "index"
  )
    return true;
  const wanted = oneWriting(truth.unit);
  const taken = got?.unit === undefined ? undefined : oneWriting(got.unit);
  if (taken === wanted) return true;
  // A hundredth of an ampere is a centiampere.
  const prefixed = /^([dcm])([AV])$/.exec(taken ?? "");
  const scale = Number(/^1 = (0?\.\d+) /.exec(truth.scale ?? "")?.[1] ?? Number.NaN);
  if (prefixed !== null && prefixed[2] === wanted && scale === { d: 0.1, c: 0.01, m: 0.001 }[prefixed[1]])
    return true;
  // Tenths of a percent.
  if (wanted === "%" && taken === "[ppth]" && /(^|\D)0?[.,]1(\D|$)/.test(truth.scale ?? "")) return true;
  // A probe's volts carry the scale with them; a scaled unit is told by its scale.
  if (/^m?V$/.test(wanted) && (truth.scale !== undefined || /V\s*\/|\/\s*m?V/.test(truth.name))) return true;
  if (/^\d/.test(wanted)) return true;
  // Where the file does not say the unit, a guess that is told to be one is no error.
  return truth.unitStated === false && (got?.unitProbability ?? 0) < 0.8;
}

/** Files of a folder with a truth beside them. */
export function truthsIn(folder: string, half?: string): { file: string; truth: Truth }[] {
  return readdirSync(folder)
    .filter((n) => n.endsWith(".truth.json"))
    .sort()
    .map((n) => n.slice(0, -".truth.json".length))
    .filter(
      (n) =>
        half === undefined ||
        (half === "tune") ===
          (Number.parseInt(createHash("sha1").update(n).digest("hex").slice(-1), 16) % 2 === 0),
    )
    .filter((n) => existsSync(join(folder, n)))
    .map((n) => ({
      file: join(folder, n),
      truth: JSON.parse(readFileSync(join(folder, `${n}.truth.json`), "utf8")) as Truth,
    }));
}

/** The longest name of the truth all of whose words are in a heading: `jpos_des` for `jpos_des:3`, not `jpos`. */
function longestName(heading: string, truth: Truth): string | undefined {
  const words = (text: string): string[] =>
    text
      .toLowerCase()
      .split(/[^\p{L}\p{N}]+/u)
      .filter((w) => w !== "");
  const own = words(heading);
  return truth.columns
    .map((c) => c.name)
    .filter((name) => name !== "" && words(name).every((w) => own.includes(w)))
    .sort((a, b) => b.length - a.length)[0];
}

/** Compares the columns of one file, as they were taken, with its truth. */
export function compared(file: string, truth: Truth, all: readonly ColumnUnderstanding[]): ColumnScore[] {
  const asked = truth.layout === "long" ? truth.columns.filter((t) => t.role !== null) : truth.columns;
  return asked.map((t, k): ColumnScore => {
    const number = /^column (\d+)$/.exec(t.name);
    const names = all.map((c) => c.column.trim());
    // A unit that stood behind the values, or a moment before them, has no place in the names of the file.
    const bare = names.map((n) => n.replace(/\s*\[[^\]]*\]$/, ""));
    const unnamed = [...bare.keys()].filter(
      (i) => !asked.some((a) => [bare[i], names[i]].includes(a.name.trim())),
    );
    const at =
      number !== null
        ? Number(number[1]) - 1
        : names.indexOf(t.name.trim()) >= 0
          ? names.indexOf(t.name.trim())
          : bare.indexOf(t.name.trim()) >= 0
            ? bare.indexOf(t.name.trim())
            : t.name === "" && unnamed.length === 1
              ? unnamed[0]
              : all.length === truth.columns.length
                ? k
                : -1;
    const several = at < 0 && t.name !== "" ? all.filter((c) => longestName(c.column, truth) === t.name) : [];
    // One name for many columns (an array): the worst of them stands for all.
    // A stamp before the labels of a line has no name; an author numbers it.
    const stamp =
      at < 0 && /^#\d$/.test(t.name) && t.role === "time" ? all.find((c) => c.role === "time") : undefined;
    const got = all[at] ?? stamp ?? several.find((c) => !roleMatches(t, c)) ?? several[0];
    // Words beside the values of a line are left out with the line's other words: no channel either.
    const leftOut = got === undefined && all.length > 0 && roleOf(t) === "other" && t.name !== "";
    const roleRight = leftOut || (got !== undefined && roleMatches(t, got));
    return {
      file,
      truth: t,
      got,
      roleRight,
      unitRight: leftOut || (got !== undefined && unitMatches(t, got)),
      sureAndWrong: got !== undefined && !roleRight && got.probability > 0.8,
    };
  });
}

/** Scores one file. */
export async function scoreFile(
  file: string,
  truth: Truth,
): Promise<{ columns: ColumnScore[]; problem?: string; all: readonly ColumnUnderstanding[] }> {
  const { recordings, problems } = await readRecordings([file]);
  const tables = [
    ...recordings.map((r) => r.understanding ?? []),
    ...problems.map((p) => p.understanding ?? []),
  ];
  // The tables of one file (runs, sheets) have the same columns mostly; a column that only a later one has is added.
  const all: ColumnUnderstanding[] = [];
  for (const table of tables)
    for (const c of table)
      if (!all.some((k) => k.column === c.column && (c.column !== "" || k.index === c.index))) all.push(c);
  const problem = problems[0]?.message.slice(0, 200);
  const columns = compared(file, truth, all);
  return { columns, problem, all };
}

/** One wrong column in a line. */
export function listed(c: ColumnScore): string {
  const g = c.got;
  const p = (v: number | undefined): string => v?.toFixed(2) ?? "-";
  const why = g?.why.map((w) => w.text).join("; ") ?? "";
  return (
    `${c.sureAndWrong ? "!!" : "  "} ${c.file.split("/").at(-1)} "${c.truth.name}": ${roleOf(c.truth)} ${c.truth.unit ?? ""}; ` +
    `taken ${g?.role ?? "other"} ${g?.unit ?? ""} ${p(g?.probability)}/${p(g?.unitProbability)} ` +
    `next ${g?.runnerUp?.role ?? "other"} ${p(g?.runnerUp?.probability)} | ${why}`
  );
}

const bins = [0, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.985, 1.01] as const;

/** How often a column said to be sure by so much is right: the test of the probabilities. */
export function reliability(columns: readonly ColumnScore[]): string {
  const lines = ["said         columns  right  mean said"];
  for (let b = 0; b + 1 < bins.length; b += 1) {
    const mine = columns.filter(
      ({ got }) => got !== undefined && got.probability >= bins[b] && got.probability < bins[b + 1],
    );
    if (mine.length === 0) continue;
    const right = mine.filter((c) => c.roleRight).length;
    const said = mine.reduce((sum, c) => sum + (c.got?.probability ?? 0), 0) / mine.length;
    lines.push(
      `${(100 * bins[b]).toFixed(1).padStart(5)} ...% ${String(mine.length).padStart(9)} ` +
        `${((100 * right) / mine.length).toFixed(1).padStart(6)} ${(100 * said).toFixed(1).padStart(8)}`,
    );
  }
  return lines.join("\n");
}

/** The same for units that no heading says. */
export function unitReliability(columns: readonly ColumnScore[]): string {
  const open = columns.filter(
    (c) =>
      c.truth.unitStated === false && c.roleRight && c.got?.unitProbability !== undefined && c.truth.unit,
  );
  const lines = ["unit said    columns  right"];
  for (const [from, to] of [
    [0, 0.5],
    [0.5, 0.8],
    [0.8, 0.95],
    [0.95, 1.01],
  ]) {
    const mine = open.filter(
      ({ got }) => (got?.unitProbability ?? 0) >= from && (got?.unitProbability ?? 0) < to,
    );
    const right = mine.filter((c) => oneWriting(c.got?.unit ?? "") === oneWriting(c.truth.unit ?? "")).length;
    if (mine.length > 0)
      lines.push(
        `${(100 * from).toFixed(1).padStart(5)} ...% ${String(mine.length).padStart(9)} ${((100 * right) / mine.length).toFixed(1).padStart(6)}`,
      );
  }
  return lines.join("\n");
}

/** The figures of a set of columns. */
export function figures(columns: readonly ColumnScore[]): Readonly<Record<string, number>> {
  const n = columns.length;
  const sure = columns.filter((c) => (c.got?.probability ?? 0) > 0.8);
  return {
    columns: n,
    role: columns.filter((c) => c.roleRight).length / n,
    both: columns.filter((c) => c.roleRight && c.unitRight).length / n,
    sureAndWrong: columns.filter((c) => c.sureAndWrong).length / n,
    sureRight: sure.filter((c) => c.roleRight).length / Math.max(1, sure.length),
    sure: sure.length / n,
  };
}

/** The figures in a line. */
export function summary(columns: readonly ColumnScore[]): string {
  const f = figures(columns);
  const percent = (v: number): string => `${(100 * v).toFixed(1)} %`;
  return (
    `${f.columns} columns: role right ${percent(f.role)}, role and unit right ${percent(f.both)}, wrong and sure ` +
    `${percent(f.sureAndWrong)}; sure by over 80 % ${percent(f.sure)}, of these right ${percent(f.sureRight)}`
  );
}

if (process.argv[1]?.endsWith("score.ts")) {
  const folders = process.argv.slice(2).filter((a) => !a.startsWith("--"));
  const half = process.argv.find((a) => a.startsWith("--half="))?.slice(7);
  const every: ColumnScore[] = [];
  for (const { file, truth } of folders.flatMap((f) => truthsIn(f, half))) {
    const { columns, problem, all } = await scoreFile(file, truth);
    every.push(...columns);
    if (columns.every((c) => c.got === undefined))
      console.log(`-- ${file}: not read (${problem ?? all.map((c) => c.column).join("|")})`);
    else if (process.argv.includes("--list"))
      for (const c of columns) if (!(c.roleRight && c.unitRight)) console.log(listed(c));
  }
  console.log(reliability(every));
  console.log(unitReliability(every));
  console.log(summary(every));
}
