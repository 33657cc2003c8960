import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { analyseFiles } from "../../lib/analysis/analyseFiles.js";

const folder = mkdtempSync(join(tmpdir(), "stall-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** A motor under a speed loop with a limit of its current; equations of motion and voltage (physics, any textbook). */
interface Shaft {
  /** When the shaft is clamped, and until when, s. */
  readonly jam?: readonly [from: number, to: number];
  /** When the sensor of the speed begins to say nought, s. */
  readonly dead?: number;
  /** Noise of the logged speed, rev/min. */
  readonly noise: number;
}

const step = 1e-3;
const [inertia, friction, kt, resistance, most, asked] = [4e-4, 0.012, 0.06, 0.8, 8, 1500];

/** Rows of 10 ms for 4 s: time, command and speed in rev/min, current in A, voltage in V. */
function rowsOf({ jam, dead, noise }: Shaft): number[][] {
  let [w, integral, seed] = [0, 0, 7];
  const random = (): number => {
    seed = (seed * 16_807) % 2_147_483_647;
    return seed / 2_147_483_647 - 0.5;
  };
  const rows: number[][] = [];
  for (let k = 0; k < 4000; k += 1) {
    const t = k * step;
    const command = t < 0.3 ? 0 : asked;
    const seen = dead !== undefined && t > dead ? 0 : w;
    const error = (command * Math.PI) / 30 - seen;
    const wanted = 0.08 * error + integral;
    const current = Math.max(-most, Math.min(most, wanted));
    if (wanted === current) integral += 0.3 * error * step;
    const held = jam !== undefined && t > jam[0] && t < jam[1];
    w = held ? 0 : w + (step * (kt * current - friction * Math.tanh(w) - 2e-4 * w)) / inertia;
    if (k % 10 === 0) {
      const said = (seen * 30) / Math.PI + noise * random();
      rows.push([
        t,
        command,
        Math.round(10 * said) / 10,
        Math.round(100 * (current + 0.04 * random())) / 100,
        Math.round(100 * (resistance * current + kt * w + 0.05 * random())) / 100,
      ]);
    }
  }
  return rows;
}

async function judged(shaft: Shaft, name: string, columns = 5) {
  const heading = ["time [s]", "speed setpoint [rpm]", "speed [rpm]", "current [A]", "motor voltage [V]"];
  const file = join(folder, `${name}.csv`);
  const lines = rowsOf(shaft).map((row) => row.slice(0, columns).join(","));
  writeFileSync(file, `${heading.slice(0, columns).join(",")}\n${lines.join("\n")}\n`);
  const { diagnosis } = await analyseFiles([file], { threads: 1, parts: {} });
  const trials = diagnosis.recordings.flatMap((r) => r.trials).filter(({ kind }) => kind === "speed");
  expect(trials).toHaveLength(1);
  return trials[0];
}

test("a shaft that followed and is clamped under its command is blocked from there on, from outside", async () => {
  const trial = await judged({ jam: [2, 9], noise: 4 }, "jam");
  expect(trial).toMatchObject({ verdict: "blocked" });
  expect(trial.confidence).toBeGreaterThan(0.85);
  expect(trial.text).toMatch(/^Followed its command until 2\.0?\d? s/);
  const [first, second] = [...(trial.causes ?? [])].sort((a, b) => b.probability - a.probability);
  expect([first.cause, second.cause].sort()).toEqual(["jam", "load-or-friction"]);
  // The trial is told to its end.
  expect(trial.end).toBeGreaterThan(3.9);
  const whole = await judged({ jam: [9, 9], noise: 4 }, "free");
  expect(whole).toMatchObject({ verdict: "tracking" });
});

test("a sensor that dies under the loop is no shaft that was stopped: the voltage goes on up", async () => {
  const trial = await judged({ dead: 2, noise: 0 }, "dead");
  expect(trial.verdict).toBe("undetermined");
});

test("a count that stops at once without a word of the voltage is left open, and noise that goes on is not", async () => {
  expect((await judged({ jam: [2, 9], noise: 0 }, "bare", 4)).verdict).toBe("undetermined");
  expect((await judged({ jam: [2, 9], noise: 4 }, "alive", 4)).verdict).toBe("blocked");
});

test("a shaft that is let go again and comes back to its command was not blocked", async () => {
  expect((await judged({ jam: [2, 2.4], noise: 4 }, "again")).verdict).not.toBe("blocked");
});

test("a pump that settles at half its frequency the other way has two leads exchanged, and does not run away", async () => {
  let w = 0;
  const rows = Array.from({ length: 300 }, (_, k) => {
    const hertz = k < 30 ? 0 : Math.min(38, (k - 30) * 2);
    w += (-0.48 * hertz * 60 - w) / 5;
    return `${k},${hertz.toFixed(1)},${(w + ((k * 7) % 5) - 2).toFixed(0)},${(3 + ((k * 13) % 7) / 20).toFixed(2)}`;
  });
  const file = join(folder, "pump.csv");
  writeFileSync(file, `time [s],frequency setpoint [Hz],speed [rpm],current [A]\n${rows.join("\n")}\n`);
  const { diagnosis } = await analyseFiles([file], { threads: 1, parts: {} });
  const trials = diagnosis.recordings.flatMap((r) => r.trials).filter(({ kind }) => kind === "speed");
  expect(trials).toMatchObject([{ verdict: "reversed", sense: "against" }]);
  expect(trials[0].text).toContain("2 pole pairs");
});
