/**
 * Measures a study: recordings per second and memory for growing numbers of recordings on worker threads, and with 1, 2
 * and 4 workers behind a queue, as ratios to reading the same files with DuckDB alone.
 *
 * `npm run build && npx tsx tests/benchmarks/studyScale.ts <folder of recordings> [counts, for instance 100,1000] [queue, or queue=2,4]`
 *
 * Recordings are taken in order and linked again under other names when a count is larger than the folder.
 */
import { spawn, spawnSync } from "node:child_process";
import { copyFileSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { ownRedis, redisServer } from "../study/redis.js";

const [source, countsText = "100,1000", withQueue] = process.argv.slice(2);
const crews = /^queue=/.test(withQueue ?? "") ? withQueue.slice(6).split(",").map(Number) : [1, 2, 4];
const main = resolve(import.meta.dirname, "../../dist/cli/main.js");
const home = mkdtempSync(join(tmpdir(), "shaftwise-scale-"));
const files = readdirSync(source, { recursive: true, encoding: "utf8" })
  .filter((name) => name.endsWith(".csv") && name.includes("/"))
  .sort();
const cpu = () => {
  const [user, , system] = readFileSync("/proc/stat", "utf8")
    .split("\n")[0]
    .split(/\s+/)
    .slice(1)
    .map(Number);
  return (user + system) / 100;
};

/** `count` recordings, in folders of at most 100. */
function lay(count: number): string {
  const folder = join(home, `in-${count}`);
  for (let i = 0; i < count; i++) {
    const from = files[i % files.length];
    const to = join(folder, String(Math.floor(i / 100)).padStart(4, "0"));
    if (i % 100 === 0) mkdirSync(to, { recursive: true });
    copyFileSync(join(source, from), join(to, `${String(i).padStart(5, "0")}-${from.split("/").at(-1)}`));
  }
  return folder;
}

interface Measured {
  readonly seconds: number;
  /** CPU seconds and peak resident memory (MB) of the process itself, as /usr/bin/time gives them. */
  readonly cpu: number;
  readonly memory: number;
}

function timed(args: readonly string[], environment: Record<string, string> = {}): Promise<Measured> {
  const begun = performance.now();
  const child = spawn("/usr/bin/time", ["-f", "%U %S %M", process.execPath, ...args], {
    env: { ...process.env, ...environment },
  });
  let err = "";
  child.stderr.on("data", (d) => (err += d));
  return new Promise((done, fail) =>
    child.on("close", (code) => {
      const [user, system, memory] = err.trim().split("\n").at(-1)!.split(" ").map(Number);
      if (code !== 0 && code !== 3) fail(new Error(err));
      else done({ seconds: (performance.now() - begun) / 1000, cpu: user + system, memory: memory / 1024 });
    }),
  );
}

/** DuckDB alone reading every column of every file, one after another. */
const bare = `
const { DuckDBInstance } = await import("@duckdb/node-api");
const { readdirSync } = await import("node:fs");
const folder = process.argv[1];
const connection = await (await DuckDBInstance.create(":memory:", { threads: "2" })).connect();
for (const name of readdirSync(folder, { recursive: true }).filter((n) => n.endsWith(".csv")))
  await connection.runAndReadAll("SELECT * FROM read_csv('" + folder + "/" + name + "')");
process.exit();
`;

const show = (label: string, count: number, m: Measured, base: Measured) =>
  console.log(
    [
      label.padEnd(24),
      String(count).padStart(6),
      `${(count / m.seconds).toFixed(1)}/s`.padStart(9),
      `${((1000 * m.cpu) / count).toFixed(1)} ms CPU each`.padStart(20),
      `${m.memory.toFixed(0)} MB`.padStart(8),
      `${(m.cpu / base.cpu).toFixed(1)} x bare (CPU)`.padStart(18),
    ].join("  "),
  );

const load = cpu();
try {
  for (const count of countsText.split(",").map(Number)) {
    const folder = lay(count);
    const base = await timed(["--input-type=module", "-e", bare, folder]);
    show("DuckDB alone", count, base, base);
    const run = ["study", "run", folder, "--out", join(home, `out-${count}`)];
    show("2 threads", count, await timed([main, ...run, "--threads", "2"]), base);
    show("again, nothing to do", count, await timed([main, ...run, "--threads", "2"]), base);
    const program = withQueue ? redisServer() : null;
    if (program !== null)
      for (const workers of crews) {
        const server = await ownRedis(program, join(home, `redis-${count}-${workers}`));
        await server.start();
        const queue = ["--queue", `redis://127.0.0.1:${server.port}`, "--shared", home];
        const serving = Array.from({ length: workers }, () =>
          timed([main, "study", "worker", ...queue, "--idle", "5"]),
        );
        const out = join(home, `out-${count}-${workers}`);
        const gathering = await timed([main, "study", "run", folder, "--out", out, ...queue]);
        const each = await Promise.all(serving);
        show(
          `queue, ${workers} worker${workers > 1 ? "s" : ""}`,
          count,
          {
            seconds: gathering.seconds,
            cpu: gathering.cpu + each.reduce((sum, m) => sum + m.cpu, 0),
            memory: Math.max(gathering.memory, ...each.map((m) => m.memory)),
          },
          base,
        );
        await server.kill();
        const same = spawnSync("cmp", [
          join(out, "trials.parquet"),
          join(home, `out-${count}`, "trials.parquet"),
        ]);
        if (same.status !== 0) throw new Error("the tables differ from the local run");
      }
    rmSync(folder, { recursive: true });
  }
} finally {
  console.log(`whole machine: ${(cpu() - load).toFixed(0)} CPU s used by everything, this included`);
  rmSync(home, { recursive: true, force: true });
}
