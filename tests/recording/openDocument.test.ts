import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";
import { zipOf } from "../hostile/zipOf.js";

const folder = mkdtempSync(join(tmpdir(), "open-document-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const names = ["office", "table", "text"]
  .map((name) => `xmlns:${name}="urn:oasis:names:tc:opendocument:xmlns:${name}:1.0"`)
  .join(" ");
const words = (text: string): string =>
  `<table:table-cell office:value-type="string"><text:p>${text}</text:p></table:table-cell>`;
const shown = (value: number): string =>
  `<table:table-cell office:value-type="float" office:value="${value}"><text:p>${value}</text:p></table:table-cell>`;
/** A cell with a value and no text, closed at once: OASIS OpenDocument 1.2, part 1, 9.1.4 and 19.385. */
const closed = (value: number): string =>
  `<table:table-cell office:value-type="float" office:value="${value}"/>`;
const empty = "<table:table-cell/>";
const values = (i: number): number[] => [i / 100, 20 + i, i % 7, 2 * i];

/** A workbook as a program that knows only the standard writes it: the two parts that are needed. */
function book(name: string, rows: readonly string[]): string {
  const all = rows.map((cells) => `<table:table-row>${cells}</table:table-row>`).join("");
  const content = `<?xml version="1.0"?><office:document-content ${names}><office:body><office:spreadsheet><table:table table:name="log">${all}</table:table></office:spreadsheet></office:body></office:document-content>`;
  const path = join(folder, name);
  writeFileSync(
    path,
    zipOf(
      { name: "mimetype", content: Buffer.from("application/vnd.oasis.opendocument.spreadsheet") },
      { name: "content.xml", content: Buffer.from(content) },
      {
        name: "META-INF/manifest.xml",
        content: Buffer.from(
          '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>',
        ),
      },
    ),
  );
  return path;
}
const head = ["time [s]", "temperature [degC]", "current [A]", "speed [rad/s]"].map(words).join("");

test.each([
  ["text in every cell", (i: number) => values(i).map(shown), () => false],
  ["no cell with text", (i: number) => values(i).map(closed), () => false],
  [
    "some cells without text",
    (i: number) => values(i).map((v, c) => ((i + c) % 3 ? closed(v) : shown(v))),
    () => false,
  ],
  [
    "empty cells closed at once",
    (i: number) => values(i).map((v, c) => (c === 1 && i % 2 ? empty : shown(v))),
    (i: number) => i % 2 === 1,
  ],
  [
    "covered cells",
    (i: number) => values(i).map((v, c) => (c === 1 && i % 2 ? "<table:covered-table-cell/>" : closed(v))),
    (i: number) => i % 2 === 1,
  ],
])("%s: each value stays in its column and row", async (name, cells, missing) => {
  const rows = Array.from({ length: 50 }, (_, i) => cells(i).join(""));
  const { recordings, problems } = await readRecordings([book(`${name}.ods`, [head, ...rows])]);
  expect(problems).toEqual([]);
  const [{ time, channels }] = recordings;
  expect([...time]).toEqual(rows.map((_, i) => i / 100));
  expect([...(channels.current?.data ?? [])]).toEqual(rows.map((_, i) => i % 7));
  expect([...(channels.speed?.data ?? [])]).toEqual(rows.map((_, i) => 2 * i));
  const kelvin = [...(channels.temperature?.data ?? [])];
  for (const [i, value] of kelvin.entries())
    expect(value, `row ${i}`).toBe(missing(i) ? Number.NaN : 20 + i + 273.15);
});

test("repeated cells of a value, closed at once, fill as many columns", async () => {
  const wide = ["time [s]", "current U [A]", "current V [A]", "speed [rad/s]"].map(words).join("");
  const rows = Array.from({ length: 40 }, (_, i) =>
    [
      closed(i / 100),
      `<table:table-cell table:number-columns-repeated="2" office:value-type="float" office:value="${i % 5}"/>`,
      closed(3 * i),
    ].join(""),
  );
  const { recordings } = await readRecordings([book("repeated.ods", [wide, ...rows])]);
  const [{ channels }] = recordings;
  for (const role of ["currentU", "currentV"] as const)
    expect([...(channels[role]?.data ?? [])]).toEqual(rows.map((_, i) => i % 5));
  expect([...(channels.speed?.data ?? [])]).toEqual(rows.map((_, i) => 3 * i));
});

test("a header that says otherwise than the directory how a part is packed is put right", async () => {
  const head = ["time [s]", "speed [rpm]", "current [A]", "position [deg]"].map(words).join("");
  const rows = Array.from({ length: 60 }, (_, i) => values(i).map(shown).join(""));
  const path = book("header.ods", [head, ...rows]);
  const sound = readFileSync(path);
  const at = sound.indexOf("content.xml") - 30;
  expect(sound.readUInt32LE(at)).toBe(0x04034b50);
  for (const method of [0, 8]) {
    const bytes = Buffer.from(sound);
    bytes.writeUInt16LE(method, at + 8);
    bytes.writeUInt32LE(7, at + 18);
    writeFileSync(path, bytes);
    const { recordings, problems } = await readRecordings([path]);
    expect(problems).toEqual([]);
    expect(recordings.map(({ time }) => time.length)).toEqual([60]);
  }
});
