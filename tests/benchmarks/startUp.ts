/**
 * Start-up of the command against bare Node: `npm run build && npx tsx tests/benchmarks/startUp.ts`. Medians of
 * alternating starts.
 */
import { spawnSync } from "node:child_process";
import { resolve } from "node:path";
import { type Measurement, median } from "./table.js";

const main = resolve(import.meta.dirname, "../../dist/cli/main.js");

/** Start-up times as ratios to `node -e 0`. */
export function startUp(rounds = 15): Measurement[] {
  const runs: Record<string, readonly string[]> = {
    bare: ["-e", "0"],
    version: [main, "--version"],
    help: [main, "diagnose", "--help"],
  };
  const times: Record<string, number[]> = { bare: [], version: [], help: [] };
  for (let round = 0; round <= rounds; round += 1) {
    for (const [name, args] of Object.entries(runs)) {
      const begun = performance.now();
      const { status } = spawnSync(process.execPath, [...args]);
      if (status !== 0) throw new Error(`${name}: exit status ${status}`);
      if (round > 0) times[name].push(performance.now() - begun);
    }
  }
  const bare = median(times.bare);
  return (["version", "help"] as const).map((name) => ({
    what: `start-up of shaftwise ${name === "version" ? "--version" : "diagnose --help"} against node -e 0`,
    value: median(times[name]) / bare,
    unit: "times its time",
    target: name === "version" ? "at most 4" : undefined,
    detail: `${median(times[name]).toFixed(0)} ms against ${bare.toFixed(0)} ms`,
  }));
}

if (process.argv[1]?.endsWith("startUp.ts"))
  for (const m of startUp()) console.log(`${m.what}: ${m.value.toFixed(2)} (${m.detail})`);
