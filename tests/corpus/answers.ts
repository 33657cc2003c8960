/**
 * Answers every refusal as it proposes: `npx tsx tests/corpus/answers.ts <folder>... [--list]`. Each file of a folder
 * (or of the folders in it) that is refused is read once more with the options of the refusal, through the arguments of
 * the command line; where only a person knows the figure, it is the one of the truth beside the file, else the example.
 * Printed is whether the file is read then, and whether the columns are as the truth says.
 */
import { readdirSync, statSync } from "node:fs";
import { extname, join } from "node:path";
import { parseArgs } from "node:util";
import { readingOptions, readOptionsOf } from "../../lib/cli/readingOptions.js";
import { answerArguments } from "../../lib/recording/columns/answers.js";
import { readRecordings } from "../../lib/recording/index.js";
import type { Finding, FindingAnswer, Recording } from "../../lib/recording/types.js";
import { compared, roleOf, type Truth, truthsIn } from "./score.js";

/** What became of the question of one file. */
export interface Answered {
  readonly file: string;
  readonly code: string;
  readonly message: string;
  readonly answers: readonly FindingAnswer[];
  /** What came of giving the answers: read, asked again, or there was nothing to give. */
  readonly outcome: "read" | "asked again" | "no answer";
  /** What is asked then. */
  readonly again?: string;
  /** Columns that the answers name otherwise than the truth does, whichever of the offered roles is chosen. */
  readonly wrong: readonly string[];
  /** Columns of which the second of the offered roles is the right one. */
  readonly second: number;
  readonly recordings: readonly Recording[];
}

/** Facts of a file that fill in what only a person knows. */
export interface Known {
  readonly interval?: string;
  readonly lines?: number;
  readonly polePairs?: number;
}

/** Arguments of the command line for the answers of a finding, with what is known in the place of examples. */
export function argumentsFor(answers: readonly FindingAnswer[], known: Known = {}): string[] {
  const own: Partial<Record<FindingAnswer["option"], string | undefined>> = {
    interval: known.interval,
    lines: known.lines?.toString(),
    "pole-pairs": known.polePairs?.toString(),
  };
  return answers.flatMap((a) =>
    answerArguments(a.example === true ? { ...a, value: own[a.option] ?? a.value } : a),
  );
}

/** Reads files with arguments of the command line. */
export async function readWith(
  files: readonly string[],
  args: readonly string[],
): ReturnType<typeof readRecordings> {
  const { values } = parseArgs({ args: [...args], options: readingOptions, strict: true });
  // The limits would ask for a process of its own.
  const { limits: _, ...options } = readOptionsOf(values);
  return await readRecordings(files, options);
}

/** Asks of a file whether it is refused, and what becomes of the answers; undefined where it is read. */
export async function answered(
  file: string,
  truth?: Truth,
  known: Known = {},
): Promise<Answered | undefined> {
  const first = await readRecordings([file]);
  const refusal = first.problems.find(({ severity }) => severity === "error");
  if (refusal === undefined || first.recordings.length > 0) return undefined;
  const answers = refusal.answers ?? [];
  const base = { file, code: refusal.code, message: refusal.message, answers };
  if (answers.length === 0) return { ...base, outcome: "no answer", wrong: [], second: 0, recordings: [] };
  const literal = await readWith([file], argumentsFor(answers, known));
  const chosen = truth === undefined ? answers : chosenBy(file, truth, answers, literal.recordings);
  const second = chosen.filter((a, k) => a.of !== answers[k].of).length;
  const { recordings, problems } =
    second === 0 ? literal : await readWith([file], argumentsFor(chosen, known));
  const errors = problems.filter(({ severity }) => severity === "error");
  const again = recordings.length > 0 ? undefined : errors[0];
  return {
    ...base,
    outcome: recordings.length > 0 ? "read" : "asked again",
    ...(again === undefined ? {} : { again: asked(again) }),
    wrong: truth === undefined ? [] : misnamed(file, truth, chosen, recordings),
    second,
    recordings,
  };
}

const asked = ({ message, meaning }: Finding): string => `${message}: ${meaning ?? ""}`;

/** The answers as somebody gives them who knows the file: of roles that are offered together, the right one. */
function chosenBy(
  file: string,
  truth: Truth,
  answers: readonly FindingAnswer[],
  recordings: readonly Recording[],
): readonly FindingAnswer[] {
  const columns = compared(file, truth, recordings[0]?.understanding ?? []);
  return answers.map((a) => {
    const own = columns.find(({ got }) => a.option === "map" && got?.role === a.of);
    const right = own === undefined ? undefined : roleOf(own.truth);
    return right !== undefined && a.or?.includes(right) === true ? { ...a, of: right } : a;
  });
}

/** Columns that the answers name, and that hold something else. */
function misnamed(
  file: string,
  truth: Truth,
  answers: readonly FindingAnswer[],
  recordings: readonly Recording[],
): string[] {
  const all = recordings[0]?.understanding ?? [];
  const named = new Set(answers.flatMap(({ option, of }) => (option === "map" ? [of] : [])));
  return compared(file, truth, all)
    .filter(({ got, roleRight }) => got !== undefined && !roleRight && named.has(got.role))
    .map(
      ({ got, truth: t }) =>
        `${t.name === "" ? `#${(got?.index ?? 0) + 1}` : t.name}: ${t.role}, asked for as ${got?.role}`,
    );
}

/** What a sidecar says of sampling and encoder. */
export function knownFrom(truth: unknown): Known {
  const simulated = (truth as { simulated?: readonly Record<string, unknown>[] }).simulated?.[0] ?? {};
  const interval = Number(simulated["sampling s"]);
  const counts = Number(simulated["encoder counts/rev"]);
  const pairs = Number(simulated["pole pairs"]);
  return {
    ...(interval > 0 ? { interval: String(interval) } : {}),
    ...(counts > 3 ? { lines: Math.round(counts / 4) } : {}),
    ...(pairs > 0 ? { polePairs: pairs } : {}),
  };
}

const notLogs = /\.(md|json|py|m|ts|png|jpg|pdf)$/i;

/** Files of a folder and of those in it, with the truth beside them where there is one. */
function filesIn(folder: string): { file: string; truth?: Truth }[] {
  const own = truthsIn(folder);
  if (own.length > 0) return own;
  return readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    if (statSync(path).isDirectory()) return filesIn(path);
    return notLogs.test(name) || extname(name) === "" ? [] : [{ file: path }];
  });
}

if (process.argv[1]?.endsWith("answers.ts")) {
  const every: Answered[] = [];
  let files = 0;
  for (const folder of process.argv.slice(2).filter((a) => !a.startsWith("--")))
    for (const { file, truth } of filesIn(folder)) {
      files += 1;
      const one = await answered(file, truth, knownFrom(truth ?? {}));
      if (one === undefined) continue;
      every.push(one);
      if (!process.argv.includes("--list") && one.outcome === "read" && one.wrong.length === 0) continue;
      console.log(
        `${one.outcome}${one.wrong.length > 0 ? ", wrong" : ""}: ${file}\n    ${one.message.slice(0, 160)}`,
      );
      if (one.answers.length > 0)
        console.log(`    ${argumentsFor(one.answers, knownFrom(truth ?? {})).join(" ")}`);
      if (one.again !== undefined) console.log(`    again: ${one.again.slice(0, 300)}`);
      for (const line of one.wrong) console.log(`    ${line}`);
    }
  const count = (outcome: Answered["outcome"]): number => every.filter((e) => e.outcome === outcome).length;
  console.log(
    `${every.length} of ${files} files refused: ${count("read")} read when answered (${every.filter((e) => e.wrong.length > 0).length} with a column named wrongly, ${every.filter((e) => e.wrong.length === 0 && e.second > 0).length} rightly by a second role that was offered), ` +
      `${count("asked again")} asked again, ${count("no answer")} without an answer`,
  );
}
