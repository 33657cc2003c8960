import { unitCode } from "../../units/unitCode.js";
import { unitInWords } from "../columns/tables/unitWords.js";
import { cellKind } from "./cells.js";
import { channelNumber } from "./channelRemarks.js";
import { columnLegend } from "./columnLegend.js";
import { joinedWords } from "./joinedWords.js";
import { splitLine } from "./lines.js";
import { scaleIn, scalesInRemarks } from "./scaleIn.js";
import { stackedHeading } from "./stackedHeading.js";
import { unitsByPlace } from "./unitsByPlace.js";

/** Names and units of columns as the lines above the first row give them. */
export interface Heading {
  readonly names: readonly string[];
  readonly units?: readonly string[];
  /** Settings that stand in a row of units, under the name of their column: `Increment` 0.001. */
  readonly settings: readonly (readonly [string, string])[];
  /** Index, among the lines given, of the topmost that belongs to it. */
  readonly top: number;
}

/** A line above the first row. */
export interface LineAbove {
  readonly text: string;
  readonly cells: readonly string[];
  /** Empty lines stand between it and the line before. */
  readonly behindBlank?: boolean;
}

const dataType =
  /^(l?real|float|double|u?int|[du]*int|number|decimal|bool(ean)?|u?int\d+|float\d+|string|text)$/i;
const marks = /^\s*(#+|%+|;+|\/\/+|!+|\*+|--+)\s*/;

/**
 * Finds the heading in the lines above the first row: the nearest line of as many words as the rows have fields (or one
 * more or less, where one side has a counter or a remark more), with or without a comment mark, and a row of units
 * below or above it.
 *
 * @param fields fields of the rows
 * @param rows the first rows
 * @param written the first rows as they stand, of columns of fixed width
 */
export function headingOf(
  above: readonly LineAbove[],
  fields: number,
  rows: readonly (readonly string[])[],
  delimiter: string,
  written: readonly string[] = [],
): Heading | undefined {
  const keyed = keyedHeading(above, fields, delimiter) ?? pairedHeading(above, fields);
  if (keyed !== undefined) return keyed;
  const found =
    listedHeading(above, fields, rows, delimiter) ??
    (delimiter === " " ? placedHeading(above, fields, written) : undefined) ??
    namedHeading(above, fields, rows, delimiter);
  if (found === undefined) return undefined;
  return withScales(
    withUnitsAbove({ ...found, names: withTwins(found.names) }, above, delimiter),
    above,
    fields,
  );
}

/**
 * Names of which a whole group comes again (`t, iq, vel, iq, vel`: one group for each motor), with the number of their
 * group; any others as they are.
 */
export function withTwins(names: readonly string[]): readonly string[] {
  for (let shared = 0; shared <= 2 && shared < names.length; shared += 1) {
    const rest = names.slice(shared);
    const size = rest.indexOf(rest[0], 1);
    // Groups may be parted by a column without a name.
    const whole = rest.length % size === 0 || (rest.length % size === size - 1 && rest[size - 1] === "");
    if (size < 2 || !whole || rest[0] === "" || rest.some((n, k) => n !== rest[k % size])) continue;
    if (new Set(rest.slice(0, size)).size < size) continue;
    // Before a unit in brackets.
    const numbered = rest.map((n, k) =>
      n === "" ? n : n.replace(/^(.*?)(\s*[[(][^[(]*)?$/s, `$1 ${Math.floor(k / size) + 1}$2`),
    );
    return [...names.slice(0, shared), ...numbered];
  }
  return names;
}

const nameKeys = /^(label|name|signal|title|description|beschriftung|bezeichnung|nom|nombre|名称)s?$/i;
const channelKeys = /^(source|channel|trace|kanal|canal|voie|ch|input|通道)s?$/i;
const unitKeys = /^((vertical|y|v|ch\w*)[ _-]?)?(units?|einheit(en)?|unités?|unidad(es)?|单位|単位)$/i;
const scaleKeys =
  /probe|scale|scaling|sens|clamp|factor|tastkopf|maßstab|massstab|transducer|shunt|comment|note/i;

/**
 * Settings by channel above values without a name for each row (an oscilloscope without a time column): lines of a key
 * and one value for every column. Names, units and scales of probes are taken from the lines whose keys say so.
 */
function keyedHeading(above: readonly LineAbove[], fields: number, delimiter: string): Heading | undefined {
  if (fields < 2) return undefined;
  const lines = above.map((l) => splitLine(l.text, delimiter).map((c) => c.replace(/^"(.*)"$/, "$1")));
  const keyed = lines.map((cells) => cells.length === fields + 1 && cellKind(cells[0]) === "word");
  const first = keyed.indexOf(true);
  if (keyed.filter(Boolean).length < 3 || !keyed.slice(first).every(Boolean)) return undefined;
  const of = (keys: RegExp): readonly string[] | undefined =>
    lines.find((cells, k) => keyed[k] && keys.test(cells[0].replace(/[:=]$/, "")))?.slice(1);
  const [labels, channels, units] = [of(nameKeys), of(channelKeys), of(unitKeys)];
  const names = labels ?? channels;
  if (names === undefined) return undefined;
  return {
    // A label that is empty leaves the channel its number.
    names: names.map((n, k) => (n === "" ? (channels?.[k] ?? "") : n)),
    units: names.map((_, k) => scaleOf(lines, k + 1) ?? units?.[k] ?? ""),
    settings: lines.filter((_, k) => keyed[k]).map((cells) => [cells[0], cells.slice(1).join(" ")] as const),
    top: first,
  };
}

/**
 * Lines in which a key stands before each value (`Name`, `Y.ActVelo`, `Name`, `Y.ActTorque`), above rows of as many
 * pairs of a time and a value: each value is named and has its unit from the cell above it, and the key stands where
 * its time is.
 */
function pairedHeading(above: readonly LineAbove[], fields: number): Heading | undefined {
  if (fields < 4 || fields % 2 !== 0) return undefined;
  const lines = above.map((l) => l.cells);
  const keyOf = (cells: readonly string[]): string | undefined =>
    cells.length === fields &&
    cells.every((c, k) => k % 2 === 1 || c === cells[0]) &&
    cellKind(cells[0]) === "word"
      ? cells[0]
      : undefined;
  const of = (keys: RegExp): readonly string[] | undefined =>
    lines.find((cells) => keys.test(keyOf(cells) ?? ""));
  const names = of(nameKeys) ?? of(channelKeys);
  const keys = lines.map(keyOf).filter((k) => k !== undefined);
  // Names and units alone are a heading like any other; a key with a unit of its own is that of a setting.
  if (names === undefined || keys.length < 3 || keys.some((k) => /[[(]/.test(k))) return undefined;
  const units = of(unitKeys);
  return {
    names: names.map((n, k) => (k % 2 === 0 ? "time" : n)),
    units: names.map((_, k) => (k % 2 === 0 ? "" : (units?.[k] ?? ""))),
    settings: [],
    top: lines.findIndex((cells) => keyOf(cells) !== undefined),
  };
}

const timeUnitKeys = /^(horizontal|x|h|time)[ _-]?(units?|einheit(en)?|unités?|unidad(es)?)$/i;

/** Names over several lines, by the places where their words stand. */
function placedHeading(
  above: readonly LineAbove[],
  fields: number,
  written: readonly string[],
): Heading | undefined {
  // An empty line ends a heading.
  const texts = above.flatMap(({ text, behindBlank }) => (behindBlank === true ? ["", text] : [text]));
  const found = stackedHeading(texts, written, fields, isUnit);
  if (found === undefined) return undefined;
  const blanks = above.filter(({ behindBlank }, k) => behindBlank === true && k <= found.top).length;
  return { ...found, settings: [], top: found.top - blanks };
}

/** Names that lines list by the numbers of their columns, where no line of names stands below them. */
function listedHeading(
  above: readonly LineAbove[],
  fields: number,
  rows: readonly (readonly string[])[],
  delimiter: string,
): Heading | undefined {
  const list = columnLegend(
    above.map(({ text }) => text),
    fields,
  );
  if (list === undefined) return undefined;
  const below = above.slice(list.to + 1).filter(({ text }) => !marks.test(text));
  if (below.some((line) => alignedCells(line, fields, rows, delimiter)?.loose === false)) return undefined;
  return { names: list.names, settings: [], top: list.from };
}

/** Labels and units of the channels of an oscilloscope that stand in lines of a key above a heading without any
 * (`Vertical Units,A,A`), one for every column behind the time; a label names a channel that only has a number. */
function withUnitsAbove(given: Heading, above: readonly LineAbove[], delimiter: string): Heading {
  const fields = given.names.length;
  const lines = above.slice(0, given.top).map((l) => splitLine(l.text, delimiter).map((c) => c.trim()));
  const of = (keys: RegExp): readonly string[] | undefined =>
    lines.find((cells) => cells.length >= 2 && keys.test((cells[0] ?? "").replace(/[:=]$/, "")));
  const behindTime = (keys: RegExp): string[] | undefined => {
    const own = of(keys)?.slice(1);
    while (own !== undefined && own.at(-1) === "" && own.length > fields - 1) own.pop();
    return own?.length === fields - 1 ? own : undefined;
  };
  const labels =
    fields > 1 && given.names.slice(1).every((n) => channelNumber.test(n)) ? behindTime(nameKeys) : undefined;
  const heading =
    labels === undefined
      ? given
      : { ...given, names: given.names.map((n, k) => (k === 0 || labels[k - 1] === "" ? n : labels[k - 1])) };
  if (heading.units !== undefined) return heading;
  const own = behindTime(unitKeys);
  if (own === undefined || !own.every((u) => u === "" || unitCode(u) !== undefined)) return heading;
  const time = of(timeUnitKeys)?.[1] ?? "";
  return {
    ...heading,
    units: [unitCode(time.toLowerCase()) === undefined ? "" : time.toLowerCase(), ...own],
  };
}

/** The scale of a probe that the lines above state for a column. */
function scaleOf(lines: readonly (readonly string[])[], column: number): string | undefined {
  for (const cells of lines) {
    if (!scaleKeys.test(cells[0] ?? "")) continue;
    const scale = scaleIn(cells[column] ?? "");
    if (scale !== undefined) return scale;
    // Where other channels of the line are in the volts of their probes, a divider is not reckoned in either.
    const divider = /^1 ?: ?(\d{1,5})$|^(\d{1,5}) ?: ?1$/.exec(cells[column] ?? "");
    if (divider !== null && cells.some((c) => scaleIn(c) !== undefined))
      return `${divider[1] ?? divider[2]} V`;
  }
  return undefined;
}

/** Volts that stand in the heading itself are those of the probe as well. */
const voltsInName = /[[(](m?V|volts?)[\])]\s*$/i;

/** A heading whose volts are those of a probe or a shunt that a line above gives the scale of. */
function withScales(heading: Heading, above: readonly LineAbove[], fields: number): Heading {
  const remarks = above.slice(0, heading.top);
  const lines = remarks.map((l) => l.cells).filter((cells) => cells.length === fields);
  const said = scalesInRemarks(
    heading.names,
    remarks.map((l) => l.text),
  );
  const inVolts = (k: number): boolean => {
    const own = heading.units?.[k] ?? "";
    return own === "" ? voltsInName.test(heading.names[k]) : /^m?V(olts?)?$/i.test(bareUnit(own));
  };
  // A remark speaks of a column of volts alone.
  const scales = heading.names.map((_, k) =>
    k === 0 ? undefined : (scaleOf(lines, k) ?? (inVolts(k) ? said[k] : undefined)),
  );
  if (scales.every((s) => s === undefined)) return heading;
  const units = heading.names.map((_, k) => {
    const own = heading.units?.[k] ?? "";
    return own === "" || inVolts(k) ? (scales[k] ?? own) : own;
  });
  return { ...heading, units };
}

/** The heading as names, with a row of units beside it. */
function namedHeading(
  above: readonly LineAbove[],
  fields: number,
  rows: readonly (readonly string[])[],
  delimiter: string,
): Heading | undefined {
  let near: { at: number; cells: string[]; loose: boolean; marked: boolean }[] = [];
  for (let i = above.length - 1; i >= 0 && near.length < 4; i -= 1) {
    if (/^[\s#%;!*/|+=_,"'-]*$/.test(above[i].text)) continue;
    // What a program remarks again and again names nothing.
    if (marks.test(above[i].text) && above.some(({ text }, k) => k !== i && text === above[i].text)) continue;
    const found = alignedCells(above[i], fields, rows, delimiter);
    if (found === undefined) {
      // A remark may stand between heading and rows, a paragraph not.
      if (near.length === 0 && above.length - i > 4 && !marks.test(above[i].text)) return undefined;
      if (near.length > 0) break;
      continue;
    }
    // What a program says of the log between heading and rows.
    if (above[i].cells.length !== fields && found.cells.some((c) => sentence.test(c))) continue;
    // Behind a longer block of remarks only a plain line of as many cells is one.
    const far = near.length === 0 && above.length - i > 5;
    if (far && (found.loose || marks.test(above[i].text))) return undefined;
    near.push({ at: i, ...found, marked: marks.test(above[i].text) });
  }
  // A remark that happens to be of as many words is not taken before a line that is parted as the rows are.
  const strict = near.findIndex(({ loose }) => !loose);
  if (strict > 0) near = near.filter(({ cells, loose }, k) => k >= strict || !loose || isUnitsRow(cells));
  if (near.length === 0) return undefined;
  withGroups(near);
  const settingsRow =
    near.length > 2 && hasNumbers(near[0].cells) && isUnitsRow(near[1].cells) && isNames(near[2].cells);
  if (settingsRow) {
    const [below, units, names] = near;
    const settings = below.cells.flatMap((c, k): [string, string][] =>
      hasNumbers([c]) && k > 0 ? [[below.cells[k - 1], c]] : [],
    );
    // Where the row of units only says that it is one, the unit of the setting below is that of the column.
    const own = units.cells.map((c, k) =>
      unitWord.test(c) ? (/[[(]([^\])]+)[\])]/.exec(below.cells[k])?.[1] ?? "") : c,
    );
    return { names: names.cells, units: own, settings, top: names.at };
  }
  const [first, second] = near;
  // Behind an empty line a title ends.
  const apart =
    second !== undefined && above.slice(second.at + 1, first.at + 1).some(({ behindBlank }) => behindBlank);
  if (
    second !== undefined &&
    !apart &&
    second.at >= first.at - 2 &&
    isNamesAbove(second.cells, first.cells)
  ) {
    const settings = first.cells
      .map((c, k) => [second.cells[k], c] as const)
      .filter(([, c]) => cellKind(c) === "number");
    const units = first.cells.map((c) => (cellKind(c) === "number" ? "" : c));
    return { names: second.cells, units, settings, top: second.at };
  }
  if (
    second !== undefined &&
    second.at >= first.at - 2 &&
    isUnitsRow(second.cells) &&
    !isUnitsRow(first.cells)
  )
    return { names: first.cells, units: second.cells, settings: [], top: second.at };
  if (second !== undefined && first.cells.every((c) => c === "" || dataType.test(c)) && isNames(second.cells))
    return { names: second.cells, settings: [], top: second.at };
  if (!isNames(first.cells)) return undefined;
  // Of columns of fixed width only some may have a unit.
  const below = delimiter === " " ? above[first.at + 1] : undefined;
  const units = below && unitsByPlace(above[first.at].text, below.text, isUnit);
  return {
    names: first.cells,
    ...(units?.length === first.cells.length ? { units } : {}),
    settings: [],
    top: first.at,
  };
}

/**
 * A heading over two lines, groups above (`Current`, over two columns) and names below (`set`, `actual`): the groups go
 * before the names where these are missing or the same.
 */
function withGroups(near: { at: number; cells: string[]; marked: boolean }[]): void {
  for (let k = 0; k + 1 < near.length; k += 1) {
    const lower = near[k].cells;
    const upper = near[k + 1].cells;
    // A comment above a heading that is none groups nothing.
    if (near[k + 1].marked !== near[k].marked) continue;
    if (near[k].at - near[k + 1].at !== 1 || isUnitsRow(lower) || isUnitsRow(upper)) continue;
    if (![...lower, ...upper].every((c) => c === "" || cellKind(c) === "word")) continue;
    // What a program says of the log between heading and rows: `Logging stopped. Total samples: 3000`.
    if (lower.some((c) => sentence.test(c))) continue;
    const filled = lower.filter((c) => c !== "");
    const twice = new Set(filled).size < filled.length;
    const gaps = lower.some((c, i) => c === "" && upper[i] !== "");
    if (!(twice || gaps) || filled.length < 2) continue;
    // A group stands over the columns to its right that have none, as far as these have a name of their own.
    let group = "";
    near[k].cells = lower.map((c, i) => {
      if (upper[i] !== "") group = upper[i];
      else if (c === "") group = "";
      return c === group || c === "" ? group : group === "" ? c : `${group} ${c}`;
    });
    near.splice(k + 1, 1);
    return;
  }
}

/** Two sentences, or a word with its number. */
const sentence = /\p{L}{2}[.!]\s+\p{Lu}|:\s*[+-]?\d/u;

/** A name of a setting is no longer; what is tried on longer texts takes time with the square of their length. */
const longestName = 200;

/** Cells of a line above, brought to the number of fields; undefined when it cannot be the heading of such rows. */
function alignedCells(
  line: LineAbove,
  fields: number,
  rows: readonly (readonly string[])[],
  delimiter: string,
): { cells: string[]; loose: boolean } | undefined {
  const first = marks.exec(line.text);
  // A line that begins with the delimiter has an empty first cell: a row of units below a heading whose time has none.
  const mark = first?.[0].trim() === delimiter && line.cells.length === fields ? null : first;
  const bare = mark === null ? line.text : line.text.slice(mark[0].length);
  const tries: string[][] = [];
  if (mark === null) tries.push([...line.cells]);
  tries.push(splitLine(bare, delimiter));
  for (const cells of tries) {
    const joined = delimiter === " " && isNames(cells) ? joinedWords(cells, fields) : undefined;
    const found = joined ?? aligned(cells, fields, rows);
    if (found !== undefined) return { cells: found, loose: false };
  }
  // A setting of one line has no columns, however many words it is of.
  if (/^[^\s=:,;]+ ?\w* ?[=:]\s*\S/.test(bare.slice(0, longestName))) return undefined;
  tries.length = 0;
  for (const other of [",", ";", "\t", "|"]) if (other !== delimiter) tries.push(splitLine(bare, other));
  tries.push(bare.trim().split(/\s{2,}|\t/), bare.trim().split(/\s+/));
  for (const cells of tries) {
    const found = aligned(cells, fields, rows);
    if (found !== undefined) return { cells: found, loose: true };
  }
  return undefined;
}

/** Brings the cells of a heading to the number of fields of the rows. */
function aligned(
  given: readonly string[],
  fields: number,
  rows: readonly (readonly string[])[],
): string[] | undefined {
  let cells = given.map((c) => c.trim().replace(/^"(.*)"$/, "$1"));
  // Names parted by commas and blanks, above rows parted by blanks.
  if (cells.length > 1 && cells.slice(0, -1).every((c) => /.[,;]$/.test(c)))
    cells = cells.map((c) => c.replace(/[,;]$/, ""));
  while (cells.length > fields && cells.at(-1) === "") cells = cells.slice(0, -1);
  // A title between rules, or brackets of a program, names no columns.
  if (cells.some((c) => /^(?:([=*#~_-])\1+|[=[\]{}()])$/.test(c)) && !cells.every((c) => /^[-=]+$/.test(c)))
    return undefined;
  const words = cells.filter((c) => c !== "").length;
  if (words === 0 || (fields > 1 && words < Math.min(2, fields))) return undefined;
  if (cells.length === fields) return cells;
  const column = (k: number): readonly string[] => rows.map((r) => r[k] ?? "");
  const empty = (k: number): boolean => column(k).every((c) => c === "");
  if (cells.length < fields) {
    let used = fields;
    while (used > cells.length && empty(used - 1)) used -= 1;
    if (used === cells.length) return [...cells, ...Array<string>(fields - used).fill("")];
    if (cells.length !== fields - 1 || cells.length < 2) return undefined;
    return isCounter(column(0)) ? ["", ...cells] : [...cells, ""];
  }
  if (cells.length === fields + 1 && fields > 1) return cells[0] === "" ? cells.slice(1) : cells.slice(0, -1);
  return undefined;
}

/** Rows numbered one by one, or labelled by words: what a table without a heading of its own for that column begins
 * with. */
function isCounter(cells: readonly string[]): boolean {
  if (cells.length < 2) return false;
  if (cells.every((c) => cellKind(c) === "word")) return true;
  return cells.every((c, i) => /^\d+$/.test(c) && (i === 0 || Number(c) === Number(cells[i - 1]) + 1));
}

/** True for words of which at most a few are numbers. */
function isNames(cells: readonly string[]): boolean {
  let words = 0;
  let others = 0;
  for (const c of cells) {
    if (c === "") continue;
    if (cellKind(c) === "word") words += 1;
    else others += 1;
  }
  return words > 0 && words >= 2 * others;
}

/** True when the lower of two lines holds the units (and perhaps settings) of the names in the upper. */
function isNamesAbove(upper: readonly string[], lower: readonly string[]): boolean {
  // `x-axis,1,2` over `second,Volt,Volt`: channels by their numbers.
  const channels = upper.slice(1).every((c, k) => c === String(k + 1)) && cellKind(upper[0]) === "word";
  if (channels && upper.length > 1 && lower.every(isUnit)) return true;
  if (!isNames(upper) || upper.some((c) => cellKind(c) === "number")) return false;
  const filled = (cells: readonly string[]): number => cells.filter((c) => c !== "").length;
  if (filled(upper) < Math.max(2, 0.5 * filled(lower))) return false;
  return isUnitsRow(lower) && unitsIn(lower) >= unitsIn(upper);
}

/** Words that say of a row that it holds units. */
const unitWord =
  /^(units?|uom|einheit(en)?|unités?|unidad(es)?|unità|eenheid|enhet|jednotka|jednostka|单位|単位)$/i;

function hasNumbers(cells: readonly string[]): boolean {
  return cells.some((c) => cellKind(c) === "number");
}

/** True when most filled cells are units, or numbers below a name; one may be anything. */
function isUnitsRow(cells: readonly string[]): boolean {
  const said = cells.filter(
    (c) =>
      c !== "" &&
      !unitWord.test(c) &&
      !likeNames.test(c) &&
      !/^([-–—[\]()]+|№|#|nr\.?|n[°º])$/i.test(c) &&
      cellKind(c) !== "number",
  );
  // Numbers alone, as of a row of scales, are no units.
  const units = unitsIn(said);
  return (
    units > 0 &&
    said.length - units <= Math.max(1, said.length / 3) &&
    (said.length > units ? units > 1 : true)
  );
}

function unitsIn(cells: readonly string[]): number {
  return cells.filter((c) => isUnit(c)).length;
}

/** True for a unit, bare or in brackets. */
export function isUnit(cell: string): boolean {
  if (cell === "" || cell.length > 30) return false;
  const bare = bareUnit(cell);
  return (
    unitCode(bare) !== undefined ||
    unitCode(cell) !== undefined ||
    unitInWords(bare) !== undefined ||
    otherUnit.test(bare)
  );
}

/** Units of no channel, and parts of a thousand, that no name of a column is spelled like. */
const otherUnit =
  /^(‰|г|кг|н|克|千克|公斤|[kM]N|lbf|kgf|[kM]Pa|m?bar|psi|[kmµ]g|[lL]\/(?:s|min|h)|m[3³]\/h|[mc]m|[mcµ]?m\/(?:s[2²]?|min))$/i;

/** Units of no channel that are spelled like the name of one, which a row of units leaves open. */
const likeNames = /^[NFgmP]$/;

/** A unit without the brackets around it. */
export function bareUnit(cell: string): string {
  return cell.replace(/^[[(<{/]\s*|\s*[\])>}]$/g, "").trim();
}
