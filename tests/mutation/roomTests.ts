import { spawn } from "node:child_process";
import { readFileSync, rmSync } from "node:fs";
import { basename, join } from "node:path";
import { globSync } from "tinyglobby";

/** A part of the library, and the tests that are asked about it. */
export interface Room {
  /** Folder of `lib`. */
  readonly source: string;
  /** Patterns of test files. */
  readonly tests: readonly string[];
}

export const rooms: Readonly<Record<string, Room>> = {
  motor: { source: "motor", tests: ["tests/motor/*.test.ts"] },
  diagnosis: {
    source: "diagnosis",
    tests: ["tests/diagnosis/*.test.ts", "tests/analysis/healthGates.test.ts"],
  },
  identify: {
    source: "identify",
    tests: [
      "tests/identify/*.test.ts",
      "tests/steps/*.test.ts",
      "tests/control/{fromRecordings,growthTime,predictRunaway,realLoop,timing}.test.ts",
    ],
  },
  columns: {
    source: "recording/columns",
    tests: ["tests/recording/!(arrow*).test.ts", "tests/corpus/*.test.ts"],
  },
};

/** What a run of tests told: how it ended, and for each file whether it held and how long it took. */
export interface Told {
  readonly status: number | null;
  readonly late: boolean;
  readonly files: readonly { readonly name: string; readonly failed: boolean; readonly seconds: number }[];
}

/** Runs test files in this order, up to the first failure unless all are asked for. */
export function runTests(
  copy: string,
  files: readonly string[],
  seconds: number,
  all = false,
): Promise<Told> {
  const report = join(copy, "report.json");
  rmSync(report, { force: true });
  const child = spawn(
    process.execPath,
    [
      "node_modules/vitest/vitest.mjs",
      "run",
      "--config=tests/mutation/vitest.config.ts",
      "--root=.",
      "--reporter=json",
      `--outputFile=${report}`,
      ...(all ? ["--bail=0"] : []),
      ...files,
    ],
    { cwd: copy, stdio: "ignore", detached: true, env: { ...process.env, MUTATION_ORDER: files.join(",") } },
  );
  return new Promise((resolve) => {
    let late = false;
    const kill = (): void => {
      if (child.pid !== undefined) process.kill(-child.pid, "SIGKILL");
    };
    const stopped = (): void => {
      kill();
      process.exit(1);
    };
    process.once("SIGTERM", stopped);
    const timer = setTimeout(() => {
      late = true;
      kill();
    }, 1000 * seconds);
    child.on("exit", (status) => {
      clearTimeout(timer);
      process.off("SIGTERM", stopped);
      resolve({ status, late, files: late ? [] : reported(report, copy) });
    });
  });
}

function reported(report: string, copy: string): Told["files"] {
  try {
    const { testResults } = JSON.parse(readFileSync(report, "utf8")) as {
      testResults: readonly { name: string; status: string; startTime: number; endTime: number }[];
    };
    return testResults.map(({ name, status, startTime, endTime }) => ({
      name: name.slice(copy.length + 1),
      failed: status === "failed",
      seconds: (endTime - startTime) / 1000,
    }));
  } catch {
    return [];
  }
}

/** Every test file of a room. */
export function testsOf(copy: string, { tests }: Room): string[] {
  return tests.flatMap((pattern) => globSync(pattern, { cwd: copy })).sort();
}

/**
 * The order for a changed source: first what noticed a slip in that source before and what is named for it, then the
 * quickest. What noticed something in the room comes before what never did.
 */
export function orderFor(
  source: string,
  seconds: ReadonlyMap<string, number>,
  noticed: readonly { readonly file: string; readonly by?: string }[],
): string[] {
  const named = basename(source, ".ts");
  const score = (test: string): number => {
    const short = basename(test, ".test.ts");
    const here = noticed.filter(({ file, by }) => file === source && by === short).length;
    const anywhere = noticed.filter(({ by }) => by === short).length;
    return (
      (seconds.get(test) ?? 0) / (1 + 6 * here + Math.min(8, anywhere) + (short.startsWith(named) ? 20 : 0))
    );
  };
  return [...seconds.keys()].sort((a, b) => score(a) - score(b));
}
