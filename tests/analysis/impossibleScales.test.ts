import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { analyseFiles } from "../../lib/analysis/analyseFiles.js";
import type { AnalysedRecording } from "../../lib/analysis/conclude.js";
import { column, mapped, type Rows, shippedSet, written } from "./shippedDamages.js";

// A scale that would make the shaft turn as no machine can (a million turns a minute, see `largestSpeed`). The demo's
// shaft turns at some 4,170 rev/min under torque.

const folder = mkdtempSync(join(tmpdir(), "impossible-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const { position, speed, reference } = column;
const thousandfold = (rows: Rows) => mapped(rows, [position], (v) => 1000 * v);

async function uvw(name: string, without: readonly number[] = []): Promise<AnalysedRecording> {
  const home = join(folder, name);
  mkdirSync(home);
  const [log] = shippedSet;
  const kept = <T>(cells: readonly T[]): T[] => cells.filter((_, k) => !without.includes(k));
  const path = join(home, log.file);
  writeFileSync(
    path,
    written({ ...log, heading: kept(log.heading), rows: thousandfold(log.rows).map(kept) }),
  );
  const { recordings } = await analyseFiles([path], {
    parts: { constants: true },
    reading: { encoder: { lines: 1024 } },
  });
  return recordings[0];
}

const codes = ({ verdicts }: AnalysedRecording) => (verdicts.attention ?? []).map(({ code }) => code);

test("position a thousand times too far beside a sound speed: the position is put right, not the speed", async () => {
  const read = await uvw("both");
  const corrected = verdictFinding(read, "unit-corrected");
  expect(corrected?.column).toContain("position");
  expect(corrected?.value).toBeCloseTo(1e-3, 6);
  expect(codes(read)).not.toContain("speed-impossible");
});

test("position a thousand times too far alone: no figure that rests on its scale", async () => {
  const read = await uvw("alone", [speed, reference]);
  expect(codes(read)).toContain("speed-impossible");
  for (const name of ["backEmfConstant", "kv", "inertiaOverTorqueConstant"] as const)
    expect(read.constants?.routes.find(({ quantity }) => quantity === name)).toBeUndefined();
  expect(read.constants?.mechanical.mechanicalTimeConstant).toBeDefined();
});

const verdictFinding = ({ verdicts }: AnalysedRecording, code: string) =>
  verdicts.attention?.find((finding) => finding.code === code);
