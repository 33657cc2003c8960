/**
 * Measures what a study costs besides the judging: a stand-in job that does next to nothing, on two threads, for
 * growing numbers of recordings, and with 1, 2 and 4 workers behind a queue. `npx tsx
 * tests/benchmarks/studyMachinery.ts [100,1000,10000] [queue]`
 */
import { spawn } from "node:child_process";
import { rmSync } from "node:fs";
import { join } from "node:path";
import { builtStudy } from "../study/built.js";
import { scratch, standIns } from "../study/files.js";
import { ownRedis, redisServer } from "../study/redis.js";

const [countsText = "100,1000,10000", withQueue] = process.argv.slice(2);
const built = await builtStudy();
const home = scratch();

function timed(args: readonly string[], environment: Record<string, string> = {}) {
  const begun = performance.now();
  const child = spawn(
    "/usr/bin/time",
    ["-f", "%U %S %M", process.execPath, join(built.folder, "run.js"), ...args],
    {
      env: { ...process.env, ...environment },
      stdio: ["ignore", "ignore", "pipe"],
    },
  );
  let err = "";
  child.stderr.on("data", (d) => (err += d));
  return new Promise<{ seconds: number; cpu: number; memory: number }>((done) =>
    child.on("close", () => {
      const [user, system, memory] = err.trim().split("\n").at(-1)!.split(" ").map(Number);
      done({ seconds: (performance.now() - begun) / 1000, cpu: user + system, memory: memory / 1024 });
    }),
  );
}

const show = (label: string, count: number, m: { seconds: number; cpu: number; memory: number }) =>
  console.log(
    `${label.padEnd(16)} ${String(count).padStart(6)} recordings  ${(count / m.seconds).toFixed(0).padStart(5)}/s  ${m.cpu.toFixed(1).padStart(6)} CPU s  ${m.memory.toFixed(0).padStart(4)} MB`,
  );

try {
  for (const count of countsText.split(",").map(Number)) {
    const input = join(home, `in-${count}`);
    standIns(input, count);
    show("2 threads", count, await timed(["run", input, join(home, `out-${count}`)]));
    show("nothing to do", count, await timed(["run", input, join(home, `out-${count}`)]));
    const program = withQueue && count <= 1000 ? redisServer() : null;
    if (program === null) continue;
    for (const workers of [1, 2, 4]) {
      const server = await ownRedis(program, join(home, `redis-${count}-${workers}`));
      await server.start();
      const queue = {
        STUDY_TEST_QUEUE: `redis://127.0.0.1:${server.port}`,
        STUDY_TEST_SHARED: home,
        STUDY_TEST_IDLE: "6",
      };
      const serving = Array.from({ length: workers }, () => timed(["worker", home], queue));
      const gathering = await timed(["run", input, join(home, `out-${count}-${workers}`)], queue);
      const each = await Promise.all(serving);
      show(`queue, ${workers}`, count, {
        seconds: gathering.seconds,
        cpu: gathering.cpu + each.reduce((sum, m) => sum + m.cpu, 0),
        memory: Math.max(gathering.memory, ...each.map((m) => m.memory)),
      });
      await server.kill();
    }
  }
} finally {
  rmSync(home, { recursive: true, force: true });
  built.remove();
}
