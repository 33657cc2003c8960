// Prose at most 120 columns wide: `npx tsx tests/house/reflow.ts [--write]` lists (or mends) the paragraphs of Markdown
// pages and the comments of code that are wider. Tables, code, headings, addresses and the stored data of others stay
// as they are.
import { execFileSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";

const root = join(import.meta.dirname, "..", "..");
const width = 120;

/** Words of a paragraph set to a width; a word that would begin a line as a Markdown mark takes the word before it
 * along. */
function wrap(words: readonly string[], first: string, next: string, limit = width): string[] {
  const lines: string[] = [];
  let [lead, line]: [string, string[]] = [first, []];
  const isMark = (word: string): boolean => /^([-+*>#|=]|\d+[.)])/.test(word);
  for (const word of words) {
    if (line.length > 0 && lead.length + [...line, word].join(" ").length > limit) {
      let keep = line.length;
      if (isMark(word)) while (keep > 1 && isMark([...line, word][keep]!)) keep--;
      lines.push(lead + line.slice(0, keep).join(" "));
      [lead, line] = [next, line.slice(keep)];
    }
    line.push(word);
  }
  return [...lines, lead + line.join(" ")];
}

/** A page of Markdown with its paragraphs and list entries set to the width. */
export function reflowMarkdown(text: string, limit = width): string {
  const out: string[] = [];
  let fence = false;
  const lines = text.split("\n");
  for (let k = 0; k < lines.length; k++) {
    const line = lines[k]!;
    if (/^\s*(```|~~~)/.test(line)) fence = !fence;
    const plain = !fence && isProse(line);
    if (!plain) {
      out.push(line);
      continue;
    }
    const lead = /^(\s*(?:[-*+]\s+|\d+[.)]\s+|>\s?)?)/.exec(line)![1]!;
    const quote = lead.trim() === ">";
    const next = quote ? lead : " ".repeat(lead.length);
    const paragraph = [line.slice(lead.length)];
    let wide = line.length > limit;
    while (k + 1 < lines.length && continues(lines[k + 1]!, quote) && !/ {2}$|\\$/.test(lines[k]!)) {
      k++;
      wide ||= lines[k]!.length > limit;
      paragraph.push(quote ? lines[k]!.replace(/^>\s?/, "") : lines[k]!.trim());
    }
    if (wide) out.push(...wrap(paragraph.join(" ").split(/\s+/).filter(Boolean), lead, next, limit));
    else out.push(line, ...lines.slice(k - paragraph.length + 2, k + 1));
  }
  return out.join("\n");
}

const isProse = (line: string): boolean =>
  line.trim() !== "" && !/^\s*(\||#|<|!\[|---|===|```|~~~|\[[^\]]+\]:)/.test(line) && !/^ {4,}\S/.test(line);
const continues = (line: string, quote: boolean): boolean =>
  quote
    ? /^>\s?\S/.test(line) && !/^>\s?([-*+]|\d+[.)])\s/.test(line)
    : isProse(line) && !/^\s*([-*+]|\d+[.)])\s|^\s*>/.test(line);

/** Code with the running text of its comments set to the width; examples, lists and tables in comments stay. */
export function reflowComments(text: string): string {
  const out: string[] = [];
  const lines = text.split("\n");
  let example = false;
  for (let k = 0; k < lines.length; k++) {
    const line = lines[k]!;
    const found = /^(\s*)(\/\/ |\/\*\* | \* )(.*)$/.exec(line);
    if (found === null) {
      if (/\*\/\s*$/.test(line)) example = false;
      out.push(line);
      continue;
    }
    const [, indent, mark, body] = found as unknown as [string, string, string, string];
    if (mark !== "// ") {
      if (/^@example\b/.test(body)) example = true;
      else if (/^@\w+/.test(body)) example = false;
    }
    if (example || !/^[^\s|`]/.test(body)) {
      if (/\*\/\s*$/.test(line)) example = false;
      out.push(line);
      continue;
    }
    const block = mark !== "// ";
    const next = block ? `${indent} * ` : `${indent}// `;
    const paragraph = [line];
    const ended = (entry: string): boolean => block && /\*\/\s*$/.test(entry);
    while (!ended(lines[k]!) && k + 1 < lines.length) {
      const following = lines[k + 1]!;
      const rest = block
        ? /^\s* \* (.*)$/.exec(following)?.[1]
        : following.startsWith(`${indent}// `)
          ? following.slice(indent.length + 3)
          : undefined;
      if (rest === undefined || !/^[^\s|`@\-*/]/.test(rest) || /^(\d+[.)]|biome-ignore)/.test(rest)) break;
      paragraph.push(following);
      k++;
    }
    if (!paragraph.some((entry) => entry.length > width) || /biome-ignore|https?:\S{60}/.test(line)) {
      out.push(...paragraph);
      if (ended(paragraph.at(-1)!)) example = false;
      continue;
    }
    const closing = ended(paragraph.at(-1)!);
    const words = paragraph
      .map((entry) => entry.replace(/^\s*(\/\/ |\/\*\* | \* )/, "").replace(/\s*\*\/\s*$/, ""))
      .join(" ")
      .split(/\s+/)
      .filter(Boolean);
    if (closing) words.push("*/");
    out.push(...wrap(words, `${indent}${mark}`, next));
    example = false;
  }
  return out.join("\n");
}

/** Files of ours whose prose is looked at. */
function ownFiles(): string[] {
  const all = execFileSync("git", ["ls-files", "*.md", "*.ts"], { cwd: root, encoding: "utf8" })
    .trim()
    .split("\n");
  return all.filter((name) => !/^datasets\/field\/|^tests\/.*\/files\//.test(name));
}

/** Names of files with prose that is too wide, with the text they should have. */
export function tooWide(): { readonly name: string; readonly text: string }[] {
  return ownFiles().flatMap((name) => {
    const before = readFileSync(join(root, name), "utf8");
    const text = name.endsWith(".md") ? reflowMarkdown(before) : reflowComments(before);
    return text === before ? [] : [{ name, text }];
  });
}

if (process.argv[1] === import.meta.filename) {
  for (const { name, text } of tooWide()) {
    console.log(name);
    if (process.argv.includes("--write")) writeFileSync(join(root, name), text);
  }
}
