import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { attempt } from "./attempt.js";
import { seedFiles } from "./seeds.js";

// A short run of `npx tsx tests/hostile/run.ts`, whose 20,000 files and findings are in docs/hostile-input.md.
test("damaged files of every format are judged or refused in one clear line, never a crash", async () => {
  const folder = mkdtempSync(join(tmpdir(), "shaftwise-hostile-"));
  try {
    const seeds = await seedFiles();
    const failed: unknown[] = [];
    const counts = { judged: 0, refused: 0, failed: 0 };
    for (let number = 1; number <= 150; number += 1) {
      const result = await attempt(seeds, number, folder);
      counts[result.outcome] += 1;
      if (result.outcome === "failed") failed.push(result);
    }
    expect(failed).toEqual([]);
    expect(counts.judged).toBeGreaterThan(20);
    expect(counts.refused).toBeGreaterThan(5);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});
