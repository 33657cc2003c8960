import { expect, test } from "vitest";
import { makeReport, redact } from "../../lib/report/index.js";
import type { ReportSource } from "../../lib/report/types.js";
import { uniforms } from "../house/uniforms.js";
import { writtenOf } from "./outputs.js";
import { source } from "./sample.js";
import { essence, secrets } from "./secrets.js";

const cases = Array.from({ length: 200 }, (_, i) => i);

/** A report with a secret planted in one place, in one way of writing. */
function planted(i: number): { given: ReportSource; secret: string; where: string } {
  const random = uniforms(5000 + i);
  const plain = secrets[Math.floor(random() * secrets.length)];
  const forms = [plain, plain.toUpperCase(), plain.toLowerCase(), plain.replace(/ /g, "_"), `${plain}_2026`];
  const secret = forms[Math.floor(random() * forms.length)];
  const given = structuredClone(source()) as ReportSource & Record<string, never>;
  const [first] = given.diagnosis.recordings as unknown as {
    path: string;
    motor?: string;
    findings: unknown[];
    trials: { text: string }[];
  }[];
  const { recording } = given.recordings[0] as never as { recording: Record<string, unknown> };
  const text = `About ${secret}, S/N 48-0042 of ${secret}, mail to x.y@${secret.replace(/[^a-z]/gi, "") || "some"}.example: see it.`;
  const places: Readonly<Record<string, () => void>> = {
    "file name": () => {
      const path = `/srv/data/${secret}.csv`;
      recording.path = path;
      first.path = path;
    },
    "folder name": () => {
      const path = `/srv/${secret}/run 1.csv`;
      recording.path = path;
      first.path = path;
    },
    motor: () => {
      recording.motor = secret;
      first.motor = secret;
    },
    title: () => {
      recording.title = secret;
    },
    column: () => {
      const channels = recording.channels as Record<string, { name: string }>;
      channels.speed = { ...channels.speed, name: `${secret} speed` };
      first.findings.push({
        severity: "note",
        code: "x",
        message: `column "${secret} speed" is coarse`,
        column: `${secret} speed`,
      });
    },
    "quoted cell": () => {
      first.findings.push({
        severity: "error",
        code: "x",
        message: `row 3: "${secret}" is no number`,
        file: `${secret}.csv`,
      });
    },
    "first bytes": () => {
      (given.diagnosis.problems as unknown[]).push({
        severity: "error",
        code: "x",
        message: `begins with "${secret} 0x00"`,
        file: `${secret}.bin`,
      });
    },
    advice: () => {
      (given.diagnosis.advice as string[]).push(text);
    },
    "trial text": () => {
      first.trials[0].text = `${first.trials[0].text} ${text}`;
    },
    settings: () => {
      (given as { settings?: object }).settings = { read: `/home/${secret}/x`, customer: secret };
    },
    fact: () => {
      recording.machine = { ...(recording.machine as object), maker: secret, [secret]: 3 };
    },
    preamble: () => {
      recording.source = {
        format: "CSV",
        files: [secret],
        rows: 1,
        time: secret,
        unused: [{ name: secret, reason: "text" }],
      };
    },
    cover: () => {
      (given as { cover?: object }).cover = { customer: secret, author: secret };
    },
  };
  const names = Object.keys(places);
  const where = names[i % names.length];
  places[where]();
  return { given, secret, where };
}

test.each(cases)("case %i: a planted name is in no output", async (i) => {
  const { given, secret, where } = planted(i);
  const clean = redact(given);
  const outputs = writtenOf(clean);
  // Drawing takes a second: the page itself is made for one case of each place.
  if (i < 13) {
    const { html } = await makeReport(clean);
    outputs.page = html.replace(/<script>[\s\S]*?<\/script>|<style>[\s\S]*?<\/style>/g, "");
  }
  const word = essence(secret).toLowerCase();
  for (const [name, output] of Object.entries(outputs))
    expect(output.toLowerCase().includes(word), `${where}: ${secret} in ${name}`).toBe(false);
  expect(outputs.json).not.toContain("48-0042");
});

test("what is ours goes through: verdicts, numbers and reasons read as before", () => {
  const given = source();
  const clean = redact(given);
  const words = (texts: readonly string[]) => texts.join(" ").split(/\s+/).length;
  expect(words(clean.diagnosis.advice)).toBe(words(given.diagnosis.advice));
  expect(
    clean.diagnosis.recordings.map(({ trials }) => trials.map(({ verdict, text }) => [verdict, text])),
  ).toEqual(
    given.diagnosis.recordings.map(({ trials }) => trials.map(({ verdict, text }) => [verdict, text])),
  );
});
