import { inFigures } from "../columns/wordedStamps.js";

/** What a logger wrote before the values of a line. */
export interface PrefixedLine {
  /** The moment or the number of the line, as written; empty where it has none. */
  readonly stamp: string;
  /** Words between: the tag of a program, the kind of the message. */
  readonly kind: string;
  /** What is left. */
  readonly rest: string;
  /** More was taken off than a moment and blanks. */
  readonly dressed: boolean;
  /** The line begins with a word before plain numbers, which may be the first cell of a table. */
  readonly bare: boolean;
  /** A bar stood between its pieces. */
  readonly barred: boolean;
}

const clock = String.raw`\d\d?:\d\d:\d\d(?:[.,:]\d{1,9})?(?: ?[AP]M)?(?:Z|[+-]\d\d:?\d\d)?`;
const date = String.raw`(?:\d{4}[-/.]\d\d?[-/.]\d\d?[T _]+|\d\d?[-/.]\d\d?[-/.]\d{4}[T _]+|\d\d?[-/]\d\d? |\d\d?\.\d\d?\. ?)`;
const moment = `${date}?${clock}`;
/** A date with the name of its month, before or behind its day, and a time of day. */
const named = String.raw`(?:\p{L}{2,12}[.,]{0,2} )?(?:\d{1,4}[-/. ]{1,2}(?:de )?)?\p{L}[\p{L}\p{M}.]{1,14}[-/,. ]{1,2}(?:de )?(?:\d{1,4}[-/:,. ]{1,2}){0,2}${clock}(?: (?:\d{4}|[+-]\d{4})(?=[\s\]]))?`;
const tagWord = String.raw`[\p{L}_][\p{L}\p{N}_./@-]{0,40}`;
const level =
  "(?:TRACE|DEBUG|DBG|INFO|INF|NOTICE|WARN(?:ING)?|WRN|ERROR|ERR|FATAL|CRIT(?:ICAL)?|VERBOSE|LOG|DATA|RX|TX)";
const numberText = String.raw`[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?`;

/** One piece of a prefix: what it looks like from where a line has been read to. */
const pieces: readonly (readonly [
  "named" | "moment" | "skip" | "level" | "tag" | "first" | "prompt",
  RegExp,
])[] = [
  ["skip", /<\d{1,3}>\s*/y],
  ["moment", new RegExp(String.raw`[[(]?\s*(${moment})\s*[\])]?(?=[\s:,;|>-]|$)`, "yi")],
  ["named", new RegExp(String.raw`[[(]?\s*(${named})\s*[\])]?(?=[\s:,;|>-]|$)`, "yiu")],
  ["moment", /[[(]\s*([+-]?\d+(?:\.\d+)?)\s*(?:[mun]?s)?\s*[\])](?=[\s:[])/y],
  ["moment", /#(\d+)(?=[\s:])/y],
  ["tag", new RegExp(String.raw`\[\s*(${tagWord}(?: ${tagWord})?(?::\d+)?)\s*\](?=[\s:])`, "yu")],
  // Between two pieces.
  ["skip", /(?:->|=>|[-–|:>])?\s+(?:(?:->|=>|[-–|>])\s+)?|:(?=\s|$)/y],
  ["skip", new RegExp(String.raw`${level}(?=\s*[:|\]-]|\s)`, "yi")],
  ["skip", /[IDWEV](?= \()/y],
  // Only behind another piece: else it is markup.
  ["level", /<[a-z]{2,8}>(?=\s)/iy],
  // A program and its number, or one word before a dash or a colon, when words follow it.
  ["tag", new RegExp(String.raw`(${tagWord})(?:\[\d+\]|\(\d+\)):?(?=\s)`, "yu")],
  ["tag", new RegExp(String.raw`(${tagWord}) -(?=\s)`, "yu")],
  // A file, perhaps a function, and a line of a program.
  ["tag", /([\p{L}_][\p{L}\p{N}_/-]{0,60}\.\p{L}{1,4}(?::[\p{L}_]\w{0,60})?:\d+):?(?=\s)/uy],
  [
    "tag",
    new RegExp(String.raw`(${tagWord}):(?=\s+(?:[\p{L}_"{[]|${numberText}\s*[,;\t]\s*${numberText}))`, "yu"),
  ],
  ["tag", new RegExp(String.raw`(${tagWord})(?=\s+${tagWord}(?:\[\d+\])?:\s+[\p{L}_"{[])`, "yu")],
  ["tag", new RegExp(String.raw`(${tagWord})(?=\s+${level}\b)`, "yu")],
  [
    "tag",
    new RegExp(String.raw`((?=[\p{L}_]{0,12}\d|[A-Z]{2})${tagWord})(?=\s+${tagWord}[=:])(?!.*\s\1\s)`, "yu"),
  ],
  // A machine, and a word for what follows, before nothing but keys of one word with their values.
  [
    "tag",
    new RegExp(
      String.raw`((?=[\p{L}_]{0,12}\d)${tagWord}\s+\p{L}{3,20})(?=(?:\s+${tagWord}[=:]\s?[^\s=:]{1,40}(?:\s[^\s=:]{1,8})?){2,60}\s*$)`,
      "yu",
    ),
  ],
  // Only at the beginning of a line.
  [
    "first",
    new RegExp(String.raw`([A-Z][A-Z0-9_]{1,11})\s+(?=${numberText}(?:\s+${numberText}|[;,\t]))`, "y"),
  ],
  ["moment", new RegExp(String.raw`(${numberText})\s+(?=${tagWord}:\s+${tagWord}\s*[=:])`, "yu")],
  ["moment", new RegExp(String.raw`(${numberText})\s+(?=${level}\b)`, "yi")],
  ["prompt", /[\w.~@/-]{0,30}[>$](?=\s*\S)/y],
];
const mostPieces = 16;

/** The place of the last letter before a time of day, beyond which no date with the name of its month begins; -1 where
 * there is none. */
function lastLetter(line: string): number {
  for (let k = (/\d:\d\d:\d/.exec(line.slice(0, 80))?.index ?? 0) - 1; k >= 0; k -= 1) {
    const c = line.charCodeAt(k);
    if (c > 127 || ((c | 32) >= 97 && (c | 32) <= 122)) return k;
    // A label and its value.
    if (c === 58 || c === 61) return -1;
  }
  return -1;
}

/** Takes the prefix of a logger off a line. */
export function prefixOf(line: string): PrefixedLine {
  let at = /^\s*/.exec(line)?.[0].length ?? 0;
  const stamps: string[] = [];
  const tags: string[] = [];
  let taken = at;
  let dressed = false;
  let barred = false;
  let bare = false;
  const last = lastLetter(line);
  for (let n = 0; n < mostPieces && at < line.length; n += 1) {
    let moved = false;
    for (const [kind, pattern] of pieces) {
      if ((kind === "prompt" || kind === "first") && n > 0) continue;
      if (kind === "level" && n === 0) continue;
      if (kind === "named" && at > last) continue;
      pattern.lastIndex = at;
      const m = pattern.exec(line);
      if (m === null || m[0].length === 0) continue;
      const figures = kind === "named" ? inFigures(m[1].replace(/ {2,}/, " ")) : undefined;
      // Words and numbers before a time of day that are no date.
      if (kind === "named" && figures === undefined) continue;
      const found = figures ?? m[1] ?? m[2];
      const stamped = kind === "named" || kind === "moment";
      if (!stamped || /^[[(#]/.test(m[0])) dressed ||= m[0].trim() !== "";
      bare ||= kind === "first";
      barred ||= kind === "skip" && m[0].includes("|");
      if (stamped) stamps.push(found);
      else if (kind === "tag" || kind === "first") tags.push(found);
      at += m[0].length;
      moved = true;
      break;
    }
    if (!moved) break;
    taken = at;
  }
  const rest = line
    .slice(taken)
    .trim()
    .replace(/^"([^"]*)"$/, "$1");
  // The most telling moment: one with a day or a time of day before a plain number.
  const stamp = stamps.find((s) => s.includes(":")) ?? stamps.find((s) => s.includes(".")) ?? stamps[0] ?? "";
  return { stamp, kind: tags.join(" "), rest, dressed, bare, barred };
}
