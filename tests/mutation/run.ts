/**
 * Mutation testing on a random sample: `npx tsx tests/mutation/run.ts <mutants for each room> <seed> [results.json] [minutes]`.
 * Works on a copy of the project; every mutant is tried against the quick tests of its room. A mutant that no test notices survives: either
 * a test is missing, or the change has no effect.
 */
import { spawn } from "node:child_process";
import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { seededRandom } from "../../lib/signal/seededRandom.js";
import { applied, type Mutant, mutantsOf } from "./mutants.js";

const root = join(import.meta.dirname, "../..");
const rooms: Readonly<Record<string, readonly string[]>> = {
  machine: [
    "closedForms",
    "commutation",
    "conventions",
    "drive",
    "leadOrder",
    "randomBench",
    "parcelSorter",
    "fleet",
  ],
  verdict: ["measures", "handTrials", "demo", "secondBench"],
};
/** A mutant that keeps its tests busy for so long counts as noticed. */
const patience = 120_000;

type Outcome = "noticed" | "survived" | "out of time";

function quickTests(copy: string, room: string): Promise<{ status: number | null; late: boolean }> {
  const files = rooms[room].map((name) => `tests/${room}/${name}.test.ts`);
  return new Promise((resolve) => {
    const child = spawn(
      process.execPath,
      ["node_modules/vitest/vitest.mjs", "run", "--bail=1", "--no-isolate", "--maxWorkers=1", ...files],
      { cwd: copy, stdio: "ignore", detached: true },
    );
    let late = false;
    const timer = setTimeout(() => {
      late = true;
      if (child.pid !== undefined) process.kill(-child.pid, "SIGKILL");
    }, patience);
    child.on("exit", (status) => {
      clearTimeout(timer);
      resolve({ status, late });
    });
  });
}

const [each, seed, written, minutes] = process.argv.slice(2);
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
    return { room, all: all.length, mutants: order.slice(0, Number(each ?? 75)).map(([, mutant]) => mutant) };
  });
  for (const { room } of samples) {
    const { status } = await quickTests(copy, room);
    if (status !== 0) throw new Error(`the tests of ${room} fail without any mutant`);
  }
  const results: (Mutant & { readonly room: string; readonly outcome: Outcome })[] = [];
  // By turns, so that a run that ends early has tried both rooms alike.
  for (let i = 0; i < Number(each ?? 75) && Date.now() < until; i += 1) {
    for (const { room, mutants } of samples) {
      const mutant = mutants[i];
      if (mutant === undefined) continue;
      const path = join(copy, mutant.file);
      const text = readFileSync(path, "utf8");
      writeFileSync(path, applied(text, mutant));
      const { status, late } = await quickTests(copy, room);
      writeFileSync(path, text);
      const outcome: Outcome = late ? "out of time" : status === 0 ? "survived" : "noticed";
      results.push({ ...mutant, room, outcome });
      const { file, line, kind, before, after } = mutant;
      console.log(
        `${outcome.padEnd(11)} ${file}:${line} ${kind}: ${before.slice(0, 60)} -> ${after.slice(0, 40)}`,
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
