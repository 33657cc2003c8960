import { visible } from "../../units/text.js";
import type { SourceTable } from "../formats/sourceTable.js";
import type { FindingAnswer } from "../types.js";
import { placeOf } from "./statedColumns.js";

/** Names up to here are given back as they stand. */
const longestName = 60;

/** What a shell would not leave as it stands within double quotes, and what parts the two sides of an option. */
const unsafe = /["$`\\!=]/;

/** A column as the options take it: its name, or its number where the name does not lead back to it as it is shown. */
export function columnWord(table: SourceTable, index: number): string {
  const { name } = table.columns[index];
  const plain = name.trim() !== "" && name.trim() === name && visible(name, longestName) === name;
  return table.nameless !== true && plain && !unsafe.test(name) && placeOf(table, name) === index
    ? name
    : `#${index + 1}`;
}

/** A column as it is typed. */
export function quoted(table: SourceTable, index: number): string {
  return quotes(columnWord(table, index));
}

/** The option that says what a column holds, and the roles it may have as well. */
export function mapAnswer(
  table: SourceTable,
  index: number,
  role: string,
  or: readonly string[] = [],
): FindingAnswer {
  return { option: "map", of: role, value: columnWord(table, index), ...(or.length > 0 ? { or } : {}) };
}

/** The option that says in which unit a column is; `example` where only a person knows the figure. */
export function unitAnswer(table: SourceTable, index: number, unit: string, example = false): FindingAnswer {
  return {
    option: "unit",
    of: columnWord(table, index),
    value: unit,
    ...(example ? { example } : {}),
  };
}

/** What stands for a figure that nobody but the person knows. */
const blanks: Readonly<Partial<Record<FindingAnswer["option"], string>>> = {
  interval: "<time>",
  lines: "<encoder lines>",
  "pole-pairs": "<pole pairs>",
};

/** An answer as it is typed. */
export function answerText({ option, of, value, or, example }: FindingAnswer): string {
  const shown = example === true ? (blanks[option] ?? quotes(value)) : quotes(value);
  const others = or === undefined ? "" : ` (or ${or.map((role) => `${role}=`).join(", ")})`;
  return `--${option} ${of === undefined ? "" : `${quotes(of)}=`}${shown}${others}`;
}

/** Answers as they are typed, one behind the other. */
export function answersText(answers: readonly FindingAnswer[]): string {
  return answers.map(answerText).join(" ");
}

/** The arguments of the command line for an answer. */
export function answerArguments({ option, of, value }: FindingAnswer): readonly string[] {
  return [`--${option}`, of === undefined ? value : `${of}=${value}`];
}

function quotes(text: string): string {
  return /^[\w#.-]+$/.test(text) ? text : `"${text}"`;
}
