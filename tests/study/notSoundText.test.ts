import { expect, test } from "vitest";
import { UsageError } from "../../lib/cli/io.js";
import { run as report } from "../../lib/cli/report.js";
import { summaryText } from "../../lib/cli/studyText.js";
import type { StudyTables, StudyTrial } from "../../lib/study/pipeline/readTables.js";
import { studySummary } from "../../lib/study/population/studySummary.js";

const trial = (
  motor: string,
  verdict: string,
  cause: string | null,
  odds: number,
  text: string,
): StudyTrial => ({
  recording: `${motor}.csv`,
  motor,
  kind: "torque",
  verdict,
  sense: "none",
  cause,
  causeOdds: odds,
  text,
});

const tables: StudyTables = {
  recordings: [],
  troubled: [
    ...Array.from({ length: 45 }, (_, i) =>
      trial(`m${10 + i}`, "blocked", "phases-swapped", 0.9 + i / 1000, `Moved ${i} deg.`),
    ),
    trial("m80", "reversed", "half-turn-offset", 0.93, "Turned the other way."),
    trial("m90", "undetermined", null, 0, "The current is too small to tell."),
    trial("m91", "undetermined", null, 0, "The current is too small to tell."),
  ],
  verdicts: { blocked: 45, reversed: 1, undetermined: 2 },
};

test("motors of one verdict, cause and remedy are one line, each named with its probability", async () => {
  const text = summaryText(await studySummary(tables), { color: false, columns: 80 }).replace(/\s+/g, " ");
  expect(text.match(/exchange any two motor leads/g)).toHaveLength(1);
  for (let i = 0; i < 40; i++) expect(text).toContain(`m${10 + i} (${Math.round(90 + i / 10)} %)`);
  expect(text).toContain(
    "and 5 more: blocked. Most probable cause: two motor phases swapped. Remedy: exchange",
  );
  expect(text).toContain("m10: Moved 0 deg.");
  // One by itself is written as ever, with the probability behind its cause.
  expect(text).toMatch(/m80: reversed\. Most probable cause: [^.]* \(93 %\)\. Remedy: /);
  expect(text).toContain("m90, m91: The current is too small to tell.");
});

test("the page of a study takes the options for lives, and only with lives", async () => {
  const io = { out: () => {}, err: () => {}, color: false, columns: 80, live: false } as never;
  const folder = "datasets/parcel-sorter-fleet/study";
  for (const option of [
    ["--confidence", "90"],
    ["--failed", "1"],
    ["--shape", "2"],
    ["--at", "40C"],
  ])
    await expect(report([folder, "--out", "/nowhere", ...option], io)).rejects.toThrow(
      `${option[0]} says how lives are looked at: it needs --life`,
    );
  await expect(report([`${folder}/../sample`, "--confidence", "90"], io)).rejects.toThrow(UsageError);
});
