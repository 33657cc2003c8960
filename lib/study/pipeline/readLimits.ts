import { readFile } from "node:fs/promises";
import { type StudyConstant, studyConstants, unitOfConstant } from "./studyConstants.js";

/** Limits of a constant, in the unit of the study. */
export type Limits = Partial<Record<StudyConstant, { lower?: number; upper?: number }>>;

/**
 * Reads limits for capability: CSV with columns `constant`, `lower`, `upper` (either may be empty), in the study's
 * units.
 *
 * @throws Error that names file, line, what was found and the mend
 */
export async function readLimits(path: string): Promise<Limits> {
  const { fromCSV } = await import("arquero");
  const text = (await readFile(path, "utf8")).replace(/^\ufeff/, "");
  const rows = fromCSV(text, { autoType: false }).objects() as Record<string, string | null>[];
  const limits: Limits = {};
  rows.forEach((row, i) => {
    const line = `${path}, line ${i + 2}`;
    const name = (row.constant ?? "").trim() as StudyConstant;
    if (!studyConstants.includes(name))
      throw new Error(`${line}: "${name}" is no constant of a study; there are ${studyConstants.join(", ")}`);
    const number = (column: "lower" | "upper") => {
      const found = (row[column] ?? "").trim();
      if (found === "") return undefined;
      if (Number.isNaN(Number(found)))
        throw new Error(
          `${line}, column "${column}": found "${found}" where a number in ${unitOfConstant(name)} is needed`,
        );
      return Number(found);
    };
    const [lower, upper] = [number("lower"), number("upper")];
    if (lower === undefined && upper === undefined)
      throw new Error(`${line}: give a lower or an upper limit`);
    if (lower !== undefined && upper !== undefined && lower >= upper)
      throw new Error(`${line}: the lower limit ${lower} is not below the upper limit ${upper}`);
    limits[name] = { ...(lower === undefined ? {} : { lower }), ...(upper === undefined ? {} : { upper }) };
  });
  return limits;
}
