const token = /<([/!?]?)([A-Za-z][\w:.-]{0,60})?([^<>]*)>/g;
const attribute = /([\w:.-]{1,60})\s*=\s*(?:"([^"<>]{0,200})"|'([^'<>]{0,200})')/g;
const entities: ReadonlyMap<string, string> = new Map([
  ["lt", "<"],
  ["gt", ">"],
  ["amp", "&"],
  ["quot", '"'],
  ["apos", "'"],
  ["nbsp", " "],
  ["deg", "°"],
  ["micro", "µ"],
  ["minus", "-"],
]);
const rowTags = /^(tr|row)$/i;
const cellTags = /^(td|th|cell)$/i;
/** Fewer elements than this are no rows. */
const fewest = 5;

/**
 * The values of a text in markup as lines: rows of a table (HTML, or a workbook in XML) with tabs between their cells;
 * elements with their values in attributes, or in elements within, as `name: value`. Undefined for any other text.
 *
 * @example
 * unmarked("<log>" + '<s t="0" i="1"/>'.repeat(9) + "</log>"); // nine lines `t=0\ti=1`
 */
export function unmarked(text: string): string | undefined {
  if (!/^[\s\ufeff]*<(?:\?xml|!doctype|[a-z][\w:-]{0,60}[\s>])/i.test(text.slice(0, 4000))) return undefined;
  return tableText(text) ?? attributeText(text) ?? leafText(text);
}

function plain(text: string): string {
  return text
    .replace(/&(#\d{1,7}|#x[\da-f]{1,6}|[a-z]{2,8});/gi, (all, name: string) => {
      const code = /^#x/i.test(name) ? Number.parseInt(name.slice(2), 16) : Number(name.slice(1));
      if (name.startsWith("#")) return code > 0 && code < 0x110000 ? String.fromCodePoint(code) : all;
      return entities.get(name.toLowerCase()) ?? all;
    })
    .replace(/\s+/g, " ")
    .trim();
}

/** Pieces of a text in markup: tags, and the text before each. */
function* pieces(text: string): Generator<{
  readonly close: boolean;
  readonly name: string;
  readonly rest: string;
  readonly before: string;
}> {
  let at = 0;
  const own = new RegExp(token);
  for (let m = own.exec(text); m !== null; m = own.exec(text)) {
    const before = text.slice(at, m.index);
    at = m.index + m[0].length;
    yield { close: m[1] === "/", name: (m[2] ?? "").replace(/^.*:/, ""), rest: m[3], before };
  }
}

function tableText(text: string): string | undefined {
  const lines: string[] = [];
  let row: string[] | undefined;
  let cell = "";
  let within = false;
  for (const { close, name, rest, before } of pieces(text)) {
    if (within) cell += `${before} `;
    if (cellTags.test(name)) {
      if (within || close) row?.push(plain(cell));
      within = !close && !rest.endsWith("/");
      cell = "";
    } else if (rowTags.test(name)) {
      if (within) row?.push(plain(cell));
      within = false;
      if (row !== undefined && row.length > 0) lines.push(row.join("\t"));
      row = close ? undefined : [];
    }
  }
  return lines.length < fewest ? undefined : `${lines.join("\n")}\n`;
}

function attributeText(text: string): string | undefined {
  const lines: string[] = [];
  for (const { close, rest } of pieces(text)) {
    if (close || !rest.includes("=")) continue;
    const values = [...rest.matchAll(attribute)].map((m) => `${m[1]}=${plain(m[2] ?? m[3] ?? "")}`);
    if (values.length > 1) lines.push(values.join("\t"));
  }
  return lines.length < fewest ? undefined : `${lines.join("\n")}\n`;
}

function leafText(text: string): string | undefined {
  const lines: string[] = [];
  let open = "";
  for (const { close, name, before } of pieces(text)) {
    if (close && name === open) {
      const value = plain(before);
      if (value !== "") lines.push(`${name}: ${value}`);
    }
    open = close ? "" : name;
  }
  return lines.length < 2 * fewest ? undefined : `${lines.join("\n")}\n`;
}
