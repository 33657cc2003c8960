import stringWidth from "string-width";

/** What no text for people may hold. Each complaint names what is wrong and shows where. */

/** A rule: its name, and what of a paragraph breaks it (undefined when nothing does). */
interface Rule {
  readonly name: string;
  readonly broken: (paragraph: string) => string | undefined;
}

const match =
  (pattern: RegExp) =>
  (text: string): string | undefined =>
    pattern.exec(text)?.[0];

/** Words that begin a sentence of ours: in the middle of one, without a stop before, two sentences ran into each
 * other. */
const starters =
  "The|This|That|These|Those|It|Its|They|There|State|Give|Repeat|Check|Record|Without|Where|When|Until|Either|Neither|Nothing|No|Only|What|Whether|Both|An|As|Of|From|For|By";

const rules: readonly Rule[] = [
  {
    name: "NaN, undefined, null or Infinity",
    broken: match(/\b(?:NaN|undefined|null|Infinity)\b|\[object /),
  },
  { name: "a minus zero", broken: match(/(?<![\w.,:/-])[-−]0(?:\.0+)?(?![\w.,:/-]*\d)(?![\w:/-])/) },
  { name: "empty brackets", broken: match(/\(\s*\)|\[\s*\]|""/) },
  { name: "a unit code in braces", broken: match(/\{(?:rev|count|counts|cycle|pole|step)[^}]*\}/) },
  {
    name: "a unit code",
    broken: match(/(?<!"[\d.]+ )\b(?:[mu]?N\.m\b|kg\.m2|V\.s\/rad|rad\/s2\b|A\.s)|\d s-1\b/),
  },
  { name: "x of y with x above y", broken: moreThanAll },
  { name: "more than 100 per cent", broken: overHundred },
  { name: "a word twice", broken: doubled },
  { name: "a time of day in seconds since 1970", broken: match(/\b1[5-9]\d{8}(?:\.\d+)? ?s\b/) },
  { name: "something undetermined that is quite sure", broken: sureOfNothing },
  {
    name: "two stops, or a stop beside another sign",
    broken: match(
      /(?<!\.)\.\.(?![./\\])|(?<!&[lg]t)[,;:]\.(?!\w)|\.[,;](?!\w)|(?<!&[lg]t;?);;|,,|\. \.|\?\./,
    ),
  },
  {
    name: "one of several",
    broken: match(/(?<![\d.,−-])1 (?:trials|recordings|files|rows|steps|cells|motors|orders|columns)\b/),
  },
  {
    name: "a wrong article",
    broken: match(
      /\ba (?:unknown|alignment|idle|order|offset|open|encoder|error)\b|\ban (?:torque|speed|motor|trial)\b/,
    ),
  },
  { name: "a blank before a stop or comma", broken: match(/(?<!--[a-z]+)(?<=\w) (?:\.(?![\w.])|,|;)/) },
  {
    name: "two sentences without a stop between",
    broken: match(new RegExp(`(?<!\\([UVW]{3})[a-z\\d)%] (?:${starters}) [a-z]+ [a-z]+`)),
  },
  { name: "several sentences without a stop at the end", broken: noStopAtEnd },
];

/** `9 of 4 commands`. */
function moreThanAll(text: string): string | undefined {
  for (const [all, x, y] of text.matchAll(
    /(?<![\d.,−-])(\d+(?:\.\d+)?) of (\d+(?:\.\d+)?)(?![\d.,]*\d|\s?(?:%|V\b|A\b))/g,
  ))
    if (Number(x) > Number(y)) return all;
  return undefined;
}

/** A percentage above 100 where it is no overshoot, which may be any. */
function overHundred(text: string): string | undefined {
  for (const { 0: all, 1: number, index } of text.matchAll(/(?<![\d.,])(\d+(?:\.\d+)?) ?%/g))
    if (
      Number(number) > 100 &&
      !/oversho|over\b|above|below|error|(?:rose|fell) by/.test(text.slice(Math.max(0, index - 60), index))
    )
      return all;
  return undefined;
}

function doubled(text: string): string | undefined {
  for (const { 0: all, 1: word } of text.matchAll(/(?<![\p{L}\p{N}_-])(\p{L}{2,}) \1(?![\p{L}\p{N}_-])/giu))
    if (!/^(?:that|had|log|NA+)$/i.test(word)) return all;
  return undefined;
}

function sureOfNothing(text: string): string | undefined {
  // In a row of a table what follows another verdict is sure of that one.
  return /undetermined(?:(?!blocked|tracking|reversed|runaway)[^.;]){0,60}?(?:100|over 99|>99|99) %(?: sure)?/i.exec(
    text,
  )?.[0];
}

/** A paragraph of running text that holds the end of a sentence ends with one. */
function noStopAtEnd(text: string): string | undefined {
  const plain = text.trim();
  const typed = /--[a-z-]+(?:[ =]\S+)?$|--[a-z-]+[ =][^.]*$/.test(plain);
  const named = /NA+[^ ]*(?: \d\.\w+)?(?:#\S*)?$/.test(plain);
  return !named && /[a-z)%] ?\. [A-Z][a-z]+ [a-z]/.test(plain) && !typed && !/[.!?:)…"|`]$/.test(plain)
    ? plain.slice(-60)
    : undefined;
}

/** What begins a paragraph of its own, however full the line before it is. */
const heading =
  /^(?:- |\d+\. |[A-Z][\w ]{1,20}: (?:UTF|LATIN|WINDOWS)-|(?:note|warning|error|missing|assumed|timing|caution): |Seen and held against$|What moved the prob|Causes, with the prob|What to do$)/;

/**
 * Paragraphs of a text: a line goes on in the next one where the next word would not have fitted.
 *
 * @param width characters a line; without it nothing is wrapped
 */
export function paragraphsOf(text: string, width = Number.POSITIVE_INFINITY): string[] {
  const out: string[] = [];
  let before = "";
  for (const line of text.split("\n")) {
    const body = line.trim();
    const [first = "", second] = body.split(" ", 2);
    const word = second?.startsWith("%") ? `${first} ${second}` : first;
    const full = before.length + 1 + word.length > width;
    const isTable = / {2,}\S/.test(body.replace(/^(?:\d+\.|-|[<>]?\d+ %|[UVW]{3})\s+/, ""));
    if (full && before !== "" && body !== "" && !isTable && !heading.test(body) && out.length > 0)
      out[out.length - 1] += ` ${body}`;
    else if (body !== "") out.push(body);
    before = isTable ? "" : line;
  }
  return out;
}

/**
 * Everything that is ugly in a text for people.
 *
 * @param names Text from outside that is in it: what stands in them is not ours.
 * @param width characters a line, where it is wrapped
 * @param parts recordings it speaks of, each of which may say the same
 */
export function uglyIn(text: string, names: readonly string[] = [], width?: number, parts = 1): string[] {
  let ours = text;
  for (const name of [...names].sort((a, b) => b.length - a.length))
    if (name !== "") ours = ours.replaceAll(name, "N".padEnd(Math.max(4, name.length), "A"));
  const found: string[] = [];
  const seen = new Map<string, number>();
  for (const paragraph of paragraphsOf(ours, width)) {
    for (const { name, broken } of rules) {
      const what = broken(paragraph);
      if (what !== undefined) {
        const at = paragraph.indexOf(what);
        found.push(`${name}: …${paragraph.slice(Math.max(0, at - 60), at + what.length + 60)}…`);
      }
    }
    if (paragraph.length > 60 && !paragraph.startsWith("|") && !/ {2}\S/.test(paragraph))
      seen.set(paragraph, (seen.get(paragraph) ?? 0) + 1);
  }
  for (const [paragraph, times] of seen)
    if (times > Math.max(2, parts)) found.push(`the same ${times} times: ${paragraph.slice(0, 140)}`);
  return found;
}

/** Lines of a terminal that go beyond its width and could have been broken. */
export function tooWide(text: string, width: number): string[] {
  return text
    .split("\n")
    .filter(
      (line) =>
        stringWidth(line) > width &&
        Math.max(
          ...line
            .trim()
            .split(/ +/)
            .map((word) => stringWidth(word)),
        ) <
          width / 2,
    )
    .map((line) => `a line of ${stringWidth(line)} columns of ${width}: ${line.trim().slice(0, 160)}`);
}
