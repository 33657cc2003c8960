import { expect, test } from "vitest";
import { lifeLines } from "../../lib/cli/studyLifeText.js";
import { redactStudy } from "../../lib/report/redact/redactStudy.js";
import { studyPages } from "../../lib/report/study/studyPage.js";
import type { Life } from "../../lib/study/life/lifeData.js";
import type { StudyRecording, StudyTables, StudyTrial } from "../../lib/study/pipeline/readTables.js";
import { compareStudies } from "../../lib/study/population/compareStudies.js";
import { studySummary } from "../../lib/study/population/studySummary.js";
import { jsonText } from "../../lib/units/text.js";
import { textOfPage } from "../cli/humanText.js";
import { uglyIn } from "../house/humanText.js";
import { uniforms } from "../house/uniforms.js";
import { essence, secrets } from "./secrets.js";

type Planted = Partial<Pick<StudyRecording, "recording" | "motor" | "batch" | "rig" | "reason">> &
  Partial<Pick<StudyTrial, "text" | "cause" | "kind">> & { life?: Partial<Life> };

/** A small fleet, measured several times, some of it not sound, with a name planted in one place of one motor. */
function fleet(random: () => number, planted: Planted): { tables: StudyTables; lives: Life[] } {
  const { life, text, cause, kind, ...row } = planted;
  const recordings: StudyRecording[] = [];
  for (let i = 0; i < 14; i++)
    for (let k = 0; k < 4; k++)
      recordings.push({
        recording: `/srv/m${i}/${k}.csv`,
        motor: `m${i}`,
        ordering: null,
        batch: `B${i % 3}`,
        rig: `rig ${i % 2}`,
        date: `2026-0${1 + k}-1${i % 10}`,
        temperature: 25,
        hours: 300 * k,
        reason: null,
        constants: {
          kv: (i === 5 ? 130 : 100) + random(),
          coulombFriction: 0.02 * (1 + (i === 3 ? 0.2 * k : 0)),
        },
        halves: { kv: 0.4, coulombFriction: 0.0004 },
        ...(i === 5 ? row : {}),
      });
  const trial = (motor: string, verdict: string, over: Partial<StudyTrial> = {}): StudyTrial => ({
    recording: `/srv/${motor}/0.csv`,
    motor,
    kind: "torque",
    verdict,
    sense: "none",
    cause: "phases-swapped",
    text: "Blocked.",
    ...over,
  });
  const over = { ...(text ? { text } : {}), ...(cause ? { cause } : {}), ...(kind ? { kind } : {}) };
  return {
    tables: {
      recordings,
      troubled: [trial("m2", "blocked"), trial(planted.motor ?? "m5", "undetermined", over)],
      verdicts: { blocked: 1, undetermined: 1, tracking: 54 },
    },
    lives: Array.from({ length: 12 }, (_, i) => ({
      after: 200 + 50 * i,
      by: i % 3 === 0 ? Number.POSITIVE_INFINITY : 200 + 50 * i,
      motor: `m${i}`,
      group: i % 2 === 0 ? "B0" : "B1",
      ...(i % 3 === 0 ? {} : { cause: i % 2 === 0 ? "bearing" : "winding" }),
      ...(i === 4 ? life : {}),
    })),
  };
}

const places: Readonly<Record<string, (secret: string) => Planted>> = {
  motor: (motor) => ({ motor, life: { motor } }),
  "file name": (secret) => ({ recording: `/data/${secret}.csv` }),
  "folder name": (secret) => ({ recording: `/data/${secret}/1.csv` }),
  batch: (batch) => ({ batch }),
  rig: (rig) => ({ rig }),
  reason: (secret) => ({ reason: `"${secret}.csv" holds no time column "${secret}"` }),
  "trial text": (secret) => ({
    text: `The file of ${secret}, S/N 48-0042, mail to x.y@some.example, does not tell.`,
  }),
  cause: (cause) => ({ cause }),
  kind: (kind) => ({ kind }),
  "life group": (group) => ({ life: { group } }),
  "cause of failure": (cause) => ({ life: { cause, by: 400 } }),
};

/** Every page of a study, their names, and its summary. */
async function pagesOf(
  [now, before]: readonly StudyTables[],
  lives: readonly Life[] | undefined,
): Promise<Record<string, string>> {
  const summary = await studySummary(now, {
    ...(lives ? { lives } : {}),
    lifeUnit: "h",
    limits: { coulombFriction: { upper: 0.05 } },
  });
  const files = await studyPages({
    redacted: true,
    tables: now,
    summary,
    ...(summary.life === undefined ? {} : { lifeLines: lifeLines(summary.life) }),
    since: await compareStudies(before, now),
    made: "2026-01-01",
    version: "0",
  });
  return { ...files, names: Object.keys(files).join(" "), summary: jsonText(summary) };
}

test.each(Array.from({ length: 6 * Object.keys(places).length }, (_, i) => i))(
  "case %i: a name planted in a study is on none of its pages",
  async (i) => {
    const random = uniforms(7000 + i);
    const plain = secrets[Math.floor(random() * secrets.length)];
    const forms = [
      plain,
      plain.toUpperCase(),
      plain.toLowerCase(),
      plain.replace(/ /g, "_"),
      `${plain}_2026`,
    ];
    const secret = forms[Math.floor(random() * forms.length)];
    const [where, place] = Object.entries(places)[i % Object.keys(places).length];
    // The same noise in every case: charts that look alike are drawn once.
    const noise = uniforms(7000);
    const given = fleet(noise, place(secret));
    const before = fleet(noise, place(secret)).tables;
    const { tables, lives } = redactStudy({
      tables: [given.tables, before],
      lives: given.lives,
      lifeUnit: "h",
    });
    // Everything on the pages is worked out from these; the pages themselves take a second, so they are made once for
    // each place.
    const outputs: Record<string, string> = {
      tables: JSON.stringify(tables),
      lives: JSON.stringify(lives),
      ...(i < Object.keys(places).length ? await pagesOf(tables, lives) : {}),
    };
    const word = essence(secret).toLowerCase();
    for (const [name, output] of Object.entries(outputs)) {
      const told = output.replace(/<script>[\s\S]*?<\/script>|<style>[\s\S]*?<\/style>/g, "");
      expect(told.toLowerCase().includes(word), `${where}: ${secret} in ${name}`).toBe(false);
      expect(told).not.toContain("48-0042");
      expect(told).not.toMatch(/2026-0\d-1\d/);
    }
  },
);

test("the pages of a study read well, redacted and not, and name causes and remedies", async () => {
  const given = fleet(uniforms(2), {});
  const plain = { tables: [given.tables, given.tables], lives: given.lives };
  const titles: Record<string, string> = {};
  for (const [kind, { tables, lives }] of Object.entries({ plain, redacted: redactStudy(plain) })) {
    const { names: _, summary: __, ...pages } = await pagesOf(tables, lives);
    // Cells of a table may be alike; sentences may not.
    for (const [name, html] of Object.entries(pages))
      expect(uglyIn(textOfPage(html), [], undefined, 14), `${kind}: ${name}`).toEqual([]);
    const text = textOfPage(pages["study.html"]);
    for (const words of ["two motor phases swapped", "exchange any two motor leads", "Time left"])
      expect(text, kind).toContain(words);
    titles[kind] = Object.values(pages)
      .map((html) => /<h1[^>]*>([^<]*)/.exec(html)?.[1] ?? "")
      .join("; ");
  }
  expect(titles.plain).toContain("Motor m2");
  expect(titles.redacted).toContain("Motor 0");
});

test("a redacted study finds what the study found", async () => {
  const random = uniforms(1);
  const given = fleet(random, {}).tables;
  const plain = await studySummary(given);
  const clean = await studySummary(redactStudy({ tables: [given] }).tables[0]);
  const { motors, recordings, verdicts, notSound, watched } = plain;
  expect(clean).toMatchObject({ motors, recordings, verdicts, watched });
  expect(clean.notSound.map(({ verdict, cause, text }) => [verdict, cause, text])).toEqual(
    notSound.map(({ verdict, cause, text }) => [verdict, cause, text]),
  );
  expect(clean.drifting.map(({ constant }) => constant)).toEqual(
    plain.drifting.map(({ constant }) => constant),
  );
});
