import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/index.js";
import { rowsCounted } from "../house/rowsCounted.js";

// Rows written over several lines, by several motors, as markup, as printed values or behind the prefix of a logger:
// each is in a recording, in the count of a finding, or refused; and no recording holds a value that nobody wrote.

const folder = mkdtempSync(join(tmpdir(), "shaftwise-loss-forms-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Time, command, current and speed; no two rows have the same speed. */
type Row = readonly [time: string, command: string, current: string, speed: string];
const rowOf = (k: number): Row => {
  const command = k % 60 < 20 ? 0 : 2;
  const noise = (((k * 7919) % 100) - 50) / 2000;
  return [
    (k / 1000).toFixed(4),
    String(command),
    (command + noise).toFixed(4),
    ((1000 + 10 * k + ((k * 7919) % 7)) / 100).toFixed(2),
  ];
};

interface Form {
  readonly ending: string;
  readonly before?: string;
  readonly row: (row: Row, k: number) => string;
  readonly after?: string;
  /** Whether a message of the program may stand between rows. */
  readonly messages: boolean;
}

const moment = (k: number): string => new Date(Date.UTC(2024, 4, 6, 10) + k).toISOString();
const forms: Readonly<Record<string, Form>> = {
  stacked: {
    ending: "txt",
    row: ([t, c, i, w]) => `Time: ${t} s\nCurrent command: ${c} A\nCurrent: ${i} A\nSpeed: ${w} rpm\n---`,
    messages: true,
  },
  "two motors by number": {
    ending: "csv",
    before: "time_s,motor_id,current_cmd_A,current_A,speed_rpm",
    row: ([t, c, i, w], k) => `${t},${1 + (k % 2)},${c},${i},${w}`,
    messages: true,
  },
  "three motors by name": {
    ending: "csv",
    before: "time_s,motor,current_cmd_A,current_A,speed_rpm",
    row: ([t, c, i, w], k) => `${t},${["left", "right", "lift"][k % 3]},${c},${i},${w}`,
    messages: true,
  },
  "rows of a page": {
    ending: "html",
    before:
      "<html><body><table><tr><th>time [s]</th><th>current cmd [A]</th><th>current [A]</th><th>speed [rpm]</th></tr>",
    row: (row) => `<tr>${row.map((cell) => `<td>${cell}</td>`).join("")}</tr>`,
    after: "</table></body></html>",
    messages: false,
  },
  "elements of a document": {
    ending: "xml",
    before: '<?xml version="1.0"?><log>',
    row: ([t, c, i, w]) =>
      `<sample><time_s>${t}</time_s><current_cmd_A>${c}</current_cmd_A><current_A>${i}</current_A><speed_rpm>${w}</speed_rpm></sample>`,
    after: "</log>",
    messages: false,
  },
  "attributes of a document": {
    ending: "xml",
    before: '<?xml version="1.0"?><log>',
    row: ([t, c, i, w]) => `<sample time_s="${t}" current_cmd_A="${c}" current_A="${i}" speed_rpm="${w}"/>`,
    after: "</log>",
    messages: false,
  },
  "printed values": {
    ending: "log",
    row: ([t, c, i, w]) => `t = ${t} s, current command = ${c} A, current = ${i} A, speed = ${w} rpm`,
    messages: true,
  },
  "printed values in brackets": {
    ending: "log",
    row: ([t, c, i, w]) => `{t: ${t}, cmd: ${c}, cur: ${i}, rpm: ${w}}`,
    messages: false,
  },
  "a system log": {
    ending: "log",
    row: ([t, c, i, w], k) =>
      `${moment(k).slice(0, 23).replace("T", " ")} host drive[41]: t=${t} cmd=${c} cur=${i} rpm=${w}`,
    messages: true,
  },
  "level and module": {
    ending: "log",
    before: "time_s,current_cmd_A,current_A,speed_rpm",
    row: (row, k) => `${moment(k)} INFO drive.loop: ${row.join(",")}`,
    messages: true,
  },
};

const place = fc.double({ min: 0, max: 1, noNaN: true, maxExcluded: true });
const at = (share: number, of: number): number => Math.floor(share * of);
const log = fc.record({
  count: fc.integer({ min: 24, max: 150 }),
  form: fc.constantFrom(...Object.keys(forms)),
  cutOut: fc.option(fc.tuple(place, place), { freq: 2 }),
  doubled: fc.option(place, { freq: 2 }),
  messages: fc.array(place, { maxLength: 4 }),
  tornAt: fc.option(fc.integer({ min: 1, max: 12 }), { freq: 2 }),
});

test("every row is in a recording, counted, or refused, and none is invented", async () => {
  const kept = new Map<string, number>();
  const refused = new Map<string, string>();
  await fc.assert(
    fc.asyncProperty(log, async ({ count, form: name, cutOut, doubled, messages, tornAt }) => {
      const form = forms[name];
      let numbers = Array.from({ length: count }, (_, k) => k);
      if (cutOut !== null) {
        const [from, to] = cutOut.map((share) => at(share, count)).sort((a, b) => a - b);
        numbers = [...numbers.slice(0, from), ...numbers.slice(Math.min(to, from + count / 2))];
      }
      if (doubled !== null) {
        const from = at(doubled, numbers.length);
        numbers = [...numbers.slice(0, from), ...numbers.slice(from, from + 10), ...numbers.slice(from)];
      }
      const lines = numbers.map((k) => form.row(rowOf(k), k));
      if (form.messages) for (const m of messages) lines.splice(at(m, lines.length), 0, "heartbeat ok");
      let text = [form.before, ...lines, form.after].filter((part) => part !== undefined).join("\n");
      // Torn within the last row: what is behind it goes too.
      const torn = tornAt !== null && form.after === undefined;
      text = torn ? text.slice(0, -tornAt) : `${text}\n`;
      const path = join(folder, `log.${form.ending}`);
      writeFileSync(path, text);
      const { recordings, problems } = await readRecordings([path]);
      if (recordings.length === 0) {
        refused.set(name, problems.map(({ message }) => message).join("; "));
        expect(problems.some((f) => f.severity === "error")).toBe(true);
        return;
      }
      kept.set(name, (kept.get(name) ?? 0) + 1);
      const inRecordings = recordings.reduce((sum, r) => sum + r.time.length, 0);
      const told = [...problems, ...recordings.flatMap((r) => r.findings)];
      const whole = numbers.length - (torn ? 1 : 0);
      const part = problems.some((f) => f.file?.includes("#") && f.meaning !== undefined);
      expect(inRecordings, name).toBeLessThanOrEqual(numbers.length);
      if (!part) expect(inRecordings + rowsCounted(told), `${name}\n${text}`).toBeGreaterThanOrEqual(whole);
      const written = new Set(numbers.map((k) => rowOf(k)[3]));
      for (const { channels } of recordings)
        for (const value of channels.speed?.data.slice(0, torn ? -1 : undefined) ?? [])
          if (!Number.isNaN(value)) expect(written, name).toContain(((value * 30) / Math.PI).toFixed(2));
    }),
    {
      numRuns: Number(process.env.LOSS_RUNS ?? 90),
      seed: Number(process.env.LOSS_SEED ?? 29),
      endOnFailure: false,
    },
  );
  for (const name of Object.keys(forms))
    expect(kept.get(name) ?? 0, `${name}: ${refused.get(name)}`).toBeGreaterThan(0);
});
