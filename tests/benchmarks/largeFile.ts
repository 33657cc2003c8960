/**
 * Peak memory of `shaftwise inspect` and `shaftwise diagnose` on one large CSV: `npm run build && npx tsx
 * tests/benchmarks/largeFile.ts [gigabytes, 4 when absent]`. Needs the room on the temporary disk and /usr/bin/time.
 *
 * The file repeats a torque trial, a reversal and a pause at 10 kHz, eight columns, until it is large enough.
 */
import { spawnSync } from "node:child_process";
import { closeSync, mkdtempSync, openSync, rmSync, statSync, writeSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { randomBench, simulate } from "../../lib/simulation/index.js";
import type { Measurement } from "./table.js";

/** Resident memory at its peak. */
export function largeFile(gigabytes = 4): Measurement[] {
  const home = mkdtempSync(join(tmpdir(), "large-file-"));
  try {
    const path = join(home, "long.csv");
    const rows = write(path, gigabytes * 1e9);
    const size = statSync(path).size / 1e9;
    const main = resolve(import.meta.dirname, "../../dist/cli/main.js");
    return ["inspect", "diagnose"].map((command) => {
      const begun = performance.now();
      const { status, stderr } = spawnSync(
        "/usr/bin/time",
        ["-f", "peak %M", process.execPath, main, command, "--json", path],
        { encoding: "utf8", maxBuffer: 2 ** 30 },
      );
      if (status !== 0) throw new Error(`${command}: exit status ${status}: ${stderr.slice(-400)}`);
      return {
        what: `peak resident memory of shaftwise ${command} on one CSV of ${size.toFixed(1)} GB`,
        value: Number(/peak (\d+)/.exec(stderr)?.[1]) / 2 ** 20,
        unit: "GiB",
        target: "at most 1.5",
        detail: `${(rows / 1e6).toFixed(0)} million rows, ${((performance.now() - begun) / 1000).toFixed(0)} s`,
      };
    });
  } finally {
    rmSync(home, { recursive: true, force: true });
  }
}

function write(path: string, bytes: number): number {
  const made = randomBench(3);
  const current = made.simulation?.currentNoise ?? 0.02;
  const trace = simulate(made.bench, [...made.torqueProgram, { kind: "torque", from: 0, duration: 1 }], {
    ...made.simulation,
    logRate: 10_000,
    currentNoise: current,
    seed: 3,
  });
  const length = trace.time.length;
  const turn = trace.counts[length - 1];
  // All but time and position repeats, so that text is put together once.
  const tails = Array.from(
    { length },
    (_, i) =>
      `,${trace.currentCommand[i].toFixed(2)},${trace.current[i].toFixed(4)},${(trace.speed[i] * 9.5493).toFixed(2)},`,
  );
  const file = openSync(path, "w");
  writeSync(
    file,
    "time [s],i_cmd [A],i_meas [A],speed [rev/min],position [counts],bus [V],temp [degC],status\n",
  );
  let written = 0;
  let rows = 0;
  for (let pass = 0; written < bytes; pass += 1) {
    const lines: string[] = [];
    for (let i = 0; i < length; i += 1) {
      lines.push(`${(rows / 1e4).toFixed(4)}${tails[i]}${trace.counts[i] + pass * turn},48.12,41.5,39\n`);
      rows += 1;
    }
    written += writeSync(file, lines.join(""));
  }
  closeSync(file);
  return rows;
}

if (process.argv[1]?.endsWith("largeFile.ts"))
  for (const m of largeFile(Number(process.argv[2] ?? 4)))
    console.log(`${m.what}: ${m.value.toFixed(2)} ${m.unit} (${m.detail})`);
