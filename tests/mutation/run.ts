/**
 * Mutation testing on a random sample: `npx tsx tests/mutation/run.ts <mutants for each room> <seed> <results.json>
 * [--rooms=a,b] [--minutes=9] [--again=earlier.json]`. Works on a copy of the project; every mutant is tried against
 * the tests of its room. A mutant that no test notices survives: either a test is missing, or the change has no effect.
 * A run whose results are there already goes on where it was stopped; `--again` tries the survivors of an earlier run.
 */
import {
  cpSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import { parseArgs } from "node:util";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { applied, type Mutant, mutantsOf } from "./mutants.js";
import { orderFor, type Room, rooms, runTests, testsOf } from "./roomTests.js";

type Outcome = "noticed" | "survived" | "out of time";
type Result = Mutant & {
  readonly room: string;
  readonly outcome: Outcome;
  readonly seconds: number;
  readonly by?: string;
};

interface Results {
  readonly seed: number;
  /** Mutants of each room in all. */
  readonly all: Record<string, number>;
  /** Seconds of each test file of a room without any mutant; files that fail then, or take too long, are left out. */
  readonly tests: Record<string, Record<string, number>>;
  readonly left: Record<string, string[]>;
  readonly results: Result[];
}

/** Seconds of a test file beyond which it is not asked. */
const costliest = 30;
const { positionals, values } = parseArgs({
  allowPositionals: true,
  options: { rooms: { type: "string" }, minutes: { type: "string" }, again: { type: "string" } },
});
const [each = "75", seed = "1", written = "mutation.json"] = positionals;
const until = Date.now() + 60_000 * Number(values.minutes ?? 24 * 60);
const chosen = (values.rooms ?? Object.keys(rooms).join(","))
  .split(",")
  .map((name) => [name, rooms[name]] as const);
const root = join(import.meta.dirname, "../..");
const copy = join(tmpdir(), `shaftwise-mutants-${basename(written, ".json")}`);
const state: Results = existsSync(written)
  ? JSON.parse(readFileSync(written, "utf8"))
  : { seed: Number(seed), all: {}, tests: {}, left: {}, results: [] };
const save = (): void => writeFileSync(written, `${JSON.stringify(state, null, 1)}\n`);

/** Every mutant of a room, in the order of the seed. */
function mutantsOfRoom({ source }: Room): Mutant[] {
  const random = seededRandom(Number(seed));
  return readdirSync(join(root, "lib", source), { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".ts") && basename(name) !== "index.ts")
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
    .filter(({ outcome }) => outcome === "survived")
    .flatMap((old) => {
      const near = (mutant: Mutant) => Math.abs(mutant.line - old.line);
      return all
        .filter((now) => same(now, old))
        .sort((a, b) => near(a) - near(b))
        .slice(0, 1);
    });
}

/** How long each test file takes, from one run of all without a mutant. */
async function measure(name: string, room: Room): Promise<void> {
  const { files } = await runTests(copy, testsOf(copy, room), 580, true);
  if (files.length === 0) throw new Error(`the tests of ${name} did not come to an end`);
  const kept = files.filter(({ failed, seconds }) => !failed && seconds <= costliest);
  state.tests[name] = Object.fromEntries(kept.map((file) => [file.name, file.seconds]));
  state.left[name] = files
    .filter((file) => !kept.includes(file))
    .map((f) => `${f.name}${f.failed ? " fails" : ""}`);
  save();
}

async function attempt(name: string, mutant: Mutant): Promise<void> {
  const path = join(copy, mutant.file);
  const text = readFileSync(path, "utf8");
  const seconds = new Map(Object.entries(state.tests[name]));
  const patience = Math.max(90, 3 * [...seconds.values()].reduce((sum, s) => sum + s, 0));
  const began = Date.now();
  writeFileSync(path, applied(text, mutant));
  const { status, late, files } = await runTests(
    copy,
    orderFor(mutant.file, seconds, state.results),
    patience,
  );
  writeFileSync(path, text);
  const failed = files.find((file) => file.failed)?.name;
  const result: Result = {
    ...mutant,
    room: name,
    outcome: late ? "out of time" : status === 0 ? "survived" : "noticed",
    seconds: Math.round((Date.now() - began) / 1000),
    ...(failed ? { by: basename(failed, ".test.ts") } : {}),
  };
  state.results.push(result);
  save();
  const { file, line, kind, before, after, outcome } = result;
  const what = `${before.slice(0, 60)} -> ${after.slice(0, 40)}`;
  console.log(
    `${outcome.padEnd(11)} ${String(result.seconds).padStart(3)} s ${file}:${line} ${kind}: ${what}`,
  );
}

mkdirSync(copy, { recursive: true });
for (const name of [
  "lib",
  "tests",
  "datasets",
  "docs",
  "package.json",
  "tsconfig.json",
  "vitest.config.ts",
]) {
  rmSync(join(copy, name), { recursive: true, force: true });
  cpSync(join(root, name), join(copy, name), { recursive: true });
}
if (!existsSync(join(copy, "node_modules")))
  symlinkSync(join(root, "node_modules"), join(copy, "node_modules"));
const samples = chosen.map(([name, room]) => {
  const all = mutantsOfRoom(room);
  state.all[name] = all.length;
  return {
    name,
    room,
    mutants: (values.again ? survivorsOf(values.again, all) : all).slice(0, Number(each)),
  };
});
for (const { name, room } of samples) if (state.tests[name] === undefined) await measure(name, room);
// By turns, so that a run that ends early has tried all rooms alike.
for (let i = 0; i < Number(each) && Date.now() < until; i += 1) {
  for (const { name, mutants } of samples) {
    const tried = (m: Mutant) =>
      state.results.some((r) => r.room === name && same(r, m) && r.line === m.line);
    if (mutants[i] !== undefined && !tried(mutants[i]) && Date.now() < until) await attempt(name, mutants[i]);
  }
}
for (const [name, all] of Object.entries(state.all)) {
  const own = state.results.filter((r) => r.room === name);
  const survived = own.filter((r) => r.outcome === "survived").length;
  console.log(
    `${name}: ${all} mutants, ${own.length} tried, ${survived} survived, ${((1 - survived / own.length) * 100).toFixed(1)} % noticed`,
  );
}
