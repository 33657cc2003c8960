import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { analyseRuns } from "../../lib/analysis/analyseRuns.js";
import { run as triageCommand } from "../../lib/cli/triage.js";
import { readCustomer } from "../../lib/cli/triageInput.js";
import { readRecordings } from "../../lib/recording/readRecordings.js";
import { makeReport, redact } from "../../lib/report/index.js";
import { redactTriage } from "../../lib/report/redact/redactTriage.js";
import { reportedParts, reportSource } from "../../lib/report/reportSource.js";
import { triage } from "../../lib/report/triage.js";
import { runOf } from "../../lib/run/run.js";
import { capture } from "../house/capture.js";
import { uniforms } from "../house/uniforms.js";
import { writtenOf } from "./outputs.js";

/** Invented people, firms and places. */
const people = [
  "Jörg Müller-Lüdenscheidt",
  "Zbigniew Szczęsny",
  "Hövelmann Fördertechnik",
  "Kvasnička",
  "PaloVerdeMills",
  "Åkerströms Verkstad",
  "Tanaka.Y",
  "Çelikoğlu",
];
const serials = ["S/N 48-0042", "SN77-1190-3", "serial no. 4711-22", "Ser.Nr: 990-12-7"];

let home: string;
beforeAll(() => {
  home = mkdtempSync(join(tmpdir(), "shaftwise-planted-"));
});
afterAll(() => rmSync(home, { recursive: true, force: true }));

/** A torque trial whose shaft turns against its current, with a name in every place where a logger or a person may have
 * put one. */
function logOf(name: string, serial: string, seed: number): string {
  const random = uniforms(seed);
  const mail = `service@${name.replace(/[^a-z]/gi, "").slice(0, 12) || "some"}.example`;
  const rows = Array.from({ length: 450 }, (_, i) => {
    const t = i / 150;
    const current = t < 0.4 ? 0 : t < 1.7 ? 2 : -2;
    const turn = t < 0.4 ? 0 : t < 1.7 ? -(t - 0.4) * 90 : -117 + (t - 1.7) * 90;
    const cells = [
      t.toFixed(4),
      current,
      (current + 0.03 * random()).toFixed(4),
      (turn + 0.2 * random()).toFixed(3),
    ];
    return [...cells, i === 200 ? `"${name} was here"` : "ok", `${name} 7`].join(",");
  });
  return [
    `# Operator: ${name}, ${serial}, ${mail}, 14.03.2026 09:31:07`,
    `# Site: Halle ${name} 2`,
    `time [s],Iq ref ${name} [A],Iq act [A],speed ${name} [rad/s],remark by ${name},motor`,
    ...rows,
    `"${name}, ${serial}" broke off`,
  ].join("\n");
}

/** Where a name stands in the path of a log. */
function pathOf(folder: string, name: string, serial: string, i: number): string {
  const flat = (text: string): string => text.replace(/\//g, "-");
  const names = [
    `${name}.csv`,
    `${name.replace(/ /g, ".")}.v2.final.csv`,
    `${flat(serial)} ${name} lead VWU.csv`,
    `mail from a.b@${name.replace(/[^a-z]/gi, "") || "some"}.example ${name}.csv`,
    `${name.toUpperCase()}_2026-03-14.csv`,
    `run 1 (${name}).csv`,
  ];
  return join(folder, names[i % names.length]);
}

/** Every name, serial number and place in the quick tests, more of their combinations where there is time
 * (`vitest.config.ts`). */
const cases = Array.from({ length: Number(process.env.PLANTED_CASES ?? 12) }, (_, i) => i);

test.each(cases)("case %i: names in paths, headings, cells and comments are in no output", async (i) => {
  const name = people[i % people.length];
  const serial = serials[i % serials.length];
  const folder = join(home, `case ${i}`, i % 2 === 0 ? `${name} Werk` : "in");
  mkdirSync(folder, { recursive: true });
  const file = pathOf(folder, name, serial, i);
  writeFileSync(file, logOf(name, serial, 40 + i));
  writeFileSync(join(folder, `Notiz ${name}.txt`), `Bitte ${name} anrufen, ${serial}\n`);
  const { recordings, problems } = await readRecordings([folder]);
  expect(recordings.length).toBeGreaterThan(0);
  const runs = recordings.map((recording) => runOf(recording));
  const analysis = analyseRuns(runs, { problems, parts: reportedParts, version: "0.1.0" });
  const clean = redact(
    reportSource(analysis, runs, {
      made: "2026-03-15",
      cover: { customer: name, caseNumber: serial, author: name },
      settings: { read: folder },
    }),
  );
  const { cases: rows, problems: unread } = await readCustomer(join(home, `case ${i}`), {});
  const outputs: Record<string, string> = {
    ...writtenOf(clean),
    triage: JSON.stringify(redactTriage(triage(rows, unread))),
  };
  // Drawing takes a second or two.
  if (i % 16 === 0) {
    const { html } = await makeReport(clean);
    const data = /id="chart-specs">([^<]*)</.exec(html)?.[1] ?? "";
    expect(data.length).toBeGreaterThan(500);
    outputs["chart data"] = data;
    outputs["alternative texts"] = [...html.matchAll(/aria-label="([^"]*)"/g)]
      .map(([, text]) => text)
      .join("\n");
    outputs.page = html.replace(/<script>[\s\S]*?<\/script>|<style>[\s\S]*?<\/style>/g, "");
  }
  for (const [where, output] of Object.entries(outputs)) {
    const low = output.toLowerCase();
    for (const word of name.toLowerCase().match(/[\p{L}\p{M}]{4,}/gu) ?? [])
      expect(low.includes(word), `${word} of ${file} in ${where}`).toBe(false);
    for (const number of serial.match(/\d[\d-]{4,}/g) ?? [])
      expect(low.includes(number), `${number} in ${where}`).toBe(false);
    expect(/@[a-z]+\.example/.test(low), `a mail address in ${where}`).toBe(false);
    expect(/14\.03\.2026|2026-03-14|09:31:07/.test(low), `a date in ${where}`).toBe(false);
  }
});

test("the command redacts a triage in text, table and JSON, and keeps what was found", async () => {
  const desk = join(home, "desk");
  mkdirSync(join(desk, "Fa. Hövelmann"), { recursive: true });
  writeFileSync(join(desk, "Fa. Hövelmann", "log.csv"), logOf("Hövelmann", "S/N 48-0042", 7));
  mkdirSync(join(desk, "Łódź Młyny"), { recursive: true });
  writeFileSync(join(desk, "Łódź Młyny", "log.csv"), logOf("Młyny", "S/N 48-0043", 8));
  for (const more of [[], ["--csv"], ["--json"]]) {
    const { out } = await capture(triageCommand, [desk, "--redact", ...more]);
    expect(out).not.toMatch(/h.velmann|łódź|młyny|48-004/i);
    expect(out).toContain("customer 1");
    expect(out.toLowerCase()).toMatch(/reversed|runaway/);
  }
});

test("a file that is called as our texts speak takes no word out of them", () => {
  const words = "The log of the torque trial has a position in counts.";
  const named = redactTriage(
    {
      rows: [],
      common: [words],
      notRead: [{ severity: "error", code: "x", message: words, file: "/desk/log.csv" }],
    },
    [],
  );
  expect(named.common[0]).toBe(words);
  expect(named.notRead[0].message).toBe(words);
});
