import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { settleDays } from "../../lib/recording/columns/dayOrder.js";
import { stampMoment } from "../../lib/recording/columns/stampMoment.js";
import { type ReadResult, readRecordings } from "../../lib/recording/index.js";

const folder = mkdtempSync(join(tmpdir(), "day-order-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const two = (n: number): string => String(n).padStart(2, "0");
const american = (d: Date): string => `${d.getUTCMonth() + 1}/${d.getUTCDate()}/${d.getUTCFullYear()}`;
const european = (d: Date): string =>
  `${two(d.getUTCDate())}/${two(d.getUTCMonth() + 1)}/${d.getUTCFullYear()}`;
const clock = (d: Date): string =>
  `${two(d.getUTCHours())}:${two(d.getUTCMinutes())}:${two(d.getUTCSeconds())}`;

/** How a table reaches the reader: small ones cell by cell, plain long ones by the column engine, and line by line. */
const ways: Readonly<Record<string, (stamps: readonly string[]) => [string, string]>> = {
  cells: (stamps) => [
    "csv",
    `stamp;speed [rpm];state\n${stamps.map((s, i) => `${s};${i % 90};ok`).join("\n")}\n`,
  ],
  engine: (stamps) => ["csv", `stamp,speed [rpm]\n${stamps.map((s, i) => `${s},${i % 90}`).join("\n")}\n`],
  lines: (stamps) => [
    "jsonl",
    `${stamps.map((stamp, i) => JSON.stringify({ stamp, "speed [rpm]": i % 90 })).join("\n")}\n`,
  ],
};

async function read(
  name: string,
  way: string,
  from: string,
  write: (moment: Date) => string,
  rows = 400,
): Promise<ReadResult> {
  const start = Date.parse(from);
  const [ending, text] = ways[way](
    Array.from({ length: rows }, (_, i) => write(new Date(start + 60_000 * i))),
  );
  const path = join(folder, `${name}-${way}.${ending}`);
  writeFileSync(path, text);
  return readRecordings([path]);
}

describe.each(Object.keys(ways))("day and month of a whole column, read by %s", (way) => {
  const rows = way === "engine" ? 12_000 : 400;
  test.each([
    ["the 12th into the 13th, month first", american, "2024-03-12T23:00:00Z"],
    ["the 12th into the 13th, day first", european, "2024-03-12T23:00:00Z"],
    ["the 4th into the 5th, month first", american, "2024-03-04T23:00:00Z"],
    ["the 4th into the 5th, day first", european, "2024-03-04T23:00:00Z"],
    ["the end of a month, day first", european, "2024-02-29T23:00:00Z"],
    ["the end of a year, month first", american, "2023-12-31T23:00:00Z"],
  ])("%s: no minute is lost and none added", async (name, date, from) => {
    const { recordings, problems } = await read(name, way, from, (d) => `${date(d)} ${clock(d)}`, rows);
    expect(problems.filter(({ severity }) => severity === "error")).toEqual([]);
    const [{ time, source, findings }] = recordings;
    expect(time.length).toBe(rows);
    expect(time[rows - 1] - time[0]).toBeCloseTo(60 * (rows - 1), 6);
    expect(source?.startedAt).toBe(new Date(from).toISOString());
    expect(findings.some(({ code }) => code === "day-order")).toBe(false);
  });

  test("where both orders fit, what was taken is said", async () => {
    const { recordings } = await read(
      "open",
      way,
      "2024-04-03T09:00:00Z",
      (d) => `${european(d)} ${clock(d)}`,
      60,
    );
    const [{ time, source, findings }] = recordings;
    expect(time[59] - time[0]).toBeCloseTo(59 * 60, 6);
    expect(source?.startedAt).toBe("2024-04-03T09:00:00.000Z");
    expect(findings.find(({ code }) => code === "day-order")?.message).toBe(
      'the dates of "stamp" may have the day or the month first; they were taken as 2024-04-03 and may be 2024-03-04',
    );
  });
});

describe("a column of moments", () => {
  const settled = (...texts: string[]): [readonly number[], boolean] => {
    const values = Float64Array.from(texts, (text) => stampMoment(text));
    const open = settleDays(values);
    return [[...values], open];
  };
  const utc = (...parts: [number, number, number, number?, number?, number?]): number => {
    const [year, month, ...rest] = parts;
    return 1000 * Date.UTC(year, month - 1, ...(rest as [number]));
  };

  test("a part above twelve anywhere settles all", () => {
    expect(settled("1/2/2024 10:00", "1/13/2024 10:00")).toEqual([
      [utc(2024, 1, 2, 10), utc(2024, 1, 13, 10)],
      false,
    ]);
    expect(settled("1-2-2024 10:00", "13-2-2024 10:00")).toEqual([
      [utc(2024, 2, 1, 10), utc(2024, 2, 13, 10)],
      false,
    ]);
  });

  test("days that follow each other settle it where no part is above twelve", () => {
    expect(settled("3/4/2024 23:59", "3/5/2024 00:01")[0][0]).toBe(utc(2024, 3, 4, 23, 59));
    expect(settled("4/3/2024 23:59", "5/3/2024 00:01")[0][0]).toBe(utc(2024, 3, 4, 23, 59));
  });

  test("with AM and PM the month comes first where nothing tells", () => {
    expect(settled("3/4/2024 1:00:00 PM", "3/4/2024 1:00:01 PM")).toEqual([
      [utc(2024, 3, 4, 13), utc(2024, 3, 4, 13, 0, 1)],
      true,
    ]);
    expect(settled("3/4/2024 13:00:00")).toEqual([[utc(2024, 4, 3, 13)], true]);
  });

  test("years before 2000, fractions to the microsecond, and days that are none", () => {
    expect(settled("28/02/1999 00:00:00.000001")[0]).toEqual([utc(1999, 2, 28) + 1]);
    expect(settled("31/12/1970 23:59:59.999999")[0]).toEqual([utc(1971, 1, 1) - 1]);
    expect(settled("31/04/2024 10:00:00", "30/04/2024 10:00:00")[0]).toEqual([
      Number.NaN,
      utc(2024, 4, 30, 10),
    ]);
  });

  test("behind points the day comes first", () => {
    expect(stampMoment("03.04.2024 10:00:00")).toBe(utc(2024, 4, 3, 10));
  });
});
