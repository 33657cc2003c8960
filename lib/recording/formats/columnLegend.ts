import { unitInHeading } from "../columns/unitText.js";

/** Names of columns that lines above a table list by their numbers, and the first and last of these lines. */
export interface ColumnLegend {
  readonly names: readonly string[];
  readonly from: number;
  readonly to: number;
}

/** Words for a column or a channel before its number. */
const words =
  "columns?|cols?|columna|coluna|colonne|colonna|coloană|spalte|kolumne?|kolom|kolonne?|kolumna|sloupec|stĺpec|" +
  "stolpec|stupac|oszlop|sarake|sütun|στήλη|столбец|столб|колонка|стовпець|колона|cột|คอลัมน์|열|列|第|عمود|ستون|स्तंभ|" +
  "fields?|feld|champ|campo|channel|chan|chn|ch|kanal|canal|canale|voie|signal|[ck]|#(?=\\d)";
/** A number with or without such a word, and what parts it from its name. */
const marker = new RegExp(
  String.raw`(?<=^[\s#%;!*/"'|-]*|[,;|\t]\s*|\s{2})(?:(${words})[ _.#-]{0,2}(\d{1,3})(?:\s*(?:列|番目|번|행))?(?:\s*(?:[:：=)\]]|->|[-–—.,](?=\s))\s*|\s+)|[[(]?(\d{1,3})(?:\s*(?:[:：=)\]]|->)|\s*[-–—](?=\s)|\.(?=\s))\s*)(?=\S)`,
  "giu",
);
/** Lines looked at, the longest of them, and the longest name. */
const looked = { lines: 200, length: 1000, name: 80 };
/** Words of a name behind a bare number; a list of what was done has longer ones. */
const mostWords = 3;

interface Entry {
  readonly number: number;
  readonly line: number;
  readonly said: boolean;
  readonly name: string;
}

/**
 * The names of the columns of a table that lines above it list by number (`# col 1: time (s)`, `% 2 = i [A]`,
 * `3) speed`, `C4 - torque`), one in a line or several: numbered from one or from nought, as many as there are fields.
 * Undefined where there is no such list.
 *
 * @param lines the lines above the first row
 * @param fields fields of a row
 * @example
 * columnLegend(["# col 1: time (s)", "# col 2: speed, mechanical (rad/s)"], 2);
 * // => { names: ["time (s)", "speed, mechanical (rad/s)"], from: 0, to: 1 }
 */
export function columnLegend(lines: readonly string[], fields: number): ColumnLegend | undefined {
  if (fields < 2 || lines.length === 0) return undefined;
  const first = Math.max(0, lines.length - looked.lines);
  const entries = lines.slice(first).flatMap((line, k) => entriesOf(line, first + k));
  if (entries.length < fields) return undefined;
  let list: Entry[] = [];
  for (const entry of entries) {
    if (list.length > 0 && entry.number === list[0].number + list.length) list.push(entry);
    else if (list.length < fields && entry.number <= 1) list = [entry];
  }
  if (list.length !== fields || !list.every(({ name }) => /\p{L}/u.test(name))) return undefined;
  const said =
    list.every((entry) => entry.said) || list.some(({ name }) => unitInHeading(name) !== undefined);
  if (!said && list.some(({ name }) => name.split(/\s+/).length > mostWords)) return undefined;
  return { names: list.map(({ name }) => name), from: list[0].line, to: list[list.length - 1].line };
}

function entriesOf(line: string, at: number): Entry[] {
  if (line.length > looked.length || !/\d/.test(line)) return [];
  const found = [...line.matchAll(marker)];
  return found.flatMap((m, k) => {
    const text = line.slice(m.index + m[0].length, found[k + 1]?.index);
    const name = text.replace(/^["'\s]+|[\s,;|"'.]+$/g, "");
    if (name === "" || name.length > looked.name) return [];
    return [{ number: Number(m[2] ?? m[3]), line: at, said: m[1] !== undefined, name }];
  });
}
