import { expect, test } from "vitest";
import type { Io } from "../../lib/cli/io.js";
import { UsageError } from "../../lib/cli/io.js";
import { run } from "../../lib/cli/study.js";

async function planned(...options: string[]): Promise<string> {
  let text = "";
  const add = (t: string) => {
    text += t;
  };
  await run(["plan", ...options], {
    out: add,
    err: add,
    color: false,
    columns: 100,
    live: false,
  } as unknown as Io);
  return text.replace(/\s+/g, " ");
}

test("a plan without failures or a length of the mission speaks of neither", async () => {
  // ln(0.1) / ln(0.9) = 21.85: the textbook count of units for 90 % at 90 % without a failure.
  expect(await planned("--reliability", "90", "--confidence", "90")).toMatch(
    /^22 units, each run for one mission without a failure, demonstrate /,
  );
  const given = await planned("--reliability", "95", "--mission", "5000", "--shape", "2", "--units", "10");
  // 45 of 10 units' worth of missions to the power of the shape: (ln 0.1 / (10 ln 0.95))^(1/2) = 2.119.
  expect(given).toContain("each run for one mission (5000) without a failure");
  expect(given).toContain("10 units must each run 10600 (2.12 missions) without a failure");
  expect(await planned("--reliability", "99", "--allowed", "1")).toContain("with at most 1 failure, ");
  expect(await planned("--precision", "1.5")).toContain("watched until all have failed");
});

test("a test that is no faster than use says so", async () => {
  const [slower, faster] = [
    await planned("--energy", "0.5", "--use", "90C", "--test", "40C"),
    await planned("--energy", "0.5", "--use", "40C", "--test", "90C"),
  ];
  expect(slower).toContain("This test is no faster than use");
  expect(faster).not.toContain("no faster");
});

test("fractions where per cent are asked for, and factors that are none, are refused with the remedy", async () => {
  await expect(planned("--reliability", "0.9")).rejects.toThrow("for 0.9 of all units write 90");
  await expect(planned("--precision", "0.5")).rejects.toThrow(UsageError);
});
