import { readFile } from "node:fs/promises";
import { checkLives, type Life } from "./lifeData.js";

/** A life table with the unit of its times. */
export interface LifeTable {
  readonly lives: readonly Life[];
  readonly unit: string;
}

/**
 * Reads a life table: CSV with columns `after` and `by` (a unit may follow in brackets, `after [h]`), and any of `motor`, `group`
 * (or `batch`), `count`, `temperature` (Celsius). Failed after `after` and no later than `by`; an empty `by` means still running; an
 * empty `after` means from the beginning.
 *
 * @throws Error that names file, line, column, what was found and the mend
 * @example
 * await writeFile(`${folder}/life.csv`, "motor,after [h],by [h]\nroller-07,120,120\nroller-08,500,\n");
 * (await readLifeTable(`${folder}/life.csv`)).lives.length; // => 2
 */
export async function readLifeTable(path: string): Promise<LifeTable> {
  return lifeTable(await readFile(path, "utf8"), path);
}

/**
 * A life table from text, as `readLifeTable` reads it from a file.
 *
 * @param name what messages call the text
 * @throws Error that names line, column, what was found and the mend
 * @example
 * (await lifeTable("after [h],by [h]\n0,120\n500,\n", "pasted")).unit; // => "h"
 */
export async function lifeTable(text: string, name: string): Promise<LifeTable> {
  const { fromCSV } = await import("arquero");
  const table = fromCSV(text.replace(/^\ufeff/, ""), { autoType: false });
  let unit = "h";
  const columns = new Map<string, string>();
  for (const column of table.columnNames()) {
    const [, word, bracket] = /^\s*(.*?)\s*(?:\[(.*)\])?\s*$/.exec(column) as RegExpExecArray;
    columns.set(word.toLowerCase(), column);
    if ((word === "after" || word === "by") && bracket) unit = bracket;
  }
  for (const needed of ["after", "by"])
    if (!columns.has(needed))
      throw new Error(
        `${name}: a life table needs the column "${needed}"; found ${table.columnNames().join(", ")}`,
      );
  const rows = table.objects() as Record<string, string | null>[];
  const lives = rows.map((row, i): Life => {
    const cell = (column: string) => {
      const key = columns.get(column);
      return key === undefined ? "" : String(row[key] ?? "").trim();
    };
    const number = (column: string, otherwise: number) => {
      const found = cell(column);
      if (found === "") return otherwise;
      const value = Number(found);
      if (Number.isNaN(value))
        throw new Error(
          `${name}, line ${i + 2}, column "${column}": found "${found}" where a number is needed`,
        );
      return value;
    };
    const temperature = number("temperature", Number.NaN);
    const group = cell("group") || cell("batch");
    const motor = cell("motor");
    return {
      after: number("after", 0),
      by: number("by", Number.POSITIVE_INFINITY),
      ...(columns.has("count") ? { count: number("count", 1) } : {}),
      ...(motor === "" ? {} : { motor }),
      ...(group === "" ? {} : { group }),
      ...(Number.isNaN(temperature) ? {} : { temperature }),
    };
  });
  try {
    checkLives(lives);
  } catch (error) {
    const said = (error as Error).message.replace(/^life (\d+)/, (_, n) => `line ${Number(n) + 1}`);
    throw new Error(`${name}, ${said}`);
  }
  return { lives, unit };
}
