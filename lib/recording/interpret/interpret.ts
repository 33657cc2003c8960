import { visible } from "../../units/text.js";
import { doubts, inVolts } from "../columns/chooseChannels.js";
import { motorLeftOut } from "../columns/leftOut.js";
import type { LikeTables } from "../columns/likeColumns.js";
import type { ReadOptions } from "../columns/readOptions.js";
import type { DescribedField, StatedFacts } from "../descriptor.js";
import { CannotRead, type SourceTable } from "../formats/sourceTable.js";
import type { Finding, Recording } from "../types.js";
import { recordingsOfMotor } from "./recordingsOfMotor.js";
import { understoodLog } from "./understoodLog.js";

/**
 * Turns tables (the parts of one log, in order) into recordings in SI: one for every run and every motor in them.
 *
 * @param like what tables of the same hand say, asked only where a column is open
 * @throws CannotRead when there is no time, or nothing but time.
 */
export async function interpret(
  tables: readonly SourceTable[],
  fields: readonly DescribedField[],
  facts: StatedFacts,
  options: ReadOptions,
  like?: LikeTables,
): Promise<Recording[]> {
  const log = await understoodLog(tables, fields, options, like);
  const { table, data, understanding } = log;
  if ((data.columns[0]?.length ?? 0) === 0 && log.indices.length > 0)
    throw new CannotRead({
      severity: "error",
      code: "no-rows",
      message: "the table has no rows",
      file: table.path,
    });
  const common: Finding[] = [...tables.flatMap((t) => t.findings), ...log.findings, ...data.findings];
  for (const t of tables) {
    const { ordering, motor, said = [] } = t.facts ?? {};
    if (ordering !== undefined || motor !== undefined || said.length > 0) {
      const own = [
        ...(ordering === undefined ? [] : [`lead order ${ordering}`]),
        ...(motor === undefined ? [] : [`motor ${visible(motor, 40)}`]),
        ...said,
      ];
      common.push({
        severity: "note",
        code: "facts-in-file",
        message: `the file itself states ${own.join(", ")}`,
        file: t.path,
      });
    }
  }
  const doubt = doubts(table, understanding.columns, log.stated);
  const volts = inVolts(table, understanding.columns, log.stated);
  for (const finding of [doubt, volts]) if (finding !== undefined) common.push(finding);
  const motors = understanding.motors.length > 1 ? understanding.motors : [undefined];
  const recordings: Recording[] = [];
  let refused: unknown;
  const left: Finding[] = [];
  for (const motor of motors) {
    try {
      recordings.push(
        ...(await recordingsOfMotor(log, motor, { tables, facts, options, common, doubt: volts ?? doubt })),
      );
    } catch (error) {
      // One motor of several may have nothing that can be used.
      if (motors.length === 1) throw error;
      left.push(motorLeftOut(motor, error, table.path));
      refused ??= error;
    }
  }
  if (recordings.length === 0) throw refused;
  return left.length === 0
    ? recordings
    : recordings.map((one, k) => (k === 0 ? { ...one, findings: [...one.findings, ...left] } : one));
}
