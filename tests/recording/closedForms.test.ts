/** Small pieces of the understanding of columns against closed forms and standards. */
import { describe, expect, test } from "vitest";
import { devicesInTurns } from "../../lib/recording/columns/devicesInTurns.js";
import { ratioToIntegral } from "../../lib/recording/columns/motionFit.js";
import { readAll } from "../../lib/recording/columns/readAll.js";
import { stampMoment } from "../../lib/recording/columns/stampMoment.js";
import { judgedByOrder } from "../../lib/recording/columns/withoutClock.js";
import { zeroStamps } from "../../lib/recording/columns/wordsAndStamps.js";
import type { SourceData, SourceTable } from "../../lib/recording/formats/sourceTable.js";
import type { Channel, ChannelRole } from "../../lib/recording/types.js";

const rows = (n: number, of: (i: number) => number): Float64Array =>
  Float64Array.from({ length: n }, (_, i) => of(i));

describe("stamps", () => {
  // ISO 8601 as the language itself reads it.
  const texts = [
    "2024-03-01T12:00:00Z",
    "2024-03-01T12:00:00+01:00",
    "2024-03-01T12:00:00-05:30",
    "2024-02-29T23:59:59.125+0900",
    "1999-12-31T23:59:59-0800",
  ];
  const iso = (text: string): string => text.replace(/([+-]\d\d)(\d\d)$/, "$1:$2");
  test.each(texts)("%s is the moment that ISO 8601 makes it", (text) => {
    expect(stampMoment(text)).toBe(Date.parse(iso(text)) * 1000);
  });
  test("of a day go on through midnight, again and again", () => {
    const day = 86_400e6;
    const moments = rows(60, (i) => (79_200e6 + i * 7200e6) % day);
    const origin = zeroStamps(moments, true);
    expect([...moments]).toEqual(Array.from({ length: 60 }, (_, i) => 7200 * i));
    expect(origin).toContain("22:00:00");
  });
  test("with a date stand as they are, however far apart", () => {
    const moments = Float64Array.of(
      Date.parse("2024-03-01T00:00:00Z") * 1000,
      Number.NaN,
      Date.parse("2024-02-01T00:00:00Z") * 1000,
    );
    expect(zeroStamps(moments, false)).toContain("2024-03-01T00:00:00");
    expect([...moments]).toEqual([0, Number.NaN, -29 * 86_400]);
  });
});

describe("tables read one after the other", () => {
  const table = (data: Partial<SourceData>): SourceTable =>
    ({
      path: "x",
      format: "CSV",
      columns: [],
      findings: [],
      read: async () => ({ columns: [], words: new Map(), origins: new Map(), findings: [], ...data }),
    }) as unknown as SourceTable;
  test("keep the time between their stamps", async () => {
    const time = Float64Array.of(0, 1, 2);
    const at = (origin: string) => table({ columns: [time.slice()], origins: new Map([[3, origin]]) });
    const read = await readAll(
      [at("2024-03-01T10:00:00Z"), at("2024-03-01T10:01:30Z"), at("2024-03-01T09:59:00Z")],
      [3],
    );
    expect([...read.columns[0]]).toEqual([0, 1, 2, 90, 91, 92, -60, -59, -58]);
    expect(read.origins.get(3)).toBe("2024-03-01T10:00:00Z");
    // Whoever reads may convert them in place.
    expect(read.owned).toBe(true);
  });
  test("keep the words of their columns", async () => {
    const of = (words: string[], codes: number[]) =>
      table({ columns: [Float64Array.from(codes)], words: new Map([[0, words]]) });
    const read = await readAll([of(["off", "on"], [0, 1, Number.NaN]), of(["on", "trip"], [1, 0])], [0]);
    expect([...read.columns[0]].map((k) => read.words.get(0)?.[k])).toEqual([
      "off",
      "on",
      undefined,
      "trip",
      "on",
    ]);
  });
});

test("a position is the integral of its speed by trapezoids, on an uneven clock and in any unit", () => {
  // Speed 3 + 2t: position 3t + t^2, exactly by trapezoids on any clock.
  const time = rows(300, (i) => 50 + 0.01 * i + 0.004 * Math.sin(i));
  const speed = time.map((t) => 3 + 2 * (t - 50));
  for (const factor of [1, 651.9, 0.01]) {
    const position = time.map((t) => 7 + factor * (3 * (t - 50) + (t - 50) ** 2));
    expect(ratioToIntegral(position, speed, time)?.value).toBeCloseTo(factor, 8);
  }
});

describe("rows without a clock", () => {
  const channel = (role: ChannelRole, data: Float64Array): Channel =>
    ({ role, name: role, data }) as unknown as Channel;
  const judged = (command: (i: number) => number, n = 200) => {
    const asked = rows(n, command);
    return judgedByOrder(
      {
        currentCommand: channel("currentCommand", asked),
        speed: channel(
          "speed",
          asked.map((v) => 10 * v),
        ),
      },
      n,
      () => 0.9,
    );
  };
  test("are points of a curve where both only rise or only fall, row by row", () => {
    expect(judged((i) => i)).toBe(false);
    expect(judged((i) => -i)).toBe(false);
    // A slip or two the other way does not make a run of a curve.
    expect(judged((i) => (i % 60 === 59 ? i - 2 : i))).toBe(false);
  });
  test("are a run where the command rests between steps, or goes to and fro", () => {
    expect(judged((i) => Math.floor(i / 40))).toBe(true);
    expect(judged((i) => Math.sin(i / 10))).toBe(true);
    expect(judged((i) => Math.floor(i / 12), 48)).toBe(true);
  });
  test("are too few where the command changes with every row", () => {
    expect(judged((i) => Math.sin(i), 60)).toBe(false);
    expect(judged(() => 1, 60)).toBe(false);
  });
});

describe("rows of several devices in turns", () => {
  const n = 400;
  const device = rows(n, (i) => 1 + (i % 3));
  const ofEach = rows(n, (i) => 100 * (i % 3) + Math.sin(i / 40));
  const ofOne = rows(n, (i) => Math.sin(i / 40));
  test("are found where what is logged is torn from row to row, and those of one device are told", () => {
    const found = devicesInTurns(
      new Map([
        [0, ofEach],
        [2, device],
      ]),
    );
    expect(found).toMatchObject({ column: 2, devices: 3 });
    expect(found?.rows.every((row) => row % 3 === 0)).toBe(true);
    expect(found?.rows.length).toBe(Math.ceil(n / 3));
  });
  test("are not, where all runs on from row to row beside a counter that begins anew", () => {
    expect(
      devicesInTurns(
        new Map([
          [0, ofOne],
          [2, device],
        ]),
      ),
    ).toBeUndefined();
    expect(
      devicesInTurns(
        new Map([
          [0, ofEach],
          [1, ofOne],
        ]),
      ),
    ).toBeUndefined();
  });
});
