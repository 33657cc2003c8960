import { visible } from "../../units/text.js";
import { ifOneTurnWords, type Missing } from "../columns/channelInSi.js";
import { contradicts, quoted } from "../columns/chooseChannels.js";
import { probabilityOfUse } from "../columns/roleProbability.js";
import { isChannelRole } from "../columns/roles.js";
import { askedBelow, usedFrom } from "../columns/understand.js";
import { CannotRead, type SourceTable } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";
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
 * @param interval option by which position and speed would agree, or nothing
 */
export function noTime(log: UnderstoodLog, interval: string): CannotRead {
  const { table } = log;
  const likely = likelyTime(log);
  const column =
    likely === undefined ? "" : `, or name the time column with --map time=${quoted(table, likely)}`;
  const steady = steadyPoints(log);
  // With the time alone the next question would be what the columns are.
  const known = log.understanding.columns.some(
    (c) => c.role !== undefined && isChannelRole(c.role) && probabilityOfUse(c) >= usedFrom,
  );
  const perhaps = proposals(log);
  const others = perhaps !== "" || known ? perhaps : `; and say what a column holds: ${exampleColumn(log)}`;
  return new CannotRead({
    severity: "error",
    code: "no-time",
    message: `no time column was found among ${listOf(table)}`,
    meaning: `${steady === undefined ? "" : `${steady}; if they are samples all the same, `}${table.nameless ? "the file has no header; " : ""}give the time from row to row with --interval <time>${column}${interval}${others}`,
    file: table.path,
    understanding: log.understanding.columns,
  });
}

/** No column is recognised: how to name one. */
export function noChannels(log: UnderstoodLog, doubt: Finding | undefined): CannotRead {
  return new CannotRead({
    severity: "error",
    code: "no-channels",
    message: `no column was recognised as current, speed or position among ${listOf(log.table)}`,
    meaning:
      doubt?.meaning ??
      `${log.table.nameless ? "the file has no header, and the numbers do not tell what they are; " : ""}name what you know with --map, for instance ${exampleColumn(log)}`,
    file: log.table.path,
    understanding: log.understanding.columns,
  });
}

/** Columns are recognised, and none can be converted: what must be said of their units.
 *
 * @param left why each was left, by place
 * @param asked what each lacks
 */
export function nothingUsable(
  { table, understanding }: UnderstoodLog,
  left: ReadonlyMap<number, string>,
  asked: readonly Missing[],
): CannotRead {
  const options = (of: "encoder" | "column"): string[] =>
    asked.flatMap(({ answer }) => (answer?.of === of ? [answer.option] : []));
  const answers = [...new Set(options("encoder")), ...options("column")];
  const turned = asked.find(({ oneTurn }) => oneTurn !== undefined)?.oneTurn;
  return new CannotRead({
    severity: "error",
    code: "no-channels",
    message: `none of the recognised columns could be used: ${[...left].map(([i, reason]) => `${visible(table.columns[i].name, 30)} (${reason})`).join("; ")}`,
    ...(answers.length === 0
      ? {}
      : {
          meaning: `say what the units stand for: ${answers.join(" ")}${turned === undefined ? "" : `. ${ifOneTurnWords(turned)}`}`,
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

/** Options that name the likely columns, for a refusal. */
function proposals(log: UnderstoodLog): string {
  const time = likelyTime(log);
  const asked = new Set<string>();
  const open = log.understanding.columns
    .filter(
      (c) =>
        c.role !== undefined &&
        c.probability < 0.8 &&
        c.probability > 0.25 &&
        c.index !== time &&
        isChannelRole(c.role),
    )
    .filter((c) => log.stated.get(c.index)?.role === undefined)
    .filter((c) => c.role === undefined || !contradicts(log.table, c.index, c.role))
    .sort((a, b) => b.probability - a.probability)
    .filter((c) => !asked.has(`${c.motor} ${c.role}`) && asked.add(`${c.motor} ${c.role}`) !== undefined)
    .sort((a, b) => a.index - b.index)
    .slice(0, 6)
    .map((c) => `--map ${c.role}=${quoted(log.table, c.index)}`);
  return open.length === 0 ? "" : `; going by the numbers, perhaps ${open.join(" ")}`;
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

/** How a column of numbers that is not the time would be named, for an example; whole numbers may be counts of a
 * converter, which need a scale. */
function exampleColumn(log: UnderstoodLog): string {
  const all = log.understanding.columns.filter((c) => log.table.columns[c.index].kind === "number");
  const others = all.filter((c) => c.role !== "time" && c.role !== "sample");
  // What may be the time as well as something else is asked about where nothing is left.
  const unsure = all.filter((c) => c.probability < 0.6);
  const numbers = others.length > 0 ? others : unsure;
  const best = numbers.sort((a, b) => (a.role === undefined ? 1 : 0) - (b.role === undefined ? 1 : 0))[0];
  if (best === undefined) return "--map current=<column>";
  const column = quoted(log.table, best.index);
  const values = log.data.columns[log.indices.indexOf(best.index)];
  const whole = values?.every((v) => Number.isInteger(v) || Number.isNaN(v)) === true;
  const scale = ` --unit "${column.replace(/"/g, "")}=0.05 A from 512" (here one count is 0.05 A, and 512 is zero)`;
  return `--map current=${column}${whole ? scale : ""}`;
}
