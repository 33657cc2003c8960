import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { answersText } from "../../lib/recording/columns/answers.js";
import { readRecordings } from "../../lib/recording/index.js";
import { answered, argumentsFor, readWith } from "../corpus/answers.js";

// Every refusal is one question, and works when it is answered as it proposes, through the arguments of the command
// line. `npx tsx tests/corpus/answers.ts <folder>` asks the same of folders of logs.

const folder = mkdtempSync(join(tmpdir(), "shaftwise-answers-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const rows = (of: (k: number) => string, count = 240): string =>
  `${Array.from({ length: count }, (_, k) => of(k)).join("\n")}\n`;
const step = (k: number): number => (k % 80 < 40 ? 0 : 1);
const lag = (k: number): number => (k % 80 < 40 ? 0 : 1 - Math.exp(-((k % 80) - 40) / 8));
const turned = (k: number): number =>
  Math.round(Array.from({ length: k }, (_, i) => 30 * lag(i)).reduce((a, b) => a + b, 0));

/** Logs that cannot be read without a word of the person, by what they lack. */
const refused: Readonly<Record<string, string>> = {
  "no clock, counts of converters": `n,iq_ref_raw,iq_raw,enc\n${rows(
    (k) =>
      `${k},${2048 + 300 * step(8 * k)},${2048 + Math.round(300 * lag(8 * k)) + ((k * 7) % 3)},${turned(8 * k)}`,
    60,
  )}`,
  "no clock and one count": `sample,left_count,right_count\n${rows((k) => `${k},${turned(k)},${turned(k) + (k % 2)}`)}`,
  "counts alone": `time [s],enc\n${rows((k) => `${(0.01 * k).toFixed(2)},${turned(k)}`)}`,
  "probes in volts": `time [s],i_probe [V]\n${rows((k) => `${(0.001 * k).toFixed(3)},${(0.2 * lag(k) + 0.001 * ((k * 7) % 5)).toFixed(4)}`)}`,
  "no headings": rows((k) => `${3 * step(k)},${(2 * lag(k) + 0.01 * ((k * 7) % 5)).toFixed(3)}`),
  "channels of an oscilloscope": `TIME;L1;L2\nsec;V;V\n${rows(
    (k) =>
      `${(0.004 * k).toFixed(3)};${(0.01 * ((k * 13) % 7)).toFixed(4)};${(0.01 * ((k * 11) % 9)).toFixed(4)}`,
  )}`,
};

describe("a refusal answered as it proposes is read", () => {
  for (const [what, text] of Object.entries(refused))
    test(what, async () => {
      const file = join(folder, `${what.replace(/\W+/g, "-")}.csv`);
      writeFileSync(file, text);
      const one = await answered(file);
      expect(one?.again).toBeUndefined();
      expect(one?.outcome).toBe("read");
      expect(one?.recordings.length).toBeGreaterThan(0);
    });

  // Those of the corpus that were refused when this was written.
  for (const name of [
    "a/WFM_drill_3phases.csv",
    "a/coastdown.dat",
    "a/inverter_ramp.csv",
    "a/uart_dump.txt",
    "b/logger_ch_shunt.dat",
  ])
    test(name, async () => {
      const one = await answered(new URL(`../corpus/files/${name}`, import.meta.url).pathname);
      expect(one?.again ?? one?.outcome ?? "read").toBe("read");
    });
});

test("a column whose name a shell or an option would change is named by its number", async () => {
  const names = ["$HOME", 'i "q"', "a=b", `${"long ".repeat(20)}name`, "twice", "twice"];
  const head = ["time [s]", ...names.map((n) => `"${n.replace(/"/g, '""')}"`)].join(",");
  const file = join(folder, "names.csv");
  writeFileSync(
    file,
    `${head}\n${rows((k) => [(0.01 * k).toFixed(2), ...names.map((_, j) => ((j + 1) * 0.3 * lag(k + j) + 0.01 * ((k * (7 + j)) % 5)).toFixed(3))].join(","))}`,
  );
  const { recordings, problems } = await readRecordings([file]);
  const asked = [...problems, ...recordings.flatMap(({ findings }) => findings)].flatMap(
    (f) => f.answers ?? [],
  );
  expect(asked.length).toBeGreaterThan(0);
  for (const { option, of, value } of asked) {
    const column = option === "map" ? value : of;
    expect(column).toMatch(/^#[2-7]$|^twice$/);
  }
  const again = await readWith([file], argumentsFor(asked));
  expect(again.problems.filter(({ severity }) => severity === "error")).toEqual([]);
});

test("answers are typed as the command line takes them", () => {
  expect(
    answersText([
      { option: "interval", value: "10ms", example: true },
      { option: "map", of: "speed", value: "#2", or: ["position"] },
      { option: "unit", of: "motor I", value: "0.05 A", example: true },
      { option: "lines", value: "1024", example: true },
    ]),
  ).toBe('--interval <time> --map speed=#2 (or position=) --unit "motor I"="0.05 A" --lines <encoder lines>');
});
