import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, it } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";
import type { ChannelRole } from "../../lib/recording/types.js";

const file = (compression: string): string =>
  new URL(`arrow/columns-${compression}.arrow`, import.meta.url).pathname;
const read = async (path: string) => readRecordings([path], { encoder: { lines: 1024 } });
const folder = mkdtempSync(join(tmpdir(), "arrow-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

// Files written by an independent Arrow writer (tests/recording/arrow/makeFiles.mjs).
it.each(["lz4", "zstd"])("reads %s buffers as it reads plain ones", async (compression) => {
  const plain = (await read(file("uncompressed"))).recordings[0];
  const { recordings, problems } = await read(file(compression));
  expect(problems).toEqual([]);
  const [packed] = recordings;
  expect(plain.time).toHaveLength(240);
  expect([...packed.time]).toEqual([...plain.time]);
  expect(Object.keys(packed.channels)).toEqual(Object.keys(plain.channels));
  for (const [role, channel] of Object.entries(plain.channels))
    expect(packed.channels[role as ChannelRole]).toEqual(channel);
  expect(packed.channels.speed?.data[100]).toBeNaN();
});

it.each(["lz4", "zstd"])(
  "refuses a damaged %s buffer in one line, or reads what is whole",
  async (compression) => {
    const bytes = readFileSync(file(compression));
    for (let k = 0; k < 40; k += 1) {
      const copy = Buffer.from(bytes);
      copy[400 + Math.floor((k * (copy.length - 1200)) / 40)] ^= 0x5a;
      const path = join(folder, `${compression}-${k}x.arrow`);
      writeFileSync(path, copy);
      const { recordings, problems } = await read(path);
      expect(recordings.length + problems.length).toBeGreaterThan(0);
      for (const { message } of problems) expect(message).not.toContain("\n");
    }
  },
);
