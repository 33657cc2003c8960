const remark = /^[ \t]*(#+|%+|\/\/+|;+)[ \t]*(.*)$/;
const said =
  /(?:^|[\s,;(])(?:columns?|cols?|fields|channels|spalten|colonnes|champs|columnas|campos|colonne|colunas|kolommen|kolumny|sloupce|столбцы|列)\s*[:=]\s*(.+?)\s*$/iu;
const looked = 60;

/**
 * A remark that lists the names of the columns behind other words (`% fs = 100 Hz, columns: r y u`), above or below the
 * rows, as a heading of its own above them; the text as it is where there is none, or their number is another.
 */
export function withNamesOfRemarks(text: string): string {
  const ends = `${text.slice(0, 16_384)}\n${text.slice(-4096)}`;
  if (!ends.split("\n").some((l) => said.test(remark.exec(l)?.[2] ?? ""))) return text;
  const lines = text.split("\n");
  const remarks = [...lines.slice(0, looked).keys(), ...tail(lines)].filter((i) => remark.test(lines[i]));
  for (const i of remarks) {
    const [, mark, words] = remark.exec(lines[i].replace(/\r$/, "")) ?? [];
    const list = said.exec(words ?? "");
    if (list === null || list.index === undefined) continue;
    const names = list[1].split(/\s*[,;\t|]\s*|\s+(?![[(])/).filter((w) => w !== "");
    const row = lines.find((l) => /^[\s[{(]*[+-]?[.\d]/.test(l));
    const cells = row
      ?.replace(/[[\](){};\r]+/g, " ")
      .trim()
      .split(/\s*[,;\t|]\s*|\s+/);
    if (names.length < 2 || cells?.length !== names.length) continue;
    const at = lines.indexOf(row ?? "");
    const delimiter = /[,;\t|]/.exec(row ?? "")?.[0] ?? " ";
    // The lines keep their numbers: the remark's own words stay where they are, the names go onto the line before.
    if (i < at && list.index === 0) return text;
    const heading = `${mark} ${names.join(delimiter)}`;
    const before = lines.slice(0, at).findLastIndex((l) => l.trim() === "" || remark.test(l));
    if (before < 0 || before === i) return [...lines.slice(0, at), heading, ...lines.slice(at)].join("\n");
    return lines.map((l, k) => (k === before ? heading : l)).join("\n");
  }
  return text;
}

function tail(lines: readonly string[]): number[] {
  const from = Math.max(looked, lines.length - 10);
  return Array.from({ length: Math.max(0, lines.length - from) }, (_, k) => from + k);
}
