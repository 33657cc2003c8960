import { smallTableBytes } from "../../recording/formats/fileBytes.js";
import { decoderOf, findEncoding } from "../../recording/formats/textEncoding.js";
import { factOf } from "./factHeadings.js";
import { commonUse, delimiterOf, type Heading, headingsOf, numberOf, toCelsius } from "./headings.js";
import { checkLives, ImpossibleLife, type Life } from "./lifeData.js";

/** A life table with the unit of its times. */
export interface LifeTable {
  readonly lives: readonly Life[];
  /** As the headings have it; `1` when they name no unit. */
  readonly unit: string;
}

/**
 * Reads a life table: CSV (with commas, semicolons or tabs, decimal points or commas) with columns `after` and `by` (a
 * unit may follow, `after [h]`, `by [d]`), and any of `motor`,
 * `group` (or
 * `batch`), `count`, `temperature` (Celsius, or by its unit: `temperature [K]`), `cause` (of the failure), `from` (use at which the
 * unit came under observation). Failed after `after` and no later than `by`; an empty `by` means still running; an
 * empty
 * `after` means from the beginning.
 *
 * @throws Error that names file, line, column, what was found and the mend
 * @example
 * await writeFile(`${folder}/life.csv`, "motor,after [h],by [h]\nroller-07,120,120\nroller-08,500,\n");
 * (await readLifeTable(`${folder}/life.csv`)).lives.length; // => 2
 */
export async function readLifeTable(path: string): Promise<LifeTable> {
  const bytes = await smallTableBytes(path);
  return lifeTable(decoderOf(findEncoding(bytes).encoding).decode(bytes), path);
}

/** What the columns of a life table are called. */
const lifeWords = new Set("after by motor group batch count temperature cause from".split(" "));

/** Above this a column of temperatures without a unit could as well be in kelvin. */
const asKelvin = 200;

/**
 * A life table from text, as `readLifeTable` reads it from a file.
 *
 * @param name what messages call the text
 * @throws Error that names line, column, what was found and the mend
 * @example
 * (await lifeTable("after [h],by [h]\n0,120\n500,\n", "pasted")).unit; // => "h"
 */
export async function lifeTable(text: string, name: string): Promise<LifeTable> {
  if (text.trim() === "")
    throw new Error(`${name}: it is empty; a life table needs the columns "after" and "by"`);
  const { fromCSV } = await import("arquero");
  const plain = text.replace(/^\ufeff/, "");
  const table = fromCSV(plain, { autoType: false, delimiter: delimiterOf(plain) });
  const headings = headingsOf(table.columnNames());
  const columns = new Map(headings.map((h): [string, Heading] => [h.word, h]));
  for (const heading of headings) {
    const fact = lifeWords.has(heading.word) ? undefined : factOf(heading.word);
    if (fact !== undefined && lifeWords.has(fact) && !columns.has(fact)) columns.set(fact, heading);
  }
  for (const needed of ["after", "by"])
    if (!columns.has(needed))
      throw new Error(
        `${name}: a life table needs the column "${needed}"; found ${table.columnNames().join(", ")}. A unit that failed at 700 h has after [h] 700 and by [h] 700, one still running then after 700 and an empty by`,
      );
  const uses = ["after", "by", "from"].flatMap((word) => columns.get(word) ?? []);
  const [use, celsius] = await named(name, async () => {
    const heat = columns.get("temperature");
    return [await commonUse(uses), heat === undefined ? (v: number) => v : toCelsius(heat)] as const;
  });
  const factor = new Map(uses.map((h, i) => [h.word, use.factors[i]]));
  const rows = table.objects() as Record<string, string | null>[];
  const lives = rows.map((row, i) => {
    const cell = (word: string) => {
      const heading = columns.get(word);
      return heading === undefined ? "" : String(row[heading.column] ?? "").trim();
    };
    const number = (word: string, otherwise: number) => {
      const found = cell(word);
      if (found === "") return otherwise;
      const value = numberOf(found);
      if (Number.isNaN(value))
        throw new Error(
          `${name}, line ${i + 2}, column "${word}": found "${found}" where a number is needed${/^[\d.]+\s*[A-Za-z°]+$/.test(found) ? `; its unit belongs into the heading (${word} [${word === "temperature" ? "Cel" : "h"}]), the same for all lines` : ""}`,
        );
      return value * (factor.get(word) ?? 1);
    };
    return lifeOf(cell, number, columns, celsius);
  });
  unitOfHeat(name, lives, columns.get("temperature"));
  try {
    checkLives(lives);
  } catch (error) {
    if (!(error instanceof ImpossibleLife)) throw error;
    const inOne = use.factors.some((f) => f !== 1) ? ` (both in ${use.unit})` : "";
    // The first line holds the headings.
    throw new Error(`${name}, line ${error.index + 2}: ${error.why}${inOne}`);
  }
  return { lives: oneSpelling(lives), unit: use.stated ? use.unit : "1" };
}

function lifeOf(
  cell: (word: string) => string,
  number: (word: string, otherwise: number) => number,
  columns: ReadonlyMap<string, Heading>,
  celsius: (value: number) => number,
): Life {
  const temperature = number("temperature", Number.NaN);
  const group = cell("group") || cell("batch");
  const [motor, cause, from] = [cell("motor"), cell("cause"), number("from", 0)];
  const [after, by] = [number("after", 0), number("by", Number.POSITIVE_INFINITY)];
  return {
    // One moment written in two units stays one moment.
    after: Math.abs(by - after) <= 1e-9 * by && by !== Infinity ? by : after,
    by,
    ...(columns.has("count") ? { count: number("count", 1) } : {}),
    ...(motor === "" ? {} : { motor }),
    ...(group === "" ? {} : { group }),
    ...(Number.isNaN(temperature) ? {} : { temperature: celsius(temperature) }),
    ...(cause === "" ? {} : { cause }),
    ...(from === 0 ? {} : { from }),
  };
}

/** Causes that differ in capitals or spaces only are one, spelt as it first stands. */
function oneSpelling(lives: readonly Life[]): Life[] {
  const first = new Map<string, string>();
  return lives.map((life) => {
    if (life.cause === undefined) return life;
    const key = life.cause.toLowerCase().replace(/\s+/g, " ");
    if (!first.has(key)) first.set(key, life.cause);
    return { ...life, cause: first.get(key) as string };
  });
}

/** A temperature without a unit that could be in kelvin is asked for. */
function unitOfHeat(name: string, lives: readonly Life[], heading: Heading | undefined): void {
  if (heading === undefined || heading.unit !== undefined) return;
  const heats = lives.flatMap((life) => life.temperature ?? []);
  if (heats.length > 0 && Math.min(...heats) >= asKelvin)
    throw new Error(
      `${name}: column "${heading.column}" begins at ${Math.min(...heats)} and names no unit: write temperature [K] or temperature [Cel]`,
    );
}

/** What went wrong, with the name of the table in front. */
async function named<T>(name: string, of: () => Promise<T>): Promise<T> {
  try {
    return await of();
  } catch (error) {
    throw new Error(`${name}: ${(error as Error).message}`);
  }
}
