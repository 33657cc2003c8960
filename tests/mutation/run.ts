/**
 * Mutation testing on a random sample: `npx tsx tests/mutation/run.ts <mutants for each room> <seed> [results.json] [minutes] [earlier results]`.
 * Works on a copy of the project; every mutant is tried against the quick tests of its room. A mutant that no test notices survives: either
 * a test is missing, or the change has no effect.
 */
import { spawn } from "node:child_process";
import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { applied, type Mutant, mutantsOf } from "./mutants.js";

const root = join(import.meta.dirname, "../..");
/**
 * Test files of each room, quickest first; all run until one notices. A file named for the changed source file is put in front. What has
 * the costliest tests comes last, and is only needed where a slip was not noticed before.
 */
const rooms: Readonly<Record<string, readonly string[]>> = {
  motor: [
    "motor/leadOrder",
    "motor/conventions",
    "motor/missedCounts",
    "motor/openLeadEnergy",
    "motor/commutation",
    "motor/drive",
    "motor/stribeck",
    "motor/parcelSorter",
    "motor/closedForms",
    "motor/fleet",
    "motor/randomBenchDraws",
    "motor/randomBench",
  ],
  diagnosis: [
    "diagnosis/trialSignals",
    "diagnosis/together",
    "diagnosis/advice",
    "diagnosis/weighing",
    "diagnosis/thresholds",
    "diagnosis/speedTrials",
    "diagnosis/torqueTrials",
    "diagnosis/signsOfCauses",
    "diagnosis/setPriors",
    "diagnosis/trip",
    "diagnosis/sets",
    "diagnosis/handTrials",
    "diagnosis/adviceLines",
    "diagnosis/demo",
    "diagnosis/realRig",
    "diagnosis/measures",
    "diagnosis/calibratedWeights",
  ],
};
/** A mutant that keeps its tests busy for so long counts as noticed. */
const patience = 150_000;

type Outcome = "noticed" | "survived" | "out of time";

/** The test files of a room in the order they run for a changed source file. */
function testsFor(room: string, source: string): string[] {
  const named = basename(source, ".ts");
  const files = rooms[room].map((name) => `tests/${name}.test.ts`);
  const own = files.filter((name) => basename(name).startsWith(named));
  return [...own, ...files.filter((name) => !own.includes(name))];
}

/** The first test file that failed, by the report of a run; undefined when it ended without one. */
function firstFailed(report: string): string | undefined {
  try {
    const { testResults } = JSON.parse(readFileSync(report, "utf8")) as {
      testResults: readonly { readonly name: string; readonly status: string }[];
    };
    const failed = testResults.find(({ status }) => status === "failed");
    return failed ? basename(failed.name, ".test.ts") : undefined;
  } catch {
    return undefined;
  }
}

function roomTests(
  copy: string,
  room: string,
  source: string,
): Promise<{ status: number | null; late: boolean; by?: string }> {
  const report = join(copy, "report.json");
  rmSync(report, { force: true });
  const files = testsFor(room, source);
  return new Promise((resolve) => {
    const child = spawn(
      process.execPath,
      [
        "node_modules/vitest/vitest.mjs",
        "run",
        "--config=tests/mutation/vitest.config.ts",
        "--root=.",
        "--reporter=json",
        `--outputFile=${report}`,
        ...files,
      ],
      {
        cwd: copy,
        stdio: "ignore",
        detached: true,
        env: { ...process.env, MUTATION_ORDER: files.join(",") },
      },
    );
    let late = false;
    const timer = setTimeout(() => {
      late = true;
      if (child.pid !== undefined) process.kill(-child.pid, "SIGKILL");
    }, patience);
    child.on("exit", (status) => {
      clearTimeout(timer);
      const by = status === 0 || late ? undefined : firstFailed(report);
      resolve({ status, late, ...(by ? { by } : {}) });
    });
  });
}

/** The survivors of an earlier run, looked up in the sources as they are now; those whose source has gone are left out. */
function survivorsOf(file: string, all: readonly Mutant[]): Mutant[] {
  const { results } = JSON.parse(readFileSync(file, "utf8")) as {
    results: readonly (Mutant & { readonly outcome: Outcome })[];
  };
  return results
    .filter(({ outcome }) => outcome === "survived")
    .flatMap((old) => {
      const same = all.filter(
        (now) =>
          now.file === old.file &&
          now.kind === old.kind &&
          now.before === old.before &&
          now.after === old.after,
      );
      const near = (mutant: Mutant) => Math.abs(mutant.line - old.line);
      return same.length > 0 ? [same.reduce((a, b) => (near(b) < near(a) ? b : a))] : [];
    });
}

const [each, seed, written, minutes, again] = process.argv.slice(2);
const until = Date.now() + 60_000 * Number(minutes ?? 24 * 60);
const copy = mkdtempSync(join(tmpdir(), "shaftwise-mutants-"));
try {
  for (const name of [
    "lib",
    "tests",
    "datasets",
    "docs",
    "package.json",
    "tsconfig.json",
    "vitest.config.ts",
  ])
    cpSync(join(root, name), join(copy, name), { recursive: true });
  symlinkSync(join(root, "node_modules"), join(copy, "node_modules"));
  const random = seededRandom(Number(seed ?? 1));
  const samples = Object.keys(rooms).map((room) => {
    const all = readdirSync(join(root, "lib", room))
      .filter((name) => name.endsWith(".ts") && name !== "index.ts")
      .flatMap((name) =>
        mutantsOf(`lib/${room}/${name}`, readFileSync(join(root, "lib", room, name), "utf8")),
      );
    const order = all.map((mutant) => [random.uniform(), mutant] as const).sort((a, b) => a[0] - b[0]);
    const mutants = again ? survivorsOf(again, all) : order.map(([, mutant]) => mutant);
    return { room, all: all.length, mutants: mutants.slice(0, Number(each ?? 75)) };
  });
  for (const { room } of samples) {
    const { status } = await roomTests(copy, room, "");
    if (status !== 0) throw new Error(`the tests of ${room} fail without any mutant`);
  }
  const results: (Mutant & {
    readonly room: string;
    readonly outcome: Outcome;
    readonly seconds: number;
    readonly by?: string;
  })[] = [];
  // By turns, so that a run that ends early has tried both rooms alike.
  for (let i = 0; i < Number(each ?? 75) && Date.now() < until; i += 1) {
    for (const { room, mutants } of samples) {
      const mutant = mutants[i];
      if (mutant === undefined) continue;
      const path = join(copy, mutant.file);
      const text = readFileSync(path, "utf8");
      writeFileSync(path, applied(text, mutant));
      const began = Date.now();
      const { status, late, by } = await roomTests(copy, room, mutant.file);
      const seconds = Math.round((Date.now() - began) / 1000);
      writeFileSync(path, text);
      const outcome: Outcome = late ? "out of time" : status === 0 ? "survived" : "noticed";
      results.push({ ...mutant, room, outcome, seconds, ...(by ? { by } : {}) });
      const { file, line, kind, before, after } = mutant;
      console.log(
        `${outcome.padEnd(11)} ${String(seconds).padStart(3)} s ${file}:${line} ${kind}: ${before.slice(0, 60)} -> ${after.slice(0, 40)}`,
      );
      if (written !== undefined) {
        const counts = samples.map(({ room: name, all }) => {
          const own = results.filter((r) => r.room === name);
          const survived = own.filter((r) => r.outcome === "survived").length;
          return { room: name, all, tried: own.length, survived, score: 1 - survived / own.length };
        });
        writeFileSync(written, `${JSON.stringify({ seed: Number(seed ?? 1), counts, results }, null, 1)}\n`);
      }
    }
  }
} finally {
  rmSync(copy, { recursive: true, force: true });
}
