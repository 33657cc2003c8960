import { visible } from "../../units/text.js";
import type { SourceTable } from "../formats/sourceTable.js";
import type { ColumnUnderstanding, Finding, FindingAnswer } from "../types.js";
import { answersText, answerText, mapAnswer, unitAnswer } from "./answers.js";
import { headingText } from "./headingText.js";
import { nameEvidence } from "./nameEvidence.js";
import { probabilityOfUse } from "./roleProbability.js";
import { type ColumnRole, isAccelerationRole, isChannelRole, type Meaning, roleFacts } from "./roles.js";
import type { StatedColumn } from "./statedColumns.js";
import { askedBelow, usedFrom } from "./understand.js";
import { dimension } from "./unitDimension.js";
import { splitHeading, type UnitText, unitOfText } from "./unitText.js";

/** The column chosen for a role. */
export interface Choice {
  readonly index: number;
  readonly role: ColumnRole;
  /** UCUM code, or the text when it is none. */
  readonly unit: string | undefined;
  readonly spelling: string | undefined;
  readonly scale?: UnitText["scale"];
  /** False when no heading and nobody says the unit. */
  readonly unitStated: boolean;
  readonly unitProbability: number;
  readonly recognisedBy: string;
  readonly motor?: string;
}

/** Why a column became no channel: what of it, and in words. */
export interface Unused {
  readonly because:
    | "ignored"
    | "empty"
    | "text"
    | "unit"
    | "not-of-motor"
    | "no-channel"
    /** Nothing is likely enough. */
    | "not-recognised"
    /** The likeliest role is not sure enough. */
    | "unsure"
    /** Another column has its role. */
    | "role-taken";
  readonly words: string;
}

/** Columns chosen for one motor, and why the others were left. */
export interface Chosen {
  readonly choices: readonly Choice[];
  /** Why a column became no channel, by place. */
  readonly unused: ReadonlyMap<number, Unused>;
  readonly findings: readonly Finding[];
}

/** For every role the surest column of this motor (or of what all motors share); of two clocks the one that tells more
 * rows apart. `repeats`: share of the rows in which a column has the value of the row before. */
export function chooseChannels(
  table: SourceTable,
  columns: readonly ColumnUnderstanding[],
  stated: ReadonlyMap<number, StatedColumn>,
  motor: string | undefined,
  repeats: (index: number) => number = () => 0,
): Chosen {
  const findings: Finding[] = [];
  const unused = new Map<number, Unused>();
  const byRole = new Map<ColumnRole, ColumnUnderstanding>();
  for (const column of columns) {
    const { index, role } = column;
    if (column.motor !== undefined && column.motor !== motor) continue;
    const reason = reasonAgainst(table, column, stated.get(index));
    if (reason !== undefined || role === undefined) {
      if (reason !== undefined) unused.set(index, reason);
      continue;
    }
    const other = byRole.get(role);
    if (other === undefined) {
      byRole.set(role, column);
      continue;
    }
    const rank = (c: ColumnUnderstanding): number =>
      (stated.get(c.index)?.role === undefined ? 0 : stated.get(c.index)?.by === "--map" ? 4 : 3) +
      (c.motor === undefined ? 0 : 1) +
      c.probability -
      (ofCarriage(c) ? 0.5 : 0) -
      (rawAngle(table, c) ? 0.3 : 0) -
      (role === "time" ? repeats(c.index) : 0);
    const [kept, left] = rank(column) > rank(other) + 1e-6 ? [column, other] : [other, column];
    byRole.set(role, kept);
    const keptName = nameOf(table, kept.index);
    unused.set(left.index, { because: "role-taken", words: `${role} is taken from "${keptName}"` });
    if (stated.get(kept.index)?.role === undefined && !needless(role)) {
      findings.push({
        severity: "warning",
        code: "role-twice",
        message: `both "${keptName}" and "${nameOf(table, left.index)}" could be ${role}; the first was taken`,
        meaning: `say which is meant with ${answerText(mapAnswer(table, left.index, role))}`,
        file: table.path,
        column: table.columns[left.index].name,
      });
    }
  }
  const choices = [...byRole.values()].map((c) => choiceOf(table, c, stated.get(c.index)));
  return { choices, unused, findings };
}

/** A place or a speed of what the motor moves: one of the shaft comes before it. */
function ofCarriage({ role, unit }: ColumnUnderstanding): boolean {
  return /^(speed|position)(Command)?$/.test(role ?? "") && /^(k|c|m|u)?m(\/|$)/.test(unit ?? "");
}

/** An angle as the sensor gave it: one that was corrected comes before it. */
function rawAngle(table: SourceTable, { index, role }: ColumnUnderstanding): boolean {
  return (
    role === "position" && /(^|[^a-z])(raw|roh|uncalibrated|uncal)([^a-z]|$)/i.test(table.columns[index].name)
  );
}

/** A second column of these needs no question: a clock, a counter, one more axis of an acceleration. */
function needless(role: ColumnRole): boolean {
  return role === "time" || role === "sample" || isAccelerationRole(role);
}

/**
 * Columns that are surely a current, a torque or a speed and are in volts, as a probe or an analogue output gives them:
 * what a volt stands for has to be said.
 */
export function inVolts(
  table: SourceTable,
  columns: readonly ColumnUnderstanding[],
  stated: ReadonlyMap<number, StatedColumn>,
): Finding | undefined {
  const open = columns.filter(({ index, role, probability }) => {
    if (role === undefined || probability < likelierThanNot || stated.get(index)?.unit !== undefined)
      return false;
    if (!Object.hasOwn(perVolt, roleFacts[role].quantity) || !contradicts(table, index, role)) return false;
    const { name, unit } = table.columns[index];
    const spelling = unit ?? splitHeading(name).unit?.spelling ?? "";
    return dimension(unitOfText(spelling)?.code ?? "") === "voltage";
  });
  if (open.length === 0) return undefined;
  const few = open.slice(0, 4);
  const answers = few.map(({ index, role }) =>
    unitAnswer(table, index, perVolt[roleFacts[role as ColumnRole].quantity], true),
  );
  return {
    severity: "warning",
    code: "scale-needed",
    message: `${few.map((c) => `"${nameOf(table, c.index)}" (${c.role})`).join(", ")}${open.length > few.length ? ` and ${open.length - few.length} more` : ""} ${open.length === 1 ? "is" : "are"} in volts, as a probe or an analogue output gives them`,
    meaning: `say how many volts one ampere, newton metre or turn a minute is, for instance ${answersText(answers)}`,
    file: table.path,
    answers,
  };
}

const likelierThanNot = 0.5;

/** A scale of each quantity, for an example. */
const perVolt: Readonly<Record<string, string>> = {
  current: "100 mV/A",
  torque: "1 V/Nm",
  speed: "1 V/krpm",
};

function reasonAgainst(
  table: SourceTable,
  column: ColumnUnderstanding,
  stated: StatedColumn | undefined,
): Unused | undefined {
  const { index, role, probability } = column;
  const { kind } = table.columns[index];
  if (stated?.ignored) return { because: "ignored", words: "ignored" };
  if (kind === "empty" && stated?.role === undefined)
    return { because: "empty", words: "empty, as far as was looked" };
  if (role === undefined)
    return probability >= askedBelow
      ? { because: "no-channel", words: "no channel" }
      : { because: "not-recognised", words: "not recognised" };
  if (
    role === "temperature" &&
    stated?.role === undefined &&
    nameEvidence(table.columns[index].name).elsewhere
  )
    return { because: "not-of-motor", words: "not of the motor" };
  if (kind === "text" && !(role === "run" || role === "motor" || role === "ordering"))
    return { because: "text", words: "holds text" };
  if (stated?.unit === undefined && contradicts(table, index, role, column.unit))
    return { because: "unit", words: `its unit does not fit ${role}` };
  if (stated?.role === undefined && probabilityOfUse(column) < usedFrom)
    return { because: "unsure", words: `perhaps ${role} (${Math.round(100 * probability)} %)` };
  return undefined;
}

/** The heading states a unit of another quantity: neither is believed until a person says which is right. */
export function contradicts(table: SourceTable, index: number, role: ColumnRole, taken?: string): boolean {
  const { name, unit } = table.columns[index];
  const own = table.nameless ? undefined : splitHeading(name);
  // A last letter may tell phases apart; `_ms` behind a speed is metres a second.
  const letter = own?.plain === false && own.unit?.spelling.length === 1;
  if (unit === undefined && (letter || (own?.unit?.code === "ms" && taken === "m/s"))) return false;
  const spelling = unit ?? own?.unit?.spelling;
  const text = spelling === undefined ? undefined : unitOfText(spelling);
  const dim = text === undefined ? undefined : dimension(text.code);
  if (dim === undefined || !isChannelOrTime(role)) return false;
  const { quantity } = roleFacts[role];
  const angle = quantity === "position" || quantity === "electricalAngle" || quantity === "sweepAngle";
  return angle ? dim !== "angle" : dim !== quantity;
}

function isChannelOrTime(role: ColumnRole): boolean {
  return role === "time" || isChannelRole(role);
}

function choiceOf(table: SourceTable, c: ColumnUnderstanding, stated: StatedColumn | undefined): Choice {
  const column = table.columns[c.index];
  const heading = headingText(table, c.index, column.name);
  const own = heading === undefined ? undefined : splitHeading(heading).unit;
  const [spelling, from] =
    stated?.unit !== undefined
      ? [stated.unit, stated.unitBy ?? ""]
      : column.unit !== undefined
        ? [column.unit, column.unitFrom ?? ""]
        : [own?.spelling, own === undefined ? "" : "header"];
  const text = spelling === undefined ? undefined : unitOfText(spelling);
  const wordless = spelling !== undefined && text === undefined ? spelling : undefined;
  const isStated = text !== undefined && text.code !== "1" && text.code === c.unit;
  const by =
    stated?.role !== undefined
      ? stated.by
      : column.kind === "stamp"
        ? "its stamps"
        : c.why.some((w) => w.kind === "name")
          ? "name"
          : c.why.some((w) => w.kind === "unit")
            ? "unit"
            : "numbers";
  return {
    index: c.index,
    role: c.role as ColumnRole,
    unit: c.unit ?? wordless,
    spelling,
    scale: isStated ? text?.scale : undefined,
    unitStated: isStated || wordless !== undefined,
    unitProbability: c.unitProbability ?? 1,
    recognisedBy: !isStated || from === "" ? by : by === from ? by : `${by}, unit from ${from}`,
    motor: c.motor,
  };
}

function nameOf(table: SourceTable, index: number): string {
  const { name } = table.columns[index];
  return table.nameless || name.trim() === "" ? `#${index + 1}` : visible(name, 60);
}

/** A chance below which a role is not even proposed. */
const askedFrom = 0.21;

/** A role that is less likely than this is not named as the other one (judgement). */
const namedFrom = 0.1;

/** What else a column may be that is no matter of another column. */
export function otherRoles({ role, runnerUp }: ColumnUnderstanding, asked: string): readonly string[] {
  const next = asked === role ? runnerUp : undefined;
  const chance = next?.probability ?? 0;
  return next?.role !== undefined && isChannelRole(next.role) && chance >= namedFrom ? [next.role] : [];
}

/** What is not sure and would matter, as one finding with the options that settle it; undefined when everything is
 * sure. */
export function doubts(
  table: SourceTable,
  columns: readonly ColumnUnderstanding[],
  stated: ReadonlyMap<number, StatedColumn>,
): Finding | undefined {
  const open: { role: Meaning; motor: string | undefined; text: string; answer: FindingAnswer }[] = [];
  for (const c of columns) {
    if (stated.get(c.index)?.role !== undefined || stated.get(c.index)?.ignored) continue;
    const kind = table.columns[c.index].kind;
    if (kind === "text" || kind === "empty" || c.probability >= askedBelow) continue;
    const guess: Meaning = c.role ?? "other";
    const next: Meaning = c.runnerUp?.role ?? "other";
    const taken = (r: Meaning): boolean =>
      columns.some((k) => k !== c && k.role === r && k.motor === c.motor && k.probability >= askedBelow);
    const role = guess === "other" || (taken(guess) && next !== "other") ? next : guess;
    // A column that is likely none, or a second counter, needs no answer.
    if (role === "other" || role === "sample" || role === "run" || role === "motor" || role === "ordering")
      continue;
    if (isAccelerationRole(role)) continue;
    // What would not be used is not proposed.
    if (taken(role) || contradicts(table, c.index, role)) continue;
    const chance = role === guess ? c.probability : (c.runnerUp?.probability ?? 0);
    if (chance < askedFrom || open.some((o) => o.role === role && o.motor === c.motor)) continue;
    const percent = (p: number): string => `${Math.round(100 * p)} %`;
    open.push({
      role,
      motor: c.motor,
      text: `"${nameOf(table, c.index)}" (${guess === "other" ? "no channel" : guess} ${percent(c.probability)}${c.runnerUp === undefined ? "" : `, ${next === "other" ? "no channel" : next} ${percent(c.runnerUp.probability)}`})`,
      answer: mapAnswer(table, c.index, role, otherRoles(c, role)),
    });
  }
  if (open.length === 0) return undefined;
  const few = open.slice(0, 4);
  const answers = few.map(({ answer }) => answer);
  return {
    severity: "note",
    code: "columns-doubtful",
    message: `it is not sure what ${few.map((o) => o.text).join(", ")}${open.length > few.length ? ` and ${open.length - few.length} more` : ""} ${open.length === 1 ? "holds" : "hold"}`,
    meaning: `if it is so: ${answersText(answers)}; else name another role, or leave a column out with --ignore`,
    file: table.path,
    answers,
  };
}
