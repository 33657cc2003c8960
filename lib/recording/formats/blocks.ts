import { factsFromNames } from "../factsFromNames.js";
import { type CellKind, cellKind } from "./cells.js";
import { type Heading, headingOf, type LineAbove } from "./heading.js";
import type { Lines } from "./lines.js";
import type { Mark } from "./sourceTable.js";

/** One table within a text or a sheet: rows under one heading. */
export interface Block {
  readonly heading?: Heading;
  /** Texts of the lines above the heading, or above the rows. */
  readonly preamble: readonly string[];
  readonly fields: number;
  /** Lines that are rows, by their index. */
  readonly rows: number[];
  readonly marks: Mark[];
  /** Rows with fewer fields, among `rows`. */
  readonly short: number[];
  /** Lines of numbers that are no rows: more fields than the others. */
  readonly long: number[];
  /** Rows of means, sums and the like under the table. */
  readonly summary: number[];
  /** Lines of text between rows. */
  readonly between: number[];
}

interface Looked {
  readonly cells: readonly string[];
  readonly kinds: readonly CellKind[];
  readonly numbers: number;
  readonly words: number;
  readonly blank: boolean;
  readonly comment: boolean;
}

/** A table being collected. */
interface Open extends Block {
  /** Columns that hold numbers or stamps, from the first rows. */
  numeric: readonly boolean[];
}

const ahead = 12;
const titled =
  /\b(test|run|trial|step|series|versuch|lauf|messung|mess|schritt|essai|mesure|prueba|ensayo|prova|proef|meting|motor|order|nr|no)\b|[=*#-]{3}|测试|试验|試験|テスト/i;
const summaryWords =
  /^(mean|avg\.?|average|min\.?|max\.?|minimum|maximum|std\.?( ?dev\.?)?|sd|rms|sum|total|count|median|var(iance)?|mittel(wert)?|summe|anzahl|moyenne|ecart.?type|media|promedio|gemiddelde|平均|最大|最小|合計|end.*)$/i;

/**
 * Parts the lines of a text or sheet into tables: where the heading or the number of fields changes, a new one begins;
 * a heading written again and titles between rows are marked. Every line of numbers is in a row or in one of the lists.
 */
export function blocksOf(lines: Lines, delimiter: string): Block[] {
  const blocks: Open[] = [];
  let pending: number[] = [];
  let block: Open | undefined;
  const cache = new Map<number, Looked>();
  const look = (i: number): Looked => {
    let found = cache.get(i);
    if (found === undefined) {
      found = lookAt(lines, i);
      if (cache.size > 64) cache.clear();
      cache.set(i, found);
    }
    return found;
  };
  for (let i = 0; i < lines.count; i += 1) {
    const line = look(i);
    if (block !== undefined && !line.blank && !line.comment && isRowOf(line, block)) {
      if (pending.length > 0 && beginsTable(lines, look, pending, i, block, delimiter)) {
        block = openBlock(lines, look, pending, i, delimiter);
        blocks.push(block);
      } else if (pending.length > 0) markBreak(lines, pending, block, delimiter, i);
      pending = [];
      if (line.cells.length < block.fields) block.short.push(i);
      block.rows.push(i);
      continue;
    }
    if (
      line.blank ||
      line.comment ||
      line.numbers === 0 ||
      (block === undefined && !isFirstRow(lines, look, i))
    ) {
      pending.push(i);
      continue;
    }
    // Numbers that do not fit the table at hand: a table of its own when more such follow.
    if (block === undefined || isFirstRow(lines, look, i)) {
      block = openBlock(lines, look, pending, i, delimiter);
      blocks.push(block);
      block.rows.push(i);
      pending = [];
    } else if (line.words > line.numbers) pending.push(i);
    else block.long.push(i);
  }
  for (const b of blocks) takeSummary(lines, b);
  return blocks;
}

function lookAt(lines: Lines, i: number): Looked {
  const cells = lines.cells(i);
  const kinds = cells.map(cellKind);
  let numbers = 0;
  let words = 0;
  for (const kind of kinds) {
    if (kind === "number" || kind === "stamp") numbers += 1;
    else if (kind === "word") words += 1;
  }
  const comment = /^\s*(#|%|\/\/|!|\*|;\s*[^\d\s.+-])/.test(lines.text(i)) && kinds[0] !== "number";
  return { cells, kinds, numbers, words, blank: cells.every((c) => c === ""), comment };
}

/** True when a line of numbers begins a table: the lines of numbers after it have as many fields, and words and numbers
 * in the same places. */
function isFirstRow(lines: Lines, look: (i: number) => Looked, i: number): boolean {
  const line = look(i);
  if (line.numbers === 0 || line.words > 2 * line.numbers + 1) return false;
  const alike: Looked[] = [];
  let looked = 0;
  for (let k = i + 1; k < lines.count && looked < ahead; k += 1) {
    const other = look(k);
    if (other.blank || other.comment) continue;
    looked += 1;
    if (other.numbers > 0 && sameWidth(other, line)) alike.push(other);
  }
  // A table of one or two rows is one only when nothing follows it.
  if (looked < 2)
    return line.words === 0 && line.numbers >= 2 ? true : alike.length > 0 && agrees(line, alike);
  return alike.length >= 0.5 * looked && agrees(line, alike);
}

function sameWidth(a: Looked, b: Looked): boolean {
  if (a.cells.length === b.cells.length) return true;
  const [more, fewer] = a.cells.length > b.cells.length ? [a, b] : [b, a];
  return more.cells.length === fewer.cells.length + 1 && more.cells.at(-1) === "";
}

/** True when there is no word where the others have numbers alone, and not much less in it than in them. Of a checksum
 * (`C8`, `06`) some cells look like words and others like numbers: a word more says nothing there. */
function agrees(line: Looked, others: readonly Looked[]): boolean {
  const numeric = numericColumns(others, strayWords);
  if (line.kinds.some((kind, k) => kind === "word" && numeric[k])) return false;
  const filled = others.map((o) => o.numbers).sort((a, b) => a - b)[others.length >> 1];
  return line.numbers >= 0.34 * filled;
}

/** Largest share of words in a column that is one of numbers all the same: a remark, an overflow. */
const strayWords = 0.1;

/** Columns that hold numbers or stamps: more of them than words, or words up to a share alone. */
function numericColumns(rows: readonly Looked[], most = 0.5): boolean[] {
  const width = Math.max(...rows.map((r) => r.cells.length));
  return Array.from({ length: width }, (_, k) => {
    let numbers = 0;
    let words = 0;
    for (const r of rows) {
      if (r.kinds[k] === "number" || r.kinds[k] === "stamp") numbers += 1;
      else if (r.kinds[k] === "word") words += 1;
    }
    return numbers > words && words <= most * (numbers + words);
  });
}

/** True for a line that goes on with a table: as many fields (or fewer, cut or left out at the end), numbers where
 * numbers are. */
function isRowOf(line: Looked, block: Open): boolean {
  if (line.numbers === 0) return line.words === 0 && line.cells.length === block.fields;
  const width = line.cells.length;
  if (width > block.fields && line.cells.slice(block.fields).some((c) => c !== "")) return false;
  let fit = 0;
  let misfit = 0;
  for (let k = 0; k < Math.min(width, block.fields); k += 1) {
    if (!block.numeric[k]) continue;
    if (line.kinds[k] === "word") misfit += 1;
    else if (line.kinds[k] !== "missing") fit += 1;
  }
  if (width < block.fields - 1 && misfit > 0) return false;
  return fit > misfit || (fit > 0 && fit >= misfit && width >= block.fields);
}

function openBlock(
  lines: Lines,
  look: (i: number) => Looked,
  pending: readonly number[],
  i: number,
  delimiter: string,
): Open {
  const rows: Looked[] = [];
  for (let k = i; k < lines.count && rows.length < 40; k += 1) {
    const other = look(k);
    if (!other.blank && !other.comment && other.numbers > 0 && sameWidth(other, look(i))) rows.push(other);
  }
  const widths = new Map<number, number>();
  for (const r of rows) widths.set(r.cells.length, (widths.get(r.cells.length) ?? 0) + 1);
  const fields = [...widths].reduce((a, b) => (b[1] > a[1] ? b : a))[0];
  const above = linesAbove(lines, look, pending);
  const heading = headingOf(
    above,
    fields,
    rows.map((r) => r.cells),
    delimiter,
    writtenRows(lines, i, delimiter),
  );
  return {
    heading,
    preamble: above.slice(0, heading?.top ?? above.length).map((l) => l.text),
    fields,
    rows: [],
    marks: orderBelow(above, heading),
    short: [],
    long: [],
    summary: [],
    between: [],
    numeric: numericColumns(rows),
  };
}

/** Rows as they stand, where blanks part their cells: headings may stand over them by place. */
function writtenRows(lines: Lines, from: number, delimiter: string): string[] {
  if (delimiter !== " ") return [];
  return Array.from({ length: Math.min(40, lines.count - from) }, (_, k) => lines.text(from + k));
}

function linesAbove(lines: Lines, look: (i: number) => Looked, pending: readonly number[]): LineAbove[] {
  return pending
    .map((i, k) => ({ i, behindBlank: k > 0 && look(pending[k - 1]).blank }))
    .filter(({ i }) => !look(i).blank)
    .map(({ i, behindBlank }) => ({ text: lines.text(i), cells: look(i).cells, behindBlank }));
}

/** True when what stands before a row that would fit the table at hand is the heading of another table. */
function beginsTable(
  lines: Lines,
  look: (i: number) => Looked,
  pending: readonly number[],
  i: number,
  block: Open,
  delimiter: string,
): boolean {
  const above = linesAbove(lines, look, pending);
  if (above.length === 0) return false;
  const found = headingOf(above, block.fields, [look(i).cells], delimiter, writtenRows(lines, i, delimiter));
  if (found === undefined || block.heading === undefined) return false;
  const same = (a: readonly string[] = [], b: readonly string[] = []): boolean =>
    a.length === b.length && a.every((c, k) => c === b[k]);
  if (same(found.names, block.heading.names)) return false;
  // A message of as many words as there are columns is no heading: that has units, or a name in common with the one
  // before. A level in brackets (`[INFO] leads changed`) is no unit.
  const known = new Set(block.heading.names);
  if (found.units !== undefined || found.names.some((n) => n !== "" && known.has(n))) return true;
  const names = found.names.filter((n) => n !== "");
  const marked = names.filter((n) => /[^\s[(].*[[(/_]/.test(n)).length;
  const parted = delimiter !== " " && (above[found.top]?.cells.length ?? 0) > 1;
  return marked >= (parted ? 1 : Math.max(1, 0.5 * names.length));
}

/** A remark between the heading and the first row that names an order of the leads: the title of the first run. */
function orderBelow(above: readonly LineAbove[], heading: Heading | undefined): Mark[] {
  if (heading === undefined) return [];
  const line = above.slice(heading.top + 1).find((l) => factsFromNames([l.text]).ordering !== undefined);
  return line === undefined ? [] : [{ row: 0, title: cleanTitle(line.text), by: "remark" }];
}

/** Notes what stands between two rows: the heading once more, a title, or other text. */
function markBreak(
  lines: Lines,
  pending: readonly number[],
  block: Open,
  delimiter: string,
  next: number,
): void {
  const texts = pending.filter((i) => lines.cells(i).some((c) => c !== ""));
  if (texts.length === 0) return;
  const above = texts.map((i) => ({ text: lines.text(i), cells: lines.cells(i) }));
  const found =
    block.heading === undefined
      ? undefined
      : headingOf(above, block.fields, [lines.cells(next)], delimiter, writtenRows(lines, next, delimiter));
  const again = found?.names.every((n, k) => n === block.heading?.names[k]) === true;
  const title = titleOf(above.slice(0, again ? found?.top : above.length).map((l) => l.text));
  const row = block.rows.length;
  if (again) block.marks.push({ row, title, by: "heading" });
  else if (title !== undefined)
    block.marks.push({ row, title: cleanTitle(title), by: titled.test(title) ? "title" : "remark" });
  const used = again ? texts.length - (found?.top ?? 0) : 0;
  block.between.push(...texts.slice(0, texts.length - used));
}

/** The line that names a block: the last above it that is no list of settings. */
export function titleOf(texts: readonly string[]): string | undefined {
  const own = texts.map(cleanTitle).filter((t) => t !== "" && t.length <= 100);
  const title = own.findLast((t) => titled.test(t)) ?? own.at(-1);
  return title;
}

function cleanTitle(text: string): string {
  return (
    text
      .replace(/^[\s#%;!*/=_~"'-]+|[\s#%;!*/=_~"',-]+$/g, "")
      // Signs between cells, and not those of a sentence.
      .replace(/[;,]*\t[;,\t]*|[;,]{2,}|[;,](?! )/g, " ")
      .trim()
  );
}

/** Takes rows of means, sums and the like off the end of a table. */
function takeSummary(lines: Lines, block: Open): void {
  for (let n = 0; n < 12 && block.rows.length > 3; n += 1) {
    const i = block.rows[block.rows.length - 1];
    const cells = lines.cells(i);
    const word = cells.find((c, k) => block.numeric[k] && cellKind(c) === "word");
    const first = block.numeric.indexOf(true);
    if (word === undefined || !(summaryWords.test(word) || cellKind(cells[first] ?? "") === "word")) return;
    block.rows.pop();
    block.summary.unshift(i);
  }
}
