import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { uglyIn } from "../house/humanText.js";
import { writeCase } from "./humanCases.js";
import { textsOf, widthOf } from "./humanText.js";

/** `readHumanText.ts` beside this file reads as many cases as one likes; these are some of its first. */
const cases = Array.from({ length: 25 }, (_, i) => i + 3);
let home: string;
beforeAll(() => {
  home = mkdtempSync(join(tmpdir(), "shaftwise-human-"));
});
afterAll(() => rmSync(home, { recursive: true, force: true }));

test.each(cases)("made-up customer %i: every text reads well", async (seed) => {
  const made = writeCase(home, seed);
  // Drawing takes about a second: `PAGES=1 npx tsx tests/cli/readHumanText.ts` reads the page of every case.
  const texts = await textsOf(made, seed % 10 === 5);
  expect(Object.keys(texts).length).toBeGreaterThan(8);
  for (const [where, text] of Object.entries(texts))
    expect(
      uglyIn(
        text,
        made.names,
        widthOf(where),
        4 * Math.max(made.files.length, Object.keys(texts).filter((key) => key.startsWith("explain")).length),
      ),
      where,
    ).toEqual([]);
});

test("the reader finds what was seen in texts of old", () => {
  for (const line of [
    "lines are not stated State them with --lines",
    "9 of 4 commands were followed.",
    "motor motor 1",
    "undetermined, none, 100 % sure",
    "The trial lasts 1747000000 s to 1747000000 s.",
    "agreement NaN",
    "a speed of {rev}/min was assumed",
    "It moved -0.00 s.",
    "the cause () is open",
    "A probability of 104 % was found.",
    "An inertia of 0.0003 kg.m2 was found.",
    "A gap of 2 s. It is long. What it held is unknown",
    "It ended here..",
    "It ended , then it began.",
    "1 rows were read.",
    "Still needed to judge a unknown trial.",
  ])
    expect(uglyIn(line), line).toHaveLength(1);
});
