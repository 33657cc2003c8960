/** One record of a table: its line, from 1, its fields, and the text they were read from. */
export interface RecordLine {
  readonly line: number;
  readonly fields: string[];
  readonly text: string;
}

/** Splits text into records by RFC 4180 (quoted fields may hold delimiters, quotes doubled, line breaks). */
export function splitRecords(text: string, delimiter: string, most: number, complete: boolean): RecordLine[] {
  if (!text.includes('"')) return splitLines(text, delimiter, most, complete);
  const records: RecordLine[] = [];
  let line = 1;
  let at = 0;
  const n = text.length;
  while (at < n && records.length < most) {
    const startLine = line;
    const start = at;
    const fields: string[] = [];
    let ended = false;
    while (!ended) {
      let field = "";
      if (text[at] === '"') {
        at += 1;
        for (;;) {
          const q = text.indexOf('"', at);
          if (q < 0) {
            field += text.slice(at);
            at = n;
            break;
          }
          field += text.slice(at, q);
          if (text[q + 1] === '"') {
            field += '"';
            at = q + 2;
          } else {
            at = q + 1;
            break;
          }
        }
        line += (field.match(/\r\n|\n|\r/g) ?? []).length;
      }
      let end = at;
      while (end < n && text[end] !== "\n" && text[end] !== "\r" && text[end] !== delimiter) end += 1;
      field += text.slice(at, end);
      fields.push(field);
      at = end;
      if (at >= n) {
        ended = true;
        if (!complete) return records; // the block ends inside a record
      } else if (text[at] === delimiter) at += 1;
      else {
        const stop = at;
        at += text[at] === "\r" && text[at + 1] === "\n" ? 2 : 1;
        line += 1;
        records.push({ line: startLine, fields, text: text.slice(start, stop) });
        ended = true;
        break;
      }
      if (ended) records.push({ line: startLine, fields, text: text.slice(start, at) });
    }
  }
  return records;
}

/** The same where nothing is quoted: every line is a record. */
function splitLines(text: string, delimiter: string, most: number, complete: boolean): RecordLine[] {
  const records: RecordLine[] = [];
  for (let at = 0; at < text.length && records.length < most; ) {
    let end = at;
    for (; end < text.length; end += 1) {
      const c = text.charCodeAt(end);
      if (c === 10 || c === 13) break;
    }
    // The block ends inside a record.
    if (end === text.length && !complete) break;
    const own = text.slice(at, end);
    records.push({ line: records.length + 1, fields: own.split(delimiter), text: own });
    at = end + (text.startsWith("\r\n", end) ? 2 : 1);
  }
  return records;
}
