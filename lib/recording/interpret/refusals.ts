import { visible } from "../../units/text.js";
import { answersText, answerText, columnWord, mapAnswer, unitAnswer } from "../columns/answers.js";
import { ifOneTurnWords, linesAnswer, type Missing } from "../columns/channelInSi.js";
import { contradicts, otherRoles } from "../columns/chooseChannels.js";
import { probabilityOfUse } from "../columns/roleProbability.js";
import { isChannelRole, type Meaning, roleFacts } from "../columns/roles.js";
import { askedBelow, usedFrom } from "../columns/understand.js";
import { dimension } from "../columns/unitDimension.js";
import { splitHeading, unitOfText } from "../columns/unitText.js";
import { CannotRead, type SourceTable } from "../formats/sourceTable.js";
import type { Finding, FindingAnswer } from "../types.js";
import type { UnderstoodLog } from "./understoodLog.js";

/** A few columns of which one only rises or falls, and no clock: a table of steady points, as of a static curve, holds
 * no motion. */
export function steadyPoints({ table, data, understanding }: UnderstoodLog): string | undefined {
  const rows = data.columns[0]?.length ?? 0;
  if (data.columns.length > 3 || data.columns.length < 2 || rows > 2000 || rows < 3) return undefined;
  const sweep = data.columns.findIndex((c) => {
    let up = 0;
    let down = 0;
    for (let i = 1; i < c.length; i += 1) {
      if (c[i] > c[i - 1]) up += 1;
      else if (c[i] < c[i - 1]) down += 1;
    }
    return Math.max(up, down) > 0.9 * (rows - 1);
  });
  if (sweep < 0 || understanding.columns.some((c) => c.role === "time" || c.role === "sample"))
    return undefined;
  const name = table.nameless ? `#${sweep + 1}` : visible(table.columns[sweep].name, 30);
  return `the ${rows} rows may be steady points (${name} only ${data.columns[sweep][rows - 1] > data.columns[sweep][0] ? "rises" : "falls"}): a static curve holds no motion to analyse`;
}

/** Nothing tells the time of the rows: what would, and which columns may be what.
 *
 * @param interval time from row to row by which position and speed would agree, where there are both
 */
export function noTime(log: UnderstoodLog, interval: string | undefined): CannotRead {
  const { table } = log;
  const likely = likelyTime(log);
  const column =
    likely === undefined
      ? ""
      : `, or name the time column with ${answerText(mapAnswer(table, likely, "time"))}`;
  const steady = steadyPoints(log);
  // With the time alone the next question would be what the columns are.
  const known = log.understanding.columns.some(
    (c) => c.role !== undefined && isChannelRole(c.role) && probabilityOfUse(c) >= usedFrom,
  );
  const perhaps = proposals(log);
  const asked = perhaps.length > 0 || known ? perhaps : exampleColumn(log);
  const counted = linesOf(log, perhaps);
  const others =
    perhaps.length > 0
      ? `; going by the numbers, perhaps ${answersText([...perhaps, ...counted])}`
      : asked.length > 0
        ? `; and say what a column holds: ${exampleText(asked)}`
        : "";
  const clock: FindingAnswer =
    interval === undefined
      ? { option: "interval", value: "10ms", example: true }
      : { option: "interval", value: interval };
  const agree = interval === undefined ? "" : `; position and speed agree at ${answerText(clock)}`;
  return new CannotRead({
    severity: "error",
    code: "no-time",
    message: `no time column was found among ${listOf(table)}`,
    meaning: `${steady === undefined ? "" : `${steady}; if they are samples all the same, `}${table.nameless ? "the file has no header; " : ""}give the time from row to row with --interval <time>${column}${agree}${others}`,
    file: table.path,
    answers: [clock, ...asked, ...counted],
    understanding: log.understanding.columns,
  });
}

/** Quantities of which one alone makes a recording that says something of the motor. */
const useful = new Set(["current", "voltage", "torque", "duty", "speed", "position"]);

function ofUse(role: string | undefined): boolean {
  const facts = roleFacts[role as Meaning];
  return facts !== undefined && useful.has(facts.quantity) && facts.axis !== "bus";
}

/** A refusal that asks for the scales that are missing, too: they would be the next question. */
export function alsoAsking({ finding }: CannotRead, asked: readonly Missing[]): CannotRead {
  const given = new Set((finding.answers ?? []).map(({ option }) => option));
  const scales = scalesOf(asked).filter(({ option }) => option !== "lines" || !given.has(option));
  return new CannotRead({
    ...finding,
    ...(scales.length === 0
      ? {}
      : {
          meaning: `${finding.meaning ?? ""}; and say what the units stand for: ${answersText(scales)}`,
          answers: [...(finding.answers ?? []), ...scales],
        }),
  });
}

/** The options that say what the units of columns stand for, each once. */
function scalesOf(asked: readonly Missing[]): readonly FindingAnswer[] {
  const all = asked.flatMap(({ answer }) => answer ?? []);
  return [
    ...new Map(all.filter(({ of }) => of === undefined).map((a) => [a.option, a])).values(),
    ...all.filter(({ of }) => of !== undefined),
  ];
}

/** No column is recognised: how to name one. */
export function noChannels(log: UnderstoodLog, doubt: Finding | undefined): CannotRead {
  const likely = (doubt?.answers ?? []).filter(({ of }) => doubt?.code !== "columns-doubtful" || ofUse(of));
  const counted = linesOf(log, likely);
  const answers = likely.length > 0 ? [...likely, ...counted] : exampleColumn(log);
  return new CannotRead({
    severity: "error",
    code: "no-channels",
    message: `no column was recognised as current, speed or position among ${listOf(log.table)}`,
    meaning:
      likely.length > 0
        ? `${doubt?.meaning ?? ""}${counted.length > 0 ? `; and say what a count is with ${answersText(counted)}` : ""}`
        : `${log.table.nameless ? "the file has no header, and the numbers do not tell what they are; " : ""}name what you know with --map, for instance ${exampleText(answers)}`,
    file: log.table.path,
    answers,
    understanding: log.understanding.columns,
  });
}

/** Columns that are named with why none of them could be used. */
const mostReasons = 12;

/** Why each column was left: those that were recognised first, of many some. */
function reasonsOf(table: UnderstoodLog["table"], left: ReadonlyMap<number, string>): string {
  const all = [...left].map(([i, reason]) => ({
    strange: reason === "not recognised",
    text: `${visible(table.columns[i].name, 30)} (${reason})`,
  }));
  const sorted = [...all.filter(({ strange }) => !strange), ...all.filter(({ strange }) => strange)];
  const named = sorted.slice(0, mostReasons).map(({ text }) => text);
  const more = sorted.length - named.length;
  return `${named.join("; ")}${more === 0 ? "" : `; and ${more} more`}`;
}

/** Columns are recognised, and none can be converted: what must be said of their units.
 *
 * @param left why each was left, by place
 * @param asked what each lacks
 * @param doubt what is not sure of the columns
 */
export function nothingUsable(
  { table, understanding }: UnderstoodLog,
  left: ReadonlyMap<number, string>,
  asked: readonly Missing[],
  doubt?: Finding,
): CannotRead {
  const scales = scalesOf(asked);
  const likely =
    doubt?.code === "columns-doubtful" ? (doubt.answers ?? []).filter(({ of }) => ofUse(of)) : [];
  const answers = [...scales, ...likely];
  const turned = asked.find(({ oneTurn }) => oneTurn !== undefined)?.oneTurn;
  return new CannotRead({
    severity: "error",
    code: "no-channels",
    message: `none of the recognised columns could be used: ${reasonsOf(table, left)}`,
    ...(answers.length === 0
      ? {}
      : {
          answers,
          meaning: `${scales.length > 0 ? `say what the units stand for: ${answersText(scales)}` : ""}${scales.length > 0 && likely.length > 0 ? "; and, " : ""}${likely.length > 0 ? `if it is so, ${answersText(likely)}` : ""}${turned === undefined ? "" : `. ${ifOneTurnWords(turned)}`}`,
        }),
    file: table.path,
    understanding: understanding.columns,
  });
}

function listOf(table: SourceTable): string {
  return table.columns
    .slice(0, 12)
    .map((c, i) => (table.nameless ? `#${i + 1}` : visible(c.name, 30)))
    .join(", ");
}

/** What must be said of the encoder where columns that are proposed count it. */
function linesOf(
  { understanding, table }: UnderstoodLog,
  answers: readonly FindingAnswer[],
): readonly FindingAnswer[] {
  const counted = understanding.columns.some(
    ({ index, role, unit }) =>
      unit?.startsWith("{count}") === true &&
      /^(position|speed)/.test(role ?? "") &&
      answers.some(({ of, value }) => of === role && value === columnWord(table, index)),
  );
  return counted ? [linesAnswer] : [];
}

/** Options that name the likely columns, for a refusal. */
function proposals(log: UnderstoodLog): readonly FindingAnswer[] {
  const time = likelyTime(log);
  const asked = new Set<string>();
  return log.understanding.columns
    .filter(
      (c) =>
        c.role !== undefined &&
        c.probability < 0.8 &&
        c.probability > 0.25 &&
        c.index !== time &&
        ofUse(c.role),
    )
    .filter((c) => log.stated.get(c.index)?.role === undefined)
    .filter((c) => c.role === undefined || !contradicts(log.table, c.index, c.role))
    .sort((a, b) => b.probability - a.probability)
    .filter((c) => !asked.has(`${c.motor} ${c.role}`) && asked.add(`${c.motor} ${c.role}`) !== undefined)
    .sort((a, b) => a.index - b.index)
    .slice(0, 6)
    .map((c) => mapAnswer(log.table, c.index, c.role as string, otherRoles(c, c.role as string)));
}

/** Column that may be the time that was asked for: one that rises all along. */
function likelyTime({ table, data, understanding, indices }: UnderstoodLog): number | undefined {
  const chance = (index: number): number => {
    const c = understanding.columns[index];
    return c.role === "time" ? c.probability : c.runnerUp?.role === "time" ? c.runnerUp.probability : 0;
  };
  const surelyElse = (index: number): boolean => {
    const { role, probability } = understanding.columns[index];
    return role !== undefined && role !== "time" && role !== "sample" && probability >= askedBelow;
  };
  return indices
    .filter((index, k) => table.columns[index].kind === "number" && onlyRises(data.columns[k]))
    .filter((index) => !surelyElse(index) && !contradicts(table, index, "time"))
    .sort((a, b) => chance(b) - chance(a))[0];
}

function onlyRises(values: Float64Array): boolean {
  let up = 0;
  let down = 0;
  for (let i = 1; i < values.length; i += 1)
    if (values[i] > values[i - 1]) up += 1;
    else if (values[i] < values[i - 1]) down += 1;
  return up > 0.5 * (values.length - 1) && down < 0.02 * values.length;
}

/** Roles to show with a column of a unit. */
const byDimension: Readonly<Record<string, string>> = {
  voltage: "voltage",
  speed: "speed",
  angle: "position",
  torque: "torque",
};

/** How a column of numbers that is not the time would be named, for an example; whole numbers may be counts of a
 * converter, which need a scale. */
function exampleColumn(log: UnderstoodLog): readonly FindingAnswer[] {
  const all = log.understanding.columns.filter((c) => log.table.columns[c.index].kind === "number");
  const others = all.filter((c) => c.role !== "time" && c.role !== "sample");
  // What may be the time as well as something else is asked about where nothing is left.
  const unsure = all.filter((c) => c.probability < 0.6);
  const numbers = others.length > 0 ? others : unsure;
  const best = numbers.sort((a, b) => (a.role === undefined ? 1 : 0) - (b.role === undefined ? 1 : 0))[0];
  if (best === undefined) return [];
  const values = log.data.columns[log.indices.indexOf(best.index)];
  const whole = values?.every((v) => Number.isInteger(v) || Number.isNaN(v)) === true;
  const { name, unit } = log.table.columns[best.index];
  const written = unit ?? (log.table.nameless ? undefined : splitHeading(name).unit?.spelling);
  const of = written === undefined ? undefined : dimension(unitOfText(written)?.code ?? "");
  const role = of === undefined ? "current" : (byDimension[of] ?? "current");
  const column = { ...mapAnswer(log.table, best.index, role), example: true as const };
  return whole && role === "current"
    ? [column, unitAnswer(log.table, best.index, "0.05 A from 512", true)]
    : [column];
}

function exampleText(answers: readonly FindingAnswer[]): string {
  if (answers.length === 0) return "--map current=<column>";
  const scale = answers.some(({ option }) => option === "unit");
  return `${answersText(answers)}${scale ? " (here one count is 0.05 A, and 512 is zero)" : ""}`;
}
