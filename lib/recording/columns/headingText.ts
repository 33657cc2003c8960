import { channelNumber, registerNumber } from "../formats/channelRemarks.js";
import type { SourceTable } from "../formats/sourceTable.js";

/** The text that says what a column is: its heading, or what is told of it where the heading only numbers a channel or
 * a register, is a letter or two that a remark explains, or is missing. */
export function headingText(table: SourceTable, column: number, name: string): string | undefined {
  const { label } = table.columns[column];
  const numbered = label !== undefined && (channelNumber.test(name) || registerNumber.test(name));
  const explained = label?.startsWith(`${name.trim()} `) ?? false;
  return table.nameless || numbered || explained ? label : name;
}
