/**
 * Scores the verdicts on strangers' logs: `npx tsx tests/corpus/verdicts.ts <folder>... [--half=tune|look] [--list]`.
 * Every file `x` with an `x.truth.json` beside it is diagnosed without any option and compared run by run; a folder
 * with a `README.md` and no truths is read as the field recordings, against
 * `fieldVerdicts.json` beside this script. Prints a table of truth against what was said, and every wrong verdict above 80 %.
 */
import { existsSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { diagnoseFiles } from "../../lib/analysis/analyseFiles.js";
import type { RecordingVerdict, TrialVerdict, VerdictWord } from "../../lib/diagnosis/types.js";
import { truthsIn } from "./score.js";

/** What the author of a file knows of its runs. */
interface RunTruth {
  readonly runs?: number;
  /** `tracking|undetermined` where either may be said. */
  readonly verdicts?: readonly (string | null)[] | null;
  readonly verdictsByMotor?: Readonly<Record<string, readonly VerdictWord[]>>;
  readonly kinds?: readonly string[];
}

/** A stretch whose verdict is held against the truth of its run. */
interface Said {
  readonly file: string;
  /** Words that are right; where `undetermined` is among others either is. */
  readonly truth: string;
  readonly said: VerdictWord | "no trial";
  readonly confidence: number;
  readonly kind: string;
  readonly text: string;
}

/** Kinds that ask nothing of the shaft: no verdict is due. */
const passive = new Set(["coast", "idle", "hand-turn", "driven"]);

const asking = (r: RecordingVerdict): TrialVerdict[] => r.trials.filter(({ kind }) => !passive.has(kind));

const accepts = (truth: string, word: string): boolean => truth.split("|").includes(word);

/** One verdict for a run: its trials together; a wrong one counts before a right one, and the surest stands for its
 * like. */
function saidOf(file: string, truth: string, trials: readonly TrialVerdict[], problem: string): Said {
  const surest = (list: readonly TrialVerdict[]): TrialVerdict | undefined =>
    [...list].sort((a, b) => b.confidence - a.confidence)[0];
  const decided = trials.filter(({ verdict }) => verdict !== "undetermined");
  const pick =
    surest(decided.filter(({ verdict }) => !accepts(truth, verdict))) ?? surest(decided) ?? surest(trials);
  return {
    file,
    truth,
    said: pick?.verdict ?? "no trial",
    confidence: pick?.confidence ?? 1,
    kind: pick?.kind ?? "",
    text: pick?.text ?? problem,
  };
}

/** Every run of one file. */
async function judge(file: string, truth: RunTruth): Promise<Said[]> {
  const { recordings, problems } = await diagnoseFiles([file], { threads: 1 });
  const problem = problems[0]?.message.slice(0, 160) ?? "";
  const byMotor = Object.entries(truth.verdictsByMotor ?? {});
  if (byMotor.length > 0)
    return byMotor.map(([motor, words], k) =>
      saidOf(
        `${file} [${motor}]`,
        words[0],
        (recordings.some((r) => r.motor === motor)
          ? recordings.filter((r) => r.motor === motor)
          : recordings.slice(k, k + 1)
        ).flatMap(asking),
        problem,
      ),
    );
  const words = (truth.verdicts ?? []).filter((w): w is string => w !== null);
  const out = (k: number, trials: readonly TrialVerdict[]): Said =>
    saidOf(words.length > 1 ? `${file} #${k + 1}` : file, words[k], trials, problem);
  if (recordings.length === words.length) return words.map((_, k) => out(k, asking(recordings[k])));
  const all = recordings.flatMap(asking);
  if (all.length === words.length) return words.map((_, k) => out(k, [all[k]]));
  // Authors count a coast-down behind a trial as a run, too.
  const every = recordings.flatMap((r) => r.trials).filter(({ kind }) => kind !== "idle");
  if (every.length === words.length) return words.map((_, k) => out(k, [every[k]]));
  if (words.every((w) => w === words[0])) return words.slice(0, 1).map((_, k) => out(k, all));
  return words.map((_, k) => ({
    ...out(k, []),
    text: `${recordings.length} recordings, ${all.length} trials for ${words.length} runs`,
  }));
}

/** What to score: files of a folder with a truth each, or the field recordings. */
function tasksOf(folder: string, half?: string): { file: string; truth: RunTruth }[] {
  const own = truthsIn(folder, half) as unknown as { file: string; truth: RunTruth }[];
  if (own.length > 0) return own;
  const field = JSON.parse(readFileSync(new URL("./fieldVerdicts.json", import.meta.url), "utf8")) as Record<
    string,
    VerdictWord
  >;
  return Object.entries(field)
    .map(([name, word]) => ({ file: join(folder, name), truth: { verdicts: [word] } }))
    .filter(({ file }) => existsSync(file));
}

function table(all: readonly Said[]): string {
  const words = ["tracking", "reversed", "runaway", "blocked", "undetermined"];
  const columns = [...words, "no trial"];
  const either = [...new Set(all.map(({ truth }) => truth))].filter((t) => t.includes("|"));
  const rows = [...words, ...either].map((t) => [
    t,
    ...columns.map((c) => String(all.filter(({ truth, said }) => truth === t && said === c).length)),
  ]);
  return [["truth \\ said", ...columns], ...rows].map((r) => r.map((v) => v.padEnd(13)).join("")).join("\n");
}

const folders = process.argv.slice(2).filter((a) => !a.startsWith("--"));
const half = process.argv.find((a) => a.startsWith("--half="))?.slice(7);
const listed = process.argv.includes("--list");
const all: Said[] = [];
for (const folder of folders)
  for (const { file, truth } of tasksOf(folder, half)) {
    const said = await judge(file, truth);
    all.push(...said);
    for (const s of said)
      if (listed && !accepts(s.truth, s.said))
        console.log(
          `${s.file.replace(/^.*\/(?=[^/]+\/)/, "")}\n    truth ${s.truth}; said ${s.said} ${Math.round(100 * s.confidence)} % (${s.kind}) ${s.text.slice(0, 220)}`,
        );
  }
const decidable = all.filter(({ truth }) => !accepts(truth, "undetermined"));
const right = decidable.filter(({ truth, said }) => accepts(truth, said));
const wrong = all.filter(
  ({ truth, said }) => !accepts(truth, said) && said !== "undetermined" && said !== "no trial",
);
const sure = wrong.filter(({ confidence }) => confidence > 0.8);
console.log(table(all));
console.log(
  `right on ${right.length} of ${decidable.length} decidable runs; wrong ${wrong.length}, above 80 % ${sure.length} of ${all.length}`,
);
for (const s of sure)
  console.log(`  sure and wrong: ${s.file}: ${s.truth}, said ${s.said} ${Math.round(100 * s.confidence)} %`);
