import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { table, toArrowIPC } from "arquero";
import { afterAll, describe, expect, test } from "vitest";
import { checkArrowLists } from "../../lib/recording/formats/arrowLists.js";
import { readRecordings } from "../../lib/recording/readRecordings.js";

const folder = mkdtempSync(join(tmpdir(), "arrow-lists-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const rows = 30;
const small = table({
  "time [s]": Float64Array.from({ length: rows }, (_, i) => i / 100),
  "current [A]": Float64Array.from({ length: rows }, (_, i) => Math.sin(i / 3)),
  "speed [rad/s]": Float64Array.from({ length: rows }, (_, i) => i * i),
  kind: Array.from({ length: rows }, (_, i) => (i < 15 ? "torque" : "speed")),
});
const forms = ["file", "stream"] as const;
const written = (format: (typeof forms)[number]) => toArrowIPC(small, { format }) as Uint8Array;

describe("sound files pass", () => {
  test.each(["uncompressed", "lz4", "zstd"])("%s, from an independent writer", (compression) => {
    const path = new URL(`arrow/columns-${compression}.arrow`, import.meta.url).pathname;
    expect(() => checkArrowLists(readFileSync(path), 240)).not.toThrow();
  });
  test.each(forms)("the %s format, with a dictionary of words", (format) => {
    expect(() => checkArrowLists(written(format), rows)).not.toThrow();
  });
});

// A reader that trusts a stated length makes two thousand million entries of it, or goes back and forth between two
// messages for ever.
describe.each(forms)("a small %s with any four bytes damaged is read or refused at once", (format) => {
  test.each([
    ["a huge length", 0x7fffffff],
    ["a length below zero", -8],
    ["a length of a few thousand", 5000],
  ])("%s", async (_what, value) => {
    const sound = written(format);
    const path = join(folder, "damaged.arrow");
    let refused = 0;
    for (let at = 0; at + 4 <= sound.length; at += 4) {
      const copy = Buffer.from(sound);
      copy.writeInt32LE(value, at);
      writeFileSync(path, copy);
      const { recordings, problems } = await readRecordings([path]);
      if (recordings.length === 0) {
        expect(problems.length).toBeGreaterThan(0);
        refused += 1;
      }
      for (const { message } of problems) expect(message).not.toMatch(/\n|undefined|NaN/);
    }
    expect(refused).toBeGreaterThan(10);
  });
});

test("what is wrong is said", () => {
  expect(() => checkArrowLists(written("file"), rows - 1)).toThrow(
    "it states 30 rows, more than a file of its size may",
  );
  const sound = Buffer.from(written("stream"));
  // The first message: a continuation mark, then the length of its metadata.
  sound.writeInt32LE(1 << 30, 4);
  expect(() => checkArrowLists(sound, rows)).toThrow(
    /^a message states 1073741824 bytes of metadata where \d+ are left$/,
  );
});
