/**
 * Processor time and peak memory of the commands on one long log of many trials, beside those of `shaftwise inspect`:
 * `npm run build && npx tsx tests/benchmarks/longLog.ts [rows...]` (100 thousand, 1 and 5 million when absent). Needs
 * /usr/bin/time.
 *
 * The log is the recording of order UVW of `datasets/parcel-sorter` over and over, time and counts going on.
 */
import { spawnSync } from "node:child_process";
import { closeSync, mkdtempSync, openSync, readFileSync, rmSync, writeFileSync, writeSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { type Measurement, median } from "./table.js";

const dataset = resolve(import.meta.dirname, "../../datasets/parcel-sorter");
const main = resolve(import.meta.dirname, "../../dist/cli/main.js");
const commands = ["diagnose", "fit", "loop", "report"] as const;

/** Processor seconds of each command over those of `inspect`, and its peak memory; the middle one of so many rounds. */
export function longLog(
  sizes: readonly number[] = [100_000, 1_000_000, 5_000_000],
  rounds = 3,
): Measurement[] {
  return sizes.flatMap((rows) => {
    const home = mkdtempSync(join(tmpdir(), "long-log-"));
    try {
      const folder = home;
      write(folder, rows);
      const seen = Array.from({ length: rounds }, () => {
        const inspect = timed("inspect", folder);
        return commands.map((command) => {
          const own = timed(command, folder);
          return { ratio: own.seconds / inspect.seconds, ...own, inspect: inspect.seconds };
        });
      });
      return commands.map((command, k): Measurement => {
        const ratio = median(seen.map((round) => round[k].ratio));
        const [middle] = seen.map((round) => round[k]).filter((one) => one.ratio === ratio);
        return {
          what: `${command} on one log of ${rows.toLocaleString("en")} rows: processor time against inspect`,
          value: ratio,
          unit: "times its time",
          target: "at most 2",
          detail: `${middle.seconds.toFixed(1)} s against ${middle.inspect.toFixed(1)} s, peak ${middle.memory} MB`,
        };
      });
    } finally {
      rmSync(home, { recursive: true, force: true });
    }
  });
}

function timed(command: string, folder: string): { readonly seconds: number; readonly memory: number } {
  const out = command === "report" ? ["--out", join(folder, "report")] : [];
  const { status, stderr } = spawnSync(
    "/usr/bin/time",
    ["-f", "took %U %S %M", process.execPath, main, command, join(folder, "order-uvw.csv"), ...out],
    { encoding: "utf8", maxBuffer: 2 ** 30 },
  );
  const [, user, system, memory] = /took ([\d.]+) ([\d.]+) (\d+)/.exec(stderr) ?? [];
  if (status !== 0) throw new Error(`${command}: exit status ${status}: ${stderr.slice(-400)}`);
  return { seconds: Number(user) + Number(system), memory: Math.round(Number(memory) / 1024) };
}

/** The log with a descriptor that declares no trials. */
function write(folder: string, rows: number): void {
  const [head, ...lines] = readFileSync(join(dataset, "order-uvw.csv"), "utf8").trim().split("\n");
  const cells = lines.map((line) => line.split(","));
  const [first, last] = [cells[0], cells[cells.length - 1]];
  const length = Number(last[0]) + 1e-3;
  const turn = Number(last[4]) - Number(first[4]) - 10;
  const file = openSync(join(folder, "order-uvw.csv"), "w");
  writeSync(file, `${head}\n`);
  for (let pass = 0; pass * cells.length < rows; pass += 1) {
    const part = cells.slice(0, rows - pass * cells.length);
    const text = part.map(([time, asked, current, speed, position, command]) =>
      [
        (Number(time) + pass * length).toFixed(3),
        asked,
        current,
        speed,
        Number(position) + pass * turn,
        command,
      ].join(","),
    );
    writeSync(file, `${text.join("\n")}\n`);
  }
  closeSync(file);
  const descriptor = JSON.parse(readFileSync(join(dataset, "datapackage.json"), "utf8"));
  const [resource] = descriptor.resources;
  writeFileSync(
    join(folder, "datapackage.json"),
    JSON.stringify({
      ...descriptor,
      resources: [{ ...resource, shaftwise: { ...resource.shaftwise, trials: undefined } }],
    }),
  );
}

if (process.argv[1]?.endsWith("longLog.ts")) {
  const sizes = process.argv.slice(2).map(Number);
  for (const m of longLog(sizes.length > 0 ? sizes : undefined))
    console.log(`${m.what}: ${m.value.toFixed(2)} ${m.unit} (${m.detail})`);
}
