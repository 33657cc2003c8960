/**
 * How often the interval of the time left of a motor, and of a fleet, contains the truth, on made-up fleets whose paths
 * are known.
 * `npx tsx tests/study/remainingCoverage.ts <fleets> <seed>` prints a Markdown table.
 */
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { isUndetermined } from "../../lib/study/life/lifeData.js";
import type { MeasuredRun } from "../../lib/study/population/motorSlopes.js";
import { remainingLife } from "../../lib/study/population/remainingLife.js";

export interface FleetKind {
  readonly motors: number;
  readonly runs: number;
  /** Deviation of the motors' slopes over their mean. */
  readonly slopes: number;
  /** Deviation of one run, over what a motor gains during the watching. */
  readonly noise: number;
  /** Two rigs that differ, and temperatures that act. */
  readonly disturbed: boolean;
}

/** Runs of a fleet that drifts from 20 by about 4 in 1,000 h towards a limit of 30, and the time at which each path
 * gets there. */
export function driftingFleet(kind: FleetKind, random: ReturnType<typeof seededRandom>) {
  const runs: MeasuredRun[] = [];
  const reach = new Map<string, number>();
  for (let m = 0; m < kind.motors; m++) {
    const level = 20 + 0.5 * random.normal();
    const slope = 0.004 * Math.max(0.05, 1 + kind.slopes * random.normal());
    const motor = `m${m}`;
    reach.set(motor, (30 - level) / slope);
    for (let k = 0; k < kind.runs; k++) {
      const time = (1000 * k) / (kind.runs - 1) + 20 * random.uniform();
      const rig = (m + k) % 2 === 0 ? "A" : "B";
      const temperature = 25 + 8 * random.normal();
      const extra = kind.disturbed ? (rig === "B" ? 1 : 0) + 0.05 * (temperature - 25) : 0;
      const value = level + slope * time + 4 * kind.noise * random.normal() + extra;
      runs.push({ motor, time, value, ...(kind.disturbed ? { rig, temperature } : {}) });
    }
  }
  return { runs, reach };
}

/** Counts of intervals that hold the truth. */
export function covered(kind: FleetKind, fleets: number, seed: number) {
  const random = seededRandom(seed);
  // A tenth and half of such motors, by 200,000 paths.
  const paths = Float64Array.from({ length: 200_000 }, () => {
    const level = 20 + 0.5 * random.normal();
    return (30 - level) / (0.004 * Math.max(0.05, 1 + kind.slopes * random.normal()));
  }).sort();
  let [motors, held, times, heldTimes] = [0, 0, 0, 0];
  for (let k = 0; k < fleets; k++) {
    const { runs, reach } = driftingFleet(kind, random);
    const found = remainingLife(runs, 30, "upper", { timeUnit: "h" });
    if (isUndetermined(found)) continue;
    for (const m of found.motors) {
      const left = Math.max(0, (reach.get(m.motor) as number) - m.now);
      motors++;
      if (m.remaining.low <= left && left <= m.remaining.high) held++;
    }
    for (const { share, time } of found.fleet) {
      const truth = paths[Math.floor(share * paths.length)];
      times++;
      if (time.low <= truth && truth <= time.high) heldTimes++;
    }
  }
  return { motors, held, times, heldTimes };
}

if (process.argv[1]?.endsWith("remainingCoverage.ts")) {
  const [fleets, seed] = process.argv.slice(2).map(Number);
  console.log(
    "| motors | runs each | slopes differ by | noise | rig, temperature | motors covered | fleet times covered |",
  );
  console.log("|---|---|---|---|---|---|---|");
  for (const motors of [5, 12, 40])
    for (const [runs, slopes, noise] of [
      [4, 0.2, 0.1],
      [8, 0.2, 0.1],
      [8, 0.4, 0.1],
      [8, 0.05, 0.2],
    ])
      for (const disturbed of motors === 12 ? [false, true] : [false]) {
        const n = Math.ceil((fleets * 5) / motors);
        const c = covered({ motors, runs, slopes, noise, disturbed }, n, seed);
        const percent = (a: number, b: number) => `${((100 * a) / b).toFixed(1)} % of ${b}`;
        console.log(
          `| ${motors} | ${runs} | ${slopes * 100} % | ${noise * 100} % | ${disturbed ? "yes" : "no"} | ${percent(c.held, c.motors)} | ${percent(c.heldTimes, c.times)} |`,
        );
      }
}
