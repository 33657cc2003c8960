import { smallTableBytes } from "../../recording/formats/fileBytes.js";
import { decoderOf, findEncoding } from "../../recording/formats/textEncoding.js";
import { conversion } from "../../units/convert.js";
import { unitText } from "../../units/forPeople.js";
import { unitCode } from "../../units/unitCode.js";
import { delimiterOf, headingsOf, numberOf } from "../life/headings.js";
import { type StudyConstant, studyConstants, unitOfConstant, wordsOfConstant } from "./studyConstants.js";

/** Limits of a constant, in the unit of the study. */
export type Limits = Partial<Record<StudyConstant, { lower?: number; upper?: number }>>;

/**
 * Reads limits for capability: CSV (with commas, semicolons or tabs, decimal points or commas) with columns `constant`,
 * `lower`, `upper` (either may be empty). A constant is named
 * as in the tables of a study or in the words of its texts; limits are in the study's unit, or in one that stands
 * behind the constant: `Coulomb friction [mN.m]`.
 *
 * @throws Error that names file, line, what was found and the mend
 */
export async function readLimits(path: string): Promise<Limits> {
  const { fromCSV } = await import("arquero");
  const bytes = await smallTableBytes(path);
  const text = decoderOf(findEncoding(bytes).encoding)
    .decode(bytes)
    .replace(/^\ufeff/, "");
  const table = fromCSV(text, { autoType: false, delimiter: delimiterOf(text) });
  const named = table.columnNames();
  if (!named.includes("constant"))
    throw new Error(`${path}: limits need the columns constant, lower, upper; found ${named.join(", ")}`);
  const rows = table.objects() as Record<string, string | null>[];
  const limits: Limits = {};
  for (const [i, row] of rows.entries()) {
    const line = `${path}, line ${i + 2}`;
    const { name, scale, unit } = await constantOf((row.constant ?? "").trim(), line);
    const number = (column: "lower" | "upper") => {
      const found = (row[column] ?? "").trim();
      if (found === "") return undefined;
      if (Number.isNaN(numberOf(found)))
        throw new Error(`${line}, column "${column}": found "${found}" where a number in ${unit} is needed`);
      return numberOf(found) * scale;
    };
    const [lower, upper] = [number("lower"), number("upper")];
    if (lower === undefined && upper === undefined)
      throw new Error(`${line}: give a lower or an upper limit`);
    if (lower !== undefined && upper !== undefined && lower >= upper)
      throw new Error(
        `${line}: the lower limit ${lower / scale} is not below the upper limit ${upper / scale}`,
      );
    limits[name] = { ...(lower === undefined ? {} : { lower }), ...(upper === undefined ? {} : { upper }) };
  }
  return limits;
}

/** The constant that a cell names, with what makes its limits ones of the study's unit. */
async function constantOf(
  cell: string,
  line: string,
): Promise<{ readonly name: StudyConstant; readonly scale: number; readonly unit: string }> {
  const [{ word, unit }] = headingsOf([cell]);
  const name = studyConstants.find(
    (one) => one.toLowerCase() === word || wordsOfConstant(one).toLowerCase() === word,
  );
  if (name === undefined)
    throw new Error(
      `${line}: "${cell}" is no constant of a study; there are ${studyConstants.join(", ")} (a unit may stand behind: coulombFriction [mN.m])`,
    );
  const own = unitOfConstant(name);
  if (unit === undefined) return { name, scale: 1, unit: own };
  const code = unitCode(unit) ?? unit;
  const found = await conversion(code, own);
  if (found === undefined || found.offset !== 0)
    throw new Error(
      `${line}: "${unit}" is no unit of ${wordsOfConstant(name)}, which is in ${unitText(own)}`,
    );
  return { name, scale: found.factor, unit };
}
