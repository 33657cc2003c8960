import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { analyseFiles } from "../../lib/analysis/analyseFiles.js";
import { workedOut } from "../../lib/recording/columns/workedOut.js";

const folder = mkdtempSync(join(tmpdir(), "estimated-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** A shaft that stays under steps of torque; the torque beside the current has a noise of its own. */
async function held(heading: string) {
  const noise = (k: number, of: number): number => ((k * of) % 101) / 50 - 1;
  const asked = (k: number): number => (k < 60 ? 0 : k < 200 ? 4 : k < 340 ? -4 : 0);
  const rows = Array.from({ length: 400 }, (_, k) => {
    const current = asked(k) / 0.5 + 0.1 * noise(k, 37);
    return [
      (0.01 * k).toFixed(2),
      asked(k),
      (asked(k) + 0.08 * noise(k, 53)).toFixed(3),
      current.toFixed(2),
      (k % 3) - 1,
    ].join(",");
  });
  const file = join(folder, `${heading.replace(/\W+/g, "-")}.csv`);
  writeFileSync(
    file,
    `time [s],torque setpoint [N.m],${heading},current [A],speed [rpm]\n${rows.join("\n")}\n`,
  );
  const { diagnosis } = await analyseFiles([file], { threads: 1, parts: {} });
  return diagnosis.recordings.flatMap((r) => r.trials)[0];
}

test("a torque that its heading calls worked out is no sensor: a shaft that stays under it is blocked", async () => {
  expect(await held("estimated torque [N.m]")).toMatchObject({ kind: "torque", verdict: "blocked" });
});

test("a torque that nobody calls a sensor's lets a held shaft make torque, and no surer than that it is one", async () => {
  const trial = await held("torque [N.m]");
  expect(trial).toMatchObject({ kind: "held", verdict: "tracking" });
  expect(trial.confidence).toBeLessThanOrEqual(0.7);
});

test("headings of several languages that say estimated or calculated, and some that do not", () => {
  for (const name of [
    "torque_est",
    "M_calc [Nm]",
    "Drehmoment geschätzt",
    "推定トルク",
    "แรงบิดประมาณ (Nm)",
    "转矩估算",
  ])
    expect(workedOut(name), name).toBe(true);
  for (const name of ["torque", "best torque", "Drehmoment Ist", "トルク", "test_torque", "M [Nm]"])
    expect(workedOut(name), name).toBe(false);
});
