import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { stampMoment } from "../../lib/recording/columns/stampMoment.js";
import { stampForm } from "../../lib/recording/columns/stamps.js";
import { monthOf } from "../../lib/recording/columns/tables/monthStems.js";
import { readRecordings } from "../../lib/recording/index.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-months-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

// The runtime's own names of months (Unicode CLDR) are the reference; languages that write months as numbers, and
// the words on which Croatian contradicts Czech and Polish, are left out.
const languages =
  "en de de-AT fr es it pt nl sv da nb fi pl cs sk hu ro sl sr sr-Latn bs bg mk ru uk be el tr lt lv et is ar ar-DZ he " +
  "fa hi bn ta te mr gu pa ur ne th id ms sw fil ka hy az kk uz sq eu ca gl cy af";
test.each(languages.split(" "))("the months of %s are known, short and long", (language) => {
  for (const month of ["short", "long"] as const)
    for (const options of [{ month }, { month, day: "numeric" as const, year: "numeric" as const }]) {
      const words = new Intl.DateTimeFormat(`${language}-u-ca-gregory-nu-latn`, {
        ...options,
        timeZone: "UTC",
      });
      for (let k = 0; k < 12; k += 1) {
        const parts = words.formatToParts(new Date(Date.UTC(2024, k, 13)));
        const word = parts.find(({ type }) => type === "month")?.value.replace(/[\u200c-\u200f]/g, "") ?? "";
        if (/^\p{L}[\p{L}\p{M}.]+$/u.test(word)) expect([word, monthOf(word)]).toEqual([word, k + 1]);
      }
    }
});

const moment = Date.UTC(2024, 7, 13, 6, 2, 4) * 1000;
test.each([
  "13-Aug-2024 06:02:04",
  "13-AUG-24 06:02:04.000",
  "13 août 2024 06:02:04",
  "13. August 2024 06:02:04",
  "13 de agosto de 2024 06:02:04",
  "13/Aug/2024:06:02:04 +0000",
  "13/Aug/2024:08:02:04 +0200",
  "Tue, 13 Aug 2024 06:02:04 GMT",
  "Tue Aug 13 06:02:04 2024",
  "Aug-13-2024 06:02:04",
  "August 13, 2024 6:02:04 AM",
  "2024-Aug-13 06:02:04",
  "13 ส.ค. 2567 06:02:04",
  "13 август 2024 06:02:04",
  "2024.08.13 06:02:04",
  "2024. 8. 13. 06:02:04",
  "2024年8月13日 06:02:04",
  "2024년 8월 13일 06:02:04",
])("%s is a moment", (text) => {
  expect(stampForm([text])?.name).toBeDefined();
  expect(stampMoment(text)).toBe(moment);
});

test.each(["13-abc-2024 06:02:04", "31 12 06:02", "13-Aug-2024", "motor 3 06:02:04 2024", "3 A"])(
  "%s is none",
  (text) => expect(stampForm([text])).toBeUndefined(),
);

const two = (v: number): string => String(v).padStart(2, "0");
/** Stamps over midnight and the end of a month, in a leap year of both eras' common calendar. */
const forms: readonly (readonly [string, (day: number, month: number, clock: string) => string, string?])[] =
  [
    ["day-month-year", (d, m, c) => `${two(d)}-${["", "Jan", "Feb", "Mar"][m]}-2024 ${c}`, "2024-02-29"],
    ["common log", (d, m, c) => `${two(d)}/${["", "Jan", "Feb", "Mar"][m]}/2024:${c} +0000`, "2024-02-29"],
    ["month first", (d, m, c) => `${["", "januari", "februari", "maart"][m]} ${d} 2024 ${c}`, "2024-02-29"],
    ["year first", (d, m, c) => `2024-${["", "STY", "LUT", "MAR"][m]}-${two(d)} ${c}`, "2024-02-29"],
    [
      "half days",
      (d, m, c) =>
        `${d} ${["", "ene", "feb", "mar"][m]} 24 ${c.replace(/^\d\d/, (h) => two(Number(h) % 12 || 12))} ${c >= "12" ? "PM" : "AM"}`,
      "2024-02-29",
    ],
    ["points", (d, m, c) => `2024.${two(m)}.${two(d)} ${c}`, "2024-02-29"],
    ["signs", (d, m, c) => `2024年${m}月${d}日 ${c}`, "2024-02-29"],
    ["Buddhist era", (d, m, c) => `${two(d)}/${two(m)}/2567 ${c}`, "2024-02-29"],
    ["figures", (d, m, c) => `2024-${two(m)}-${two(d)} ${c}`, "2024-02-29"],
    ["a colon before the fraction", (d, m, c) => `2024-${two(m)}-${two(d)} ${c}:000`, "2024-02-29"],
    ["no year", (d, m, c) => `${two(d)} ${["", "ene", "feb.", "mar."][m]} ${c}`],
  ];
const values = (i: number): string =>
  `${Math.sin(i / 40).toFixed(3)},${(30 * Math.sin(i / 40 - 1)).toFixed(2)}`;

describe.each([400, 9000])("%d rows", (rows) => {
  test.each(forms.map((f, k) => [f[0], k] as const))("%s", async (name, k) => {
    const [, form, date] = forms[k];
    const stamps = Array.from({ length: rows }, (_, i) => {
      const all = 86_400 - 200 + i;
      const clock = `${two(Math.floor(all / 3600) % 24)}:${two(Math.floor(all / 60) % 60)}:${two(all % 60)}`;
      return all < 86_400 ? form(29, 2, clock) : form(1, 3, clock);
    });
    const csv = ["timestamp,current [A],speed [rad/s]", ...stamps.map((s, i) => `${s},${values(i)}`)];
    const json = stamps.map((timestamp, i) => {
      const [current, speed] = values(i).split(",").map(Number);
      return JSON.stringify({ timestamp, "current [A]": current, "speed [rad/s]": speed });
    });
    for (const [file, lines] of [
      [`${name} ${rows}.csv`, csv],
      [`${name} ${rows}.jsonl`, json],
    ] as const) {
      writeFileSync(join(folder, file), `${lines.join("\n")}\n`);
      const { recordings, problems } = await readRecordings([join(folder, file)]);
      expect(problems.filter(({ severity }) => severity === "error")).toEqual([]);
      expect(recordings).toHaveLength(1);
      expect(recordings[0].time.length).toBe(rows);
      expect(recordings[0].time[rows - 1] - recordings[0].time[0]).toBeCloseTo(rows - 1, 6);
      expect(recordings[0].source?.startedAt?.slice(0, 10)).toBe(date);
    }
  });
});

// Habits of system logs (RFC 3164 for the first, the common log format for the fourth) and of loggers in other
// languages (common practice, no source).
test.each([
  ["Aug 13 ", ".000 node3 mon[311]: "],
  ["13 ago ", " linea07 medida "],
  ["13. elokuuta 2024 ", " mittaus: "],
  ["[13/Aug/2024:", " +0000] drive: "],
  ["13.08.2024 ", ".000 INFO drive: "],
])("labelled lines behind %s", async (date, rest) => {
  const lines = Array.from({ length: 300 }, (_, i) => {
    const [current, speed] = values(i).split(",");
    return `${date}06:${two(Math.floor(i / 60))}:${two(i % 60)}${rest}current=${current} A speed=${speed} rad/s`;
  });
  const file = join(folder, `${date.replaceAll("/", "-")}.log`);
  writeFileSync(file, `${lines.join("\n")}\n`);
  const { recordings } = await readRecordings([file]);
  expect(recordings.map((r) => [r.time.length, r.time[299]])).toEqual([[300, 299]]);
  expect(Object.keys(recordings[0].channels).sort()).toEqual(["current", "speed"]);
});
