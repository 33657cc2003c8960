import { type ChildProcess, spawn } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

/** A folder of its own for one test. */
export function scratch(): string {
  return mkdtempSync(join(tmpdir(), "shaftwise-study-"));
}

/** Writes files for the stand-in job; every tenth is bad, and two have the same content under one name. */
export function standIns(folder: string, count: number): void {
  for (let i = 0; i < count; i++) {
    const sub = join(folder, `batch-${i % 3}`);
    mkdirSync(sub, { recursive: true });
    const text =
      i % 10 === 9 ? "bad" : `m${String(i >> 1).padStart(4, "0")} ${100 + i / 7} ${0.01 + i / 1e5}`;
    writeFileSync(join(sub, `run-${String(i).padStart(4, "0")}.csv`), text);
  }
}

/** SHA-256 of each result table. */
export function tables(out: string): Record<string, string> {
  const names = readdirSync(out).filter((name) => /\.(parquet|json|jsonl)$/.test(name));
  return Object.fromEntries(
    names.sort().map((name) => [
      name,
      createHash("sha256")
        .update(readFileSync(join(out, name)))
        .digest("hex"),
    ]),
  );
}

const running = new Set<ChildProcess>();

/** Ends what is still running of the processes started here. */
export function stopAll(): void {
  for (const child of running) child.kill("SIGKILL");
}

/** A process of tests/study/jobs/run.ts. */
export interface StudyProcess {
  readonly child: ChildProcess;
  readonly ended: Promise<{ code: number | null; out: string; err: string }>;
}

/** Starts a study or a worker as a process of its own, from the folder of `builtStudy`. */
export function start(
  built: string,
  args: readonly string[],
  environment: Record<string, string> = {},
  shell?: string,
): StudyProcess {
  const command = [join(built, "run.js"), ...args];
  const env = { ...process.env, ...environment };
  const child = shell
    ? spawn("/bin/bash", ["-c", `${shell} exec "$0" "$@"`, process.execPath, ...command], { env })
    : spawn(process.execPath, command, { env });
  running.add(child);
  child.on("close", () => running.delete(child));
  let out = "";
  let err = "";
  child.stdout!.on("data", (d) => (out += d));
  child.stderr!.on("data", (d) => (err += d));
  return {
    child,
    ended: new Promise((resolve) => child.on("close", (code) => resolve({ code, out, err }))),
  };
}

/** Waits until something holds, at most `patience` ms. */
export async function until(what: () => boolean, patience = 30_000): Promise<void> {
  for (const end = Date.now() + patience; !what(); ) {
    if (Date.now() > end) throw new Error("waited in vain");
    await new Promise((wake) => setTimeout(wake, 20));
  }
}

/** Lines of a file, 0 when it is not there. */
export function lineCount(path: string): number {
  try {
    return readFileSync(path, "utf8").split("\n").length - 1;
  } catch {
    return 0;
  }
}
