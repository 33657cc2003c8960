/**
 * Reads every text for people over many made-up customers, and over logs in folders that are named, holds every JSON
 * document of the commands against its schema, and prints what is ugly or cannot be, equal complaints once:
 * `npx tsx tests/cli/readHumanText.ts <first seed> <count> [folder of logs]...`. A folder gives one case for each file in it;
 * with `HABITS=1` the customers keep several runs in one file, with `RIGS=1` they are the rigs of the judging bench,
 * with `COLUMNS=80` the terminal is as narrow, and after
 * `MINUTES` it stops. `OUT` names a file that holds what was found so far, written after every case, and a case that
 * takes longer than two minutes is a complaint.
 */
import { mkdtempSync, readdirSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { tooWide, uglyIn } from "../house/humanText.js";
import { wrongDocuments } from "./documents.js";
import { writeHabitCase } from "./habitCases.js";
import { type HumanCase, writeCase } from "./humanCases.js";
import { textsOf, widthOf } from "./humanText.js";
import { writeRigCase } from "./rigCases.js";

const [first = "0", count = "100", ...folders] = process.argv.slice(2);
const home = mkdtempSync(join(tmpdir(), "shaftwise-read-"));
const complaints = new Map<string, { count: number; example: string; where: string }>();
const write =
  process.env.RIGS === "1" ? writeRigCase : process.env.HABITS === "1" ? writeHabitCase : writeCase;
const made = Array.from({ length: Number(count) }, (_, i) => () => write(home, Number(first) + i));
const given = folders.flatMap((folder) =>
  readdirSync(folder)
    .filter((name) => !name.endsWith(".json") || !name.includes(".truth."))
    .map((name) => join(folder, name))
    .map((file) => (): HumanCase => ({ folder: file, files: [file], names: [file, name(file)] })),
);
const name = (file: string): string => file.slice(file.lastIndexOf("/") + 1);
/** Counts complaints, equal ones once. */
function complain(where: string, lines: readonly string[], { files }: HumanCase): void {
  for (const line of lines) {
    const key = `${where.split(" ")[0]}: ${line.replace(/[\d.,]+/g, "#").slice(0, 60)}`;
    const before = complaints.get(key);
    complaints.set(key, {
      count: (before?.count ?? 0) + 1,
      example: before?.example ?? line,
      where: before?.where ?? `${where} of ${files[0]}`,
    });
  }
}
let cases = 0;
let texts = 0;
/** What was found so far. */
function found(): string {
  const sorted = [...complaints.values()].sort((a, b) => b.count - a.count);
  const seconds = Math.round((Date.now() - started) / 1000);
  return [
    ...sorted.map(({ count: times, example, where }) => `${times} x ${example}\n      first in ${where}`),
    `${cases} cases, ${texts} texts, ${complaints.size} kinds of complaint, ${seconds} s`,
  ].join("\n");
}
const started = Date.now();
for (const make of [...made, ...given]) {
  if (Date.now() - started > 60_000 * Number(process.env.MINUTES ?? 24 * 60)) break;
  const one = make();
  const began = Date.now();
  cases += 1;
  try {
    const all = await textsOf(one, process.env.PAGES === "1" && statSync(one.files[0]).size < 5e6);
    // Recordings of one file are told one by one.
    const pages = all.inspect.match(/^ *channel +range/gm)?.length ?? 0;
    const explained = Object.keys(all).filter((key) => key.startsWith("explain")).length;
    const parts = Math.max(pages, explained);
    for (const [where, text] of Object.entries(all)) {
      texts += 1;
      const lines = uglyIn(text, one.names, widthOf(where), 4 * Math.max(one.files.length, parts));
      complain(where, [...lines, ...tooWide(text, widthOf(where) ?? Number.POSITIVE_INFINITY)], one);
    }
    for (const [where, lines] of Object.entries(await wrongDocuments(one))) {
      texts += 1;
      complain(where, lines, one);
    }
    if (process.env.KEEP)
      writeFileSync(
        join(process.env.KEEP, `${cases}.txt`),
        Object.entries(all)
          .map(([k, v]) => `##### ${k}\n${v}`)
          .join("\n"),
      );
  } catch (error) {
    const key = `crash: ${(error as Error).message.slice(0, 100)}`;
    const before = complaints.get(key);
    complaints.set(key, {
      count: (before?.count ?? 0) + 1,
      example: (error as Error).stack?.slice(0, 600) ?? "",
      where: before?.where ?? one.files[0],
    });
  }
  const took = (Date.now() - began) / 1000;
  if (took > 120) complain("slow", [`takes ${took.toFixed(0)} s`], one);
  if (process.env.OUT) writeFileSync(process.env.OUT, `${found()}\n`);
  if (one.folder.startsWith(home)) rmSync(one.folder, { recursive: true, force: true });
}
console.log(found());
rmSync(home, { recursive: true, force: true });
process.exit(0);
