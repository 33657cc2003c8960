import { describe, expect, test } from "vitest";
import { devicesApart } from "../../lib/recording/columns/devicesApart.js";
import type { SourceColumn, SourceTable } from "../../lib/recording/formats/sourceTable.js";

// Rows of several devices in turns: what each device's table must hold follows from how the rows were written.

const rows = 120;
type Cells = readonly (string | number)[];

/** A table of cells by heading; of a column of words the values are places in a list of them. */
function tableOf(columns: Readonly<Record<string, Cells>>, more: Partial<SourceTable> = {}): SourceTable {
  const names = Object.keys(columns);
  const words = new Map<number, string[]>();
  const values = names.map((name, k) => {
    const cells = columns[name];
    if (!cells.some((c) => typeof c === "string")) return Float64Array.from(cells as readonly number[]);
    const list = [...new Set(cells.map(String))];
    words.set(k, list);
    return Float64Array.from(cells, (c) => list.indexOf(String(c)));
  });
  return {
    path: "bus.csv",
    format: "CSV",
    columns: names.map(
      (name, k): SourceColumn => ({
        name,
        kind: words.has(k) ? "text" : "number",
        samples: columns[name].slice(0, 20).map(String),
      }),
    ),
    findings: [],
    read: async (at) => ({
      columns: at.map((k) => values[k]),
      words: new Map(at.flatMap((k) => (words.has(k) ? [[k, words.get(k) as string[]]] : []))),
      origins: new Map(),
      findings: [],
      marks: [{ row: 0, text: "begins" } as never, { row: 61, text: "halfway" } as never],
      firstLine: 2,
    }),
    ...more,
  };
}
const of = <T>(value: (i: number) => T, count = rows): T[] =>
  Array.from({ length: count }, (_, i) => value(i));
/** Two motors: one speeds up, the other stands at a speed far away. */
const speed = of((i) => (i % 2 === 0 ? i / 2 : 500 - i / 2));
const time = of((i) => i / 100);
const two = (id: readonly (string | number)[], name = "motor_id") => tableOf({ time, [name]: id, speed });
const column = async (table: SourceTable, k: number): Promise<number[]> => [
  ...(await table.read([k])).columns[0],
];

describe("rows of several devices in turns", () => {
  test("are parted, each with its own rows in their order, and it is said once", async () => {
    const parted = await devicesApart(two(of((i) => 1 + (i % 2))));
    expect(parted.map(({ path, label, facts }) => [path, label, facts?.motor])).toEqual([
      ["bus.csv#motor_id=1", "motor_id 1", "1"],
      ["bus.csv#motor_id=2", "motor_id 2", "2"],
    ]);
    expect(await column(parted[0], 2)).toEqual(of((i) => i, 60));
    expect(await column(parted[1], 0)).toEqual(of((i) => (2 * i + 1) / 100, 60));
    expect(parted.map(({ findings }) => findings.map(({ code, value }) => `${code} ${value}`))).toEqual([
      ["devices-apart 2"],
      [],
    ]);
    expect(parted[0].findings[0].message).toContain('told apart by "motor_id"');
    expect(parted[0].files).toEqual(["bus.csv"]);
  });

  test("the column that told them is a word from then on, and marks keep their place", async () => {
    const [first, second] = await devicesApart(two(of((i) => 1 + (i % 2))));
    expect(first.columns[1]).toMatchObject({ kind: "text", samples: ["1"] });
    const { columns, words, marks, owned, firstLine } = await second.read([1, 2]);
    expect([...columns[0]]).toEqual(of(() => 0, 60));
    expect(words.get(1)).toEqual(["2"]);
    expect((await second.read([2])).words.has(1)).toBe(false);
    // Row 61 is the 31st of the second device, and the one behind the 31st of the first.
    expect(marks?.map(({ row }) => row)).toEqual([0, 30]);
    expect((await first.read([2])).marks?.map(({ row }) => row)).toEqual([0, 31]);
    expect([owned, firstLine]).toEqual([true, undefined]);
  });

  test("by words, by a place in a path that has one, under a label and a motor that were known", async () => {
    const parted = await devicesApart({
      ...two(of((i) => (i % 2 ? "knee,left" : "hip#1"))),
      path: "log.zip#bus.csv",
      label: "monday",
      facts: { motor: "m7" } as never,
      files: ["a.csv", "b.csv"],
    });
    expect(parted.map(({ path, label }) => `${path} ${label}`)).toEqual([
      "log.zip#bus.csv,motor_id=hip 1 monday, motor_id hip 1",
      "log.zip#bus.csv,motor_id=knee left monday, motor_id knee left",
    ]);
    expect(parted[0].facts?.motor).toBe("m7");
    expect(parted[0].files).toEqual(["a.csv", "b.csv"]);
  });

  test("rows of no device, and of one that hardly ever spoke, are left out and counted", async () => {
    const id = of((i) => (i === 37 ? Number.NaN : i === 50 || i === 51 ? 9 : 1 + (i % 2)));
    const parted = await devicesApart(two(id));
    expect(parted).toHaveLength(2);
    const [, left] = parted[0].findings;
    expect(left).toMatchObject({ code: "rows-not-read", value: 3, severity: "warning" });
    expect(left.message).toBe('3 rows have no usual value of "motor_id"');
    const once = await devicesApart(two(of((i) => (i === 37 ? Number.NaN : 1 + (i % 2)))));
    expect(once[0].findings[1].message).toBe('1 row has no usual value of "motor_id"');
    expect((await column(once[1], 2)).length).toBe(59);
  });
});

describe("a table that is given back as it is", () => {
  const whole = async (table: SourceTable, channels: readonly string[] = []): Promise<void> =>
    expect(await devicesApart(table, channels)).toEqual([table]);
  const id = of((i) => 1 + (i % 2));

  test("where the column is stated to be a channel", () => whole(two(id), ["motor_id"]));
  test("where it is measured in a unit", () => whole(two(id, "motor speed [rpm]")));
  test("where nothing else is a number", () =>
    whole(tableOf({ motor_id: id, note: of((i) => (i % 2 ? "a" : "b")) })));
  test("where one device is followed by another, or hardly ever", async () => {
    await whole(two(of((i) => (i < 60 ? 1 : 2))));
    await whole(two(of((i) => 1 + (Math.floor(i / 7) % 2))));
  });
  test("where there is one device, more than thirty-two, or none that spoke eight times", async () => {
    await whole(two(of(() => 1)));
    await whole(two(of((i) => i % 40)));
    await whole(tableOf({ time: time.slice(0, 12), motor_id: id.slice(0, 12), speed: speed.slice(0, 12) }));
  });
  test("where the number has a fraction or four digits", async () => {
    await whole(two(of((i) => 0.5 + (i % 2))));
    await whole(two(of((i) => 1000 + (i % 2))));
  });
  test("where what is measured does not jump from row to row", () =>
    whole(tableOf({ time, motor_id: of((i) => 1 + ((i * i) % 7 > 3 ? 1 : 0)), speed: of((i) => i / 10) })));
  test("of fewer than four rows", () =>
    whole(tableOf({ time: [0, 1, 2], motor_id: [1, 2, 1], speed: [5, 90, 6] })));
});
