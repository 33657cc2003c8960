/**
 * Mutation testing on a random sample: `npx tsx tests/mutation/run.ts <mutants for each room> <seed> <results.json>
 * [--rooms=a,b] [--minutes=9] [--again=earlier.json] [--answers] [--tests] [--budget=20] [--only=some,tests]
 * [--files=some,sources] [--survey]`. Works on a copy of the project in which all mutants of the sample sleep. One run
 * of every test file tells which mutants it meets; then each mutant is switched on in a process that stays, and only
 * the files that meet it are run, up to the first failure. A mutant that no test notices survives: either a test is
 * missing, or the change has no effect. Of comparisons, arithmetic, signs and fixed conditions it is also told whether,
 * while the mutant slept, its value was ever another than the original's: if never, no test shows the state in which it
 * matters; if so, the value is not held. Those whose compiled code is the same are left out. A run whose results are
 * there goes on where it was stopped; `--again` tries the survivors of an earlier run. `--answers` asks the recorded
 * answers alone, `--tests` the test files alone, `--only` some of either (cases by the word before their colon): a
 * quick run of the first, then `--again --tests` for what survived it. `--survey` switches none on: it writes which
 * mutants are met by nothing, and which never have another value. Tables that a fit has written are data, and no code
 * of which a line may be wrong: they are left out.
 */
import { existsSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import { parseArgs } from "node:util";
import { globSync } from "tinyglobby";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { cases } from "../answers/list.js";
import { copyWith } from "./copy.js";
import { type Mutant, mutantsOf } from "./mutants.js";
import { orderFor, rooms } from "./roomTests.js";
import { changesNothing, isCompared } from "./switches.js";
import { answersTo } from "./warm.js";
import { WarmProcess } from "./warmProcess.js";

type Outcome = "noticed" | "survived" | "not met" | "out of time";
type Drawn = Mutant & { readonly room: string };
type Result = Drawn & {
  readonly outcome: Outcome;
  readonly seconds: number;
  readonly by?: string;
  /** The recorded answer or test that changed, and how. */
  readonly how?: string;
  /** Recorded answers and test files that meet it. */
  readonly met: number;
  /** Whether in any of them, and where it can be told, its value would have been another than the original's. */
  readonly shown: boolean;
};

interface Results {
  readonly seed: number;
  /** Mutants of each room in all. */
  readonly all: Record<string, number>;
  readonly mutants: Drawn[];
  /** Seconds of each test file without any mutant, the mutants it meets, and those of them whose value differs. */
  tests: Record<
    string,
    { readonly seconds: number; readonly meets: readonly number[]; readonly shows: readonly number[] }
  >;
  /** Test files that fail without a mutant or take too long: they are not asked. */
  left: string[];
  atStart: readonly number[];
  shownAtStart: readonly number[];
  readonly results: Result[];
}

/** Written by `tests/corpus/fitHeadless.ts`. */
const fittedTables = new Set(["numberWeights.ts"]);
/** Seconds of a test file beyond which it is not asked. */
const costliest = 10;
const { positionals, values } = parseArgs({
  allowPositionals: true,
  options: {
    rooms: { type: "string" },
    minutes: { type: "string" },
    again: { type: "string" },
    answers: { type: "boolean" },
    tests: { type: "boolean" },
    budget: { type: "string" },
    only: { type: "string" },
    files: { type: "string" },
    survey: { type: "boolean" },
  },
});
const [each = "75", seed = "1", written = "mutation.json"] = positionals;
/** Seconds of tests, without any mutant, that are asked about one mutant: the likeliest first. */
const budget = Number(values.budget ?? 20);
const until = Date.now() + 60_000 * Number(values.minutes ?? 24 * 60);
const root = join(import.meta.dirname, "../..");
const copy = join(tmpdir(), `shaftwise-mutants-${basename(written, ".json")}`);

/** Every mutant of a room, in the order of the seed. */
function mutantsOfRoom(source: string): Mutant[] {
  const random = seededRandom(Number(seed));
  return readdirSync(join(root, "lib", source), { recursive: true, encoding: "utf8" })
    .filter(
      (name) => name.endsWith(".ts") && basename(name) !== "index.ts" && !fittedTables.has(basename(name)),
    )
    .filter((name) => (values.files ?? basename(name, ".ts")).split(",").includes(basename(name, ".ts")))
    .sort()
    .flatMap((name) =>
      mutantsOf(`lib/${source}/${name}`, readFileSync(join(root, "lib", source, name), "utf8")),
    )
    .map((mutant) => [random.uniform(), mutant] as const)
    .sort((a, b) => a[0] - b[0])
    .map(([, mutant]) => mutant);
}

const same = (a: Mutant, b: Mutant): boolean =>
  a.file === b.file && a.kind === b.kind && a.before === b.before && a.after === b.after;

/** The survivors of an earlier run, looked up in the sources as they are now; those whose source has gone are left
 * out. */
function survivorsOf(file: string, all: readonly Mutant[]): Mutant[] {
  const { results } = JSON.parse(readFileSync(file, "utf8")) as Pick<Results, "results">;
  return results
    .filter(({ outcome }) => outcome === "survived" || outcome === "not met")
    .flatMap((old) => {
      const near = (mutant: Mutant) => Math.abs(mutant.line - old.line);
      return all
        .filter((now) => same(now, old))
        .sort((a, b) => near(a) - near(b))
        .slice(0, 1);
    });
}

/** The first mutants of a list that change the compiled code. */
function firstOf(mutants: readonly Mutant[], count: number): Mutant[] {
  if (values.survey) return mutants.slice(0, count);
  const found: Mutant[] = [];
  for (const mutant of mutants) {
    if (found.length === count) break;
    if (!changesNothing(readFileSync(join(root, mutant.file), "utf8"), mutant)) found.push(mutant);
  }
  return found;
}

function draw(): Results {
  const all: Record<string, number> = {};
  const samples = (values.rooms ?? Object.keys(rooms).join(",")).split(",").map((room) => {
    const found = mutantsOfRoom(rooms[room].source);
    all[room] = found.length;
    const chosen = values.again ? survivorsOf(values.again, found) : found;
    return firstOf(chosen, Number(each)).map((mutant) => ({ ...mutant, room }));
  });
  // By turns, so that a run that ends early has tried all rooms alike.
  const turns = Array.from({ length: Math.max(...samples.map((one) => one.length)) }, (_, i) =>
    samples.flatMap((one) => one.slice(i, i + 1)),
  );
  return {
    seed: Number(seed),
    all,
    mutants: turns.flat(),
    tests: {},
    left: [],
    atStart: [],
    shownAtStart: [],
    results: [],
  };
}

/** The recorded answers that are asked about every room, and the test files that are asked about a room. */
const isAsked = (name: string): boolean => (values.only ?? name).split(",").includes(name);
const recorded = cases.flatMap(({ name }) =>
  isAsked(name.split(":")[0]) || isAsked(name) ? [`${answersTo}${name}`] : [],
);
function testsOf(room: string): string[] {
  const all = rooms[room].tests.flatMap((pattern) => globSync(pattern, { cwd: copy }));
  const files = all.filter((file) => isAsked(basename(file, ".test.ts")));
  return values.tests ? files : [...recorded, ...files];
}

/** What is met by nothing, or never of another value, with all mutants of the rooms asleep in one copy. */
async function survey(): Promise<void> {
  const { mutants, all } = draw();
  copyWith(root, copy, mutants, true);
  const warm = new WarmProcess(copy);
  const [met, shown] = [new Set<number>(), new Set<number>()];
  for (const file of [...new Set(Object.keys(all).flatMap(testsOf))]) {
    if (values.answers && !file.startsWith(answersTo)) continue;
    const { files } = await warm.ask({ mutant: -1, files: [file], all: true }, () => 240);
    for (const id of [...warm.atStart, ...files.flatMap(({ reached }) => reached)]) met.add(id);
    for (const id of [...warm.shownAtStart, ...files.flatMap((one) => one.shown)]) shown.add(id);
  }
  warm.close();
  const left = mutants.flatMap((mutant, id) => {
    if (!met.has(id)) return [{ state: "not met", ...mutant }];
    return isCompared(mutant) && !shown.has(id) ? [{ state: "same value", ...mutant }] : [];
  });
  writeFileSync(written, `${JSON.stringify({ all, watched: mutants.length, left }, null, 1)}\n`);
}

if (values.survey) {
  await survey();
  process.exit();
}
const known = existsSync(written);
const state: Results = known ? JSON.parse(readFileSync(written, "utf8")) : draw();
const save = (): void => writeFileSync(written, `${JSON.stringify(state, null, 1)}\n`);
if (!known || !existsSync(copy)) copyWith(root, copy, state.mutants);
save();
const warm = new WarmProcess(copy);
process.once("SIGTERM", () => {
  warm.close();
  process.exit(1);
});

/** Runs the test files that were not yet run without a mutant. */
async function measure(): Promise<void> {
  const files = [...new Set(Object.keys(state.all).flatMap(testsOf))];
  for (const file of files) {
    if (state.tests[file] !== undefined || state.left.includes(file)) continue;
    if (values.answers && !file.startsWith(answersTo)) continue;
    if (Date.now() > until) return;
    const { late, files: told } = await warm.ask({ mutant: -1, files: [file], all: true }, () => 120);
    [state.atStart, state.shownAtStart] = [warm.atStart, warm.shownAtStart];
    const [one] = told;
    if (late || one.failed !== undefined || one.seconds > costliest) {
      state.left.push(file);
      console.log(`left out: ${file} ${late ? "does not end" : (one.failed ?? `${one.seconds} s`)}`);
    } else
      state.tests[file] = {
        seconds: Math.round(100 * one.seconds) / 100,
        meets: one.reached,
        shows: one.shown,
      };
    save();
  }
}

async function attempt(id: number): Promise<void> {
  const mutant = state.mutants[id];
  const cold = state.atStart.includes(id);
  const meeting = testsOf(mutant.room)
    .map((file) => [file, state.tests[file]] as const)
    .filter(([, test]) => test !== undefined && (cold || test.meets.includes(id)));
  // Where its value never is another, nothing can come out otherwise.
  const telling = meeting.filter(([, test]) => cold || !isCompared(mutant) || test.shows.includes(id));
  const seconds = new Map(telling.map(([file, test]) => [file, test.seconds]));
  const began = Date.now();
  const patience = (file: string): number =>
    (file.startsWith(answersTo) ? 3 : 10) + 4 * (seconds.get(file) ?? 0);
  let spent = 0;
  const order = orderFor(mutant.file, seconds, state.results);
  const files = [
    ...order.filter((file) => file.startsWith(answersTo)),
    ...order.filter((file) => {
      if (file.startsWith(answersTo)) return false;
      const cost = seconds.get(file) ?? 0;
      if (values.answers || spent + cost > budget) return false;
      spent += cost;
      return true;
    }),
  ];
  const told =
    files.length === 0 ? undefined : await warm.ask({ mutant: id, files, all: false }, patience, cold);
  const first = told?.files.find((file) => file.failed !== undefined);
  const failed = first?.file;
  const seen: Outcome = told?.late ? "out of time" : failed ? "noticed" : "survived";
  const result: Result = {
    ...mutant,
    outcome: meeting.length > 0 ? seen : "not met",
    met: meeting.length,
    shown:
      meeting.length > 0 &&
      (!isCompared(mutant) ||
        state.shownAtStart.includes(id) ||
        meeting.some(([, test]) => test.shows.includes(id))),
    seconds: Math.round((Date.now() - began) / 100) / 10,
    ...(failed ? { by: basename(failed, ".test.ts"), how: first?.failed?.slice(0, 160) } : {}),
  };
  state.results.push(result);
  save();
  const { file, line, kind, before, after, outcome } = result;
  const what = `${before.slice(0, 60).replaceAll("\n", " ")} -> ${after.slice(0, 40)}`;
  console.log(
    `${(outcome === "survived" && !result.shown ? "same value" : outcome).padEnd(11)} ${String(result.seconds).padStart(5)} s ${file}:${line} ${kind}: ${what}`,
  );
}

await measure();
if (Date.now() > until) {
  warm.close();
  process.exit();
}
const tried = state.results.length;
for (let id = tried; id < state.mutants.length && Date.now() < until; id += 1) await attempt(id);
warm.close();
for (const [name, all] of Object.entries(state.all)) {
  const own = state.results.filter((r) => r.room === name);
  const count = (outcome: Outcome): number => own.filter((r) => r.outcome === outcome).length;
  const unseen = count("survived") + count("not met");
  const noticed = own.length - unseen;
  const shown = own.filter((r) => r.shown || (r.outcome !== "survived" && r.outcome !== "not met")).length;
  const percent = (of: number): string => `${((100 * noticed) / of).toFixed(1)} %`;
  console.log(
    `${name}: ${all} mutants, ${own.length} tried, ${unseen} survived (${count("not met")} met by no test, of the others ` +
      `${own.length - shown - count("not met")} never with another value), ${percent(own.length)} noticed, ` +
      `${percent(shown)} of the ${shown} whose value was ever another`,
  );
}
