import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import { afterAll, expect, test } from "vitest";
import { europeanDigits, hasOtherDigits } from "../../lib/recording/formats/otherDigits.js";
import { readRecordings } from "../../lib/recording/index.js";
import { machines, runTrial } from "../corpus/rig.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-digits-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

// The runtime's own tables of Unicode are the reference: every decimal digit of its first plane, in runs of ten.
test("every decimal digit of the first plane of Unicode is read as its value", () => {
  let run = 0;
  for (let code = 0x80; code <= 0xffff; code += 1) {
    const sign = String.fromCharCode(code);
    if (!/\p{Nd}/u.test(sign)) {
      run = 0;
      continue;
    }
    expect([code, hasOtherDigits(sign), europeanDigits(sign)]).toEqual([code, true, String(run % 10)]);
    run += 1;
  }
});

test.each([
  ["٠٥:٥٠:٠١;−٠٫٥;١٬٢٣٤٫٠", "05:50:01;-0.5;1234.0"],
  ["۱۲٫۵، ۳٫۰، -۲", "12.5, 3.0, -2"],
  ["०९/०४/२०२४ ०६:०२:०४,১২.৫,๐.๕", "09/04/2024 06:02:04,12.5,0.5"],
  ["２０２４／０８／１３ ０６：０２：０４，－１．５", "2024/08/13 06:02:04，-1.5"],
  ["\u200e-٠٫٥\u200f;\u061c٣٫٠", "-0.5;3.0"],
  ["٥٠٪ سرعة٢ 12", "50% سرعة٢ 12"],
])("%s", (given, european) => {
  expect(hasOtherDigits(given)).toBe(true);
  expect(europeanDigits(given)).toBe(european);
});

test("texts without such digits are left alone", () => {
  for (const text of ["0.5,−1.5,12", "时间，电流\n0.1，0.2", "سرعة,تيار\n0.1,0.2", ""])
    expect(hasOtherDigits(text)).toBe(false);
});

const { time, speedCommand, speed, current } = runTrial("speed", machines.small, 11);
const european = Array.from(time, (t, k) =>
  [t.toFixed(3), speedCommand[k].toFixed(1), speed[k].toFixed(2), current[k].toFixed(3)].join(";"),
);
const inScript = (text: string, zero: number, point: string): string =>
  text
    .replace(/\d/g, (d) => String.fromCharCode(zero + Number(d)))
    .replaceAll(".", point)
    .replaceAll("-", "−");
const heading = "time [s];speed command [rad/s];speed [rad/s];current [A]";

async function channels(name: string, bytes: string | Buffer): Promise<unknown> {
  const file = join(folder, name);
  writeFileSync(file, bytes);
  const { recordings, problems } = await readRecordings([file]);
  expect(problems).toEqual([]);
  return recordings.map(({ time: t, channels: c }) => [
    t,
    Object.values(c).map(({ role, data }) => [role, data]),
  ]);
}

const reference = `${[heading, ...european].join("\n")}\n`;
/** A text of over 256 KB is read by other readers than a short one. */
const long = `${[heading, ...Array.from({ length: 12 }, (_, n) => european.map((r) => r.replace(/^\d+/, (s) => String(Number(s) + 100 * n)))).flat()].join("\n")}\n`;

test.each([
  ["arabic.csv", 0x0660, "٫"],
  ["persian.csv", 0x06f0, "٫"],
  ["devanagari.csv", 0x0966, "."],
  ["bengali.csv", 0x09e6, "."],
  ["thai.csv", 0x0e50, "."],
  ["full-width.csv", 0xff10, "．"],
])("a table in other digits is the same table: %s", async (name, zero, point) => {
  const want = await channels("european.csv", reference);
  const own = inScript(`${european.join("\n")}\n`, zero, point);
  expect(await channels(name, `${heading}\n${own}`)).toEqual(want);
  expect(await channels(`${name}.gz`, gzipSync(`${heading}\n${own}`))).toEqual(want);
});

test("so is a long one", async () => {
  expect(long.length).toBeGreaterThan(270_000);
  const [first, ...rows] = long.split("\n");
  const own = inScript(rows.join("\n"), 0x0660, "٫");
  expect(await channels("long-arabic.csv", `${first}\n${own}`)).toEqual(await channels("long.csv", long));
});

test("objects line by line and labels before values are read in other digits", async () => {
  const lines = european.map((r) => {
    const [t, cmd, w, i] = r.split(";").map((c) => inScript(c, 0x06f0, "٫"));
    return {
      json: JSON.stringify({ time_s: t, speed_cmd: cmd, speed: w, current: i }),
      text: `time=${t} speed_cmd=${cmd} speed=${w} current=${i}`,
    };
  });
  for (const [name, text] of [
    ["lines.jsonl", lines.map((l) => l.json)],
    ["labels.log", lines.map((l) => l.text)],
  ] as const) {
    writeFileSync(join(folder, name), `${text.join("\n")}\n`);
    const { recordings } = await readRecordings([join(folder, name)]);
    expect(recordings[0].time.length).toBe(time.length);
    const { speed: w, current: i } = recordings[0].channels;
    expect(w?.data[40]).toBeCloseTo(Number(speed[40].toFixed(2)), 9);
    expect(i?.data[40]).toBeCloseTo(Number(current[40].toFixed(3)), 9);
  }
});
