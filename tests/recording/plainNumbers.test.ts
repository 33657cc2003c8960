import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import { afterAll, describe, expect, test } from "vitest";
import { openTables } from "../../lib/recording/formats/openTable.js";
import { plainNumbers } from "../../lib/recording/formats/plainNumbers.js";

const folder = mkdtempSync(join(tmpdir(), "plain-numbers-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const dialect = { delimiter: ",", decimal: ".", fields: 2, linesBefore: 1 } as const;
const read = (text: string, fields = 2): (number[] | undefined)[] | undefined =>
  plainNumbers(new TextEncoder().encode(text), { ...dialect, fields }, fields === 1 ? [0] : [0, 1], 4)?.map(
    (column) => [...column],
  );

/** What the column engine reads of the same text: packed files are always for the engine. */
async function byEngine(
  text: string,
): Promise<{ columns: readonly Float64Array[]; findings: readonly string[] }> {
  const path = join(folder, "table.csv.gz");
  writeFileSync(path, gzipSync(text));
  const [table] = await openTables(path);
  try {
    const { columns, findings } = await table.read([0, 1]);
    return { columns, findings: findings.map((finding) => finding.code) };
  } finally {
    await table.close?.();
  }
}

async function asItStands(
  text: string,
): Promise<{ columns: readonly Float64Array[]; findings: readonly string[] }> {
  const path = join(folder, "table.csv");
  writeFileSync(path, text);
  const [table] = await openTables(path);
  try {
    const { columns, findings } = await table.read([0, 1]);
    return { columns, findings: findings.map((finding) => finding.code) };
  } finally {
    await table.close?.();
  }
}

describe("numbers as they are usually written", () => {
  test("signs, decimals, exponents, and what stands for a missing value", () => {
    expect(read("a,b\n1,-2.5\n-0.125,3e-2\n,NaN\n")).toEqual([
      [1, -0.125, Number.NaN],
      [-2.5, 0.03, Number.NaN],
    ]);
  });

  test("line ends of either kind, a last line without one, more rows than expected", () => {
    const rows = Array.from({ length: 200 }, (_, i) => `${i},${i / 8}`);
    for (const end of ["\n", "\r\n"])
      for (const last of [end, ""]) {
        const columns = read(`a,b${end}${rows.join(end)}${last}`) as number[][];
        expect(columns[0]).toEqual(rows.map((_, i) => i));
        expect(columns[1]).toEqual(rows.map((_, i) => i / 8));
      }
  });

  test("the nearest double, also of more digits than fit", () => {
    const cells = [
      "0.1",
      "0.30000000000000004",
      "9007199254740993",
      "123456789012345678901234567890",
      "999999999999999",
      "0.000000000000001",
      "4503599627370496.5",
    ];
    const column = read(`a\n${cells.join("\n")}\n`, 1)?.[0];
    expect(column).toEqual(cells.map(Number));
  });
});

describe("anything unusual is left to the column engine", () => {
  test.each([
    ["a quoted cell", 'a,b\n1,"2"\n'],
    ["a row with fewer fields", "a,b\n1,2\n3\n"],
    ["a row with more fields", "a,b\n1,2\n3,4,5\n"],
    ["a word", "a,b\n1,off\n"],
    ["an infinite number", "a,b\n1,inf\n"],
    ["a number beyond all doubles", "a,b\n1,1e999\n"],
    ["leading zeros", "a,b\n1,007\n"],
    ["a plus sign", "a,b\n1,+7\n"],
    ["a blank line", "a,b\n1,2\n\n3,4\n"],
    ["line ends of two kinds", "a,b\r\n1,2\r\n3,4\n"],
    ["lone carriage returns", "a,b\r1,2\r3,4\r"],
    ["a character beyond ASCII", "a,b\n1,2°\n"],
    ["a zero byte", "a,b\n1,2\u0000\n"],
    ["a cell without end", `a,b\n1,${"7".repeat(5000)}\n`],
    ["no rows", "a,b\n"],
    ["no lines", ""],
  ])("%s", (_what, text) => {
    expect(read(text)).toBeUndefined();
  });

  test("in a column that was not asked for, too", () => {
    const bytes = new TextEncoder().encode('a,b\n1,"x,y"\n');
    expect(plainNumbers(bytes, dialect, [0], 4)).toBeUndefined();
    const plain = new TextEncoder().encode("a,b\n1,running\n2,at rest\n");
    expect(plainNumbers(plain, dialect, [0], 4)?.[0]).toEqual(Float64Array.of(1, 2));
  });
});

test("columns that were read stay as they are when other tables are read", () => {
  const table = (rows: number, from: number): string =>
    `a,b\n${Array.from({ length: rows }, (_, i) => `${from + i},${-i}`).join("\n")}\n`;
  const columnsOf = (text: string): Float64Array[] =>
    plainNumbers(new TextEncoder().encode(text), dialect, [0, 1], 4) as Float64Array[];
  const first = columnsOf(table(3000, 5));
  const kept = first.map((column) => column.slice());
  const second = columnsOf(table(200, 7));
  columnsOf(table(9000, 1));
  expect(first).toEqual(kept);
  expect(first[0].buffer).not.toBe(second[0].buffer);
  expect([second[0].length, second[0][199], second[1][199]]).toEqual([200, 206, -199]);
});

describe("the same columns, bit by bit, and the same findings as from the column engine", () => {
  const odd = [
    "1.",
    ".5",
    "-.5",
    "-0",
    "+3",
    "007",
    " 4",
    "5 ",
    "",
    "NaN",
    "nan",
    "NA",
    "-",
    "--",
    "None",
    "null",
    "inf",
    "1e5",
    "1E-5",
    "1e+5",
    "1e",
    "e5",
    "0x10",
    "1_000",
    "12abc",
    "1e400",
    "-1e400",
    "5e-324",
    "1e-400",
    "9007199254740993",
    "0.30000000000000004",
    "1.7976931348623157e308",
    "123456789012345678901",
    "0.1.2",
    "#N/A",
    "\u221212",
    '"6"',
    "true",
  ]; // prettier-ignore
  test.each(odd.map((cell) => [cell]))("a column that holds %j once", async (cell) => {
    const rows = Array.from({ length: 40 }, (_, i) => `${i / 1000},${i === 20 ? cell : i * 0.25 - 3}`);
    const text = `time [s],current [A]\n${rows.join("\n")}\n`;
    expect(await asItStands(text)).toEqual(await byEngine(text));
  });

  test("10,000 numbers of every length", async () => {
    let state = 20261125;
    const draw = (): number => {
      state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
      return state / 2 ** 32;
    };
    const rows = Array.from({ length: 5000 }, (_, i) => {
      const size = 10 ** Math.floor(draw() * 24 - 8);
      const value = (draw() - 0.5) * size;
      const text = draw() < 0.7 ? value.toFixed(Math.floor(draw() * 12)) : String(value);
      return `${(i / 5000).toFixed(4)},${text}`;
    });
    const text = `time [s],current [A]\n${rows.join("\n")}\n`;
    const [plain, engine] = [await asItStands(text), await byEngine(text)];
    expect(plain.findings).toEqual(engine.findings);
    for (let c = 0; c < 2; c += 1)
      for (let i = 0; i < 5000; i += 1)
        if (!Object.is(plain.columns[c][i], engine.columns[c][i]))
          expect(`${rows[i]}: ${plain.columns[c][i]}`).toBe(`${rows[i]}: ${engine.columns[c][i]}`);
  });
});
