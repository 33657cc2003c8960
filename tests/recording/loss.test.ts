import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/index.js";
import { rowsCounted } from "../house/rowsCounted.js";

// Whatever was done to a log, every row of it is in a recording, in the count of a finding, or in a file that is
// refused.

const folder = mkdtempSync(join(tmpdir(), "shaftwise-loss-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const heading = "time_s,current_cmd_A,current_A,speed_rpm";
/** Rows of one run; the speed of each is one that no other row has. */
function rowsOf(count: number, start: number, first: number): string[] {
  return Array.from({ length: count }, (_, i) => {
    const command = i < count / 3 ? 0 : 2;
    const id = first + i;
    const noise = (((id * 7919) % 100) - 50) / 2000;
    const speed = (1000 + 10 * id + ((id * 7919) % 7)) / 100;
    return `${(start + i * 0.001).toFixed(6)},${command},${(command + noise).toFixed(4)},${speed.toFixed(2)}`;
  });
}

/** What may have become of a run of rows: each way gives the lines of the file, and how many lines of it are rows. */
interface Fate {
  readonly lines: readonly string[];
}

const place = fc.double({ min: 0, max: 1, noNaN: true, maxExcluded: true });
const at = (share: number, of: number): number => Math.floor(share * of);

/** Cuts a piece out, doubles one, moves one, writes one backwards. */
const damage: fc.Arbitrary<(lines: readonly string[]) => string[]> = fc.oneof(
  fc.constant((lines: readonly string[]) => [...lines]),
  fc.tuple(place, place).map(([a, b]) => (lines: readonly string[]) => {
    const [from, to] = [at(a, lines.length), at(b, lines.length)].sort((x, y) => x - y);
    return [...lines.slice(0, from), ...lines.slice(to)];
  }),
  place.map((a) => (lines: readonly string[]) => {
    const row = at(a, lines.length);
    return [...lines.slice(0, row), ...lines.slice(row, row + 20), ...lines.slice(row)];
  }),
  place.map((a) => (lines: readonly string[]) => {
    const row = at(a, lines.length);
    return [...lines.slice(row), ...lines.slice(0, row)];
  }),
  fc.constant((lines: readonly string[]) => [...lines].reverse()),
  place.map((a) => (lines: readonly string[]) => {
    const step = 2 + at(a, 40);
    return lines.flatMap((line, i) => (i % step === 1 ? [line, line] : [line]));
  }),
  place.map((a) => (lines: readonly string[]) => {
    const step = 5 + at(a, 60);
    return lines.map((line, i) => (i % step === 3 ? line.replace(/^[^,]+/, "late") : line));
  }),
  place.map((a) => (lines: readonly string[]) => {
    const row = at(a, lines.length);
    return [...lines.slice(0, row), "*** watchdog, restarted ***", ...lines.slice(row)];
  }),
);

const fate: fc.Arbitrary<Fate> = fc
  .record({
    counts: fc.array(fc.integer({ min: 3, max: 120 }), { minLength: 1, maxLength: 4 }),
    starts: fc.array(fc.constantFrom(0, 0.05, 3, 1.7e9), { minLength: 4, maxLength: 4 }),
    between: fc.constantFrom("", heading, "\n", "Run"),
    interleaved: fc.boolean(),
    damage: fc.array(damage, { minLength: 0, maxLength: 2 }),
    torn: fc.boolean(),
  })
  .map(({ counts, starts, between, interleaved, damage: ways, torn }) => {
    let first = 0;
    const runs = counts.map((count, k) => {
      const rows = rowsOf(count, starts[k], first);
      first += count;
      return rows;
    });
    let lines = interleaved
      ? Array.from({ length: Math.max(...counts) }, (_, i) =>
          runs.flatMap((run) => (i < run.length ? [run[i]] : [])),
        ).flat()
      : runs.flatMap((run, k) =>
          k === 0 || between === "" ? run : [between === "Run" ? `Run ${k + 1}` : between.trim(), ...run],
        );
    for (const way of ways) lines = way(lines);
    if (torn && lines.length > 0) lines = [...lines.slice(0, -1), lines[lines.length - 1].slice(0, 12)];
    return { lines };
  });

test("every row of a log is in a recording, in a finding's count, or refused", async () => {
  let [kept, refused, inPart] = [0, 0, 0];
  await fc.assert(
    fc.asyncProperty(fate, async ({ lines }) => {
      const path = join(folder, "log.csv");
      writeFileSync(path, `${heading}\n${lines.join("\n")}\n`);
      const { recordings, problems: findings } = await readRecordings([path]);
      if (recordings.length === 0) {
        refused += 1;
        expect(findings.some((f) => f.severity === "error")).toBe(true);
        return;
      }
      kept += 1;
      const rows = lines.filter((line) => /^[0-9l][^,]*(,|$)/.test(line)).length;
      const inRecordings = recordings.reduce((sum, r) => sum + r.time.length, 0);
      const told = [...findings, ...recordings.flatMap((r) => r.findings)];
      expect(inRecordings).toBeLessThanOrEqual(rows);
      // A table within the file that is refused is named, with its question.
      const part = findings.some((f) => f.file?.includes("log.csv#") && f.meaning !== undefined);
      if (part) inPart += 1;
      else expect(inRecordings + rowsCounted(told)).toBeGreaterThanOrEqual(rows);
    }),
    {
      numRuns: Number(process.env.LOSS_RUNS ?? 150),
      seed: Number(process.env.LOSS_SEED ?? 19),
      endOnFailure: false,
    },
  );
  // Most of these logs can be read: a reader that refuses them all loses nothing and helps nobody.
  expect(kept).toBeGreaterThan(5 * refused);
  expect(kept).toBeGreaterThan(20 * inPart);
});

/** The same rows behind the prefix of a logger, as labelled values, or as objects. */
const dressed: readonly ((cells: readonly string[], k: number) => string)[] = [
  ([t, c, i, w]) => `[${t}] [info] cmd=${c} cur=${i} rpm=${w}`,
  ([t, c, i, w]) => `t: ${t}, cmd: ${c}, cur: ${i}, rpm: ${w}`,
  ([t, c, i, w], k) => `I (${k}) foc: ${t},${c},${i},${w}`,
  ([t, c, i, w]) => `t ${t} cmd ${c} cur ${i} rpm ${w}`,
  ([t, c, i, w]) => `{'t': ${t}, 'cmd': ${c}, 'cur': ${i}, 'rpm': ${w}}`,
];

test("so is every row of a log whose lines are dressed, with messages between them", async () => {
  let [kept, refused] = [0, 0];
  const log = fc.record({
    count: fc.integer({ min: 30, max: 150 }),
    dress: fc.integer({ min: 0, max: dressed.length - 1 }),
    messages: fc.array(place, { maxLength: 5 }),
    cut: fc.boolean(),
  });
  await fc.assert(
    fc.asyncProperty(log, async ({ count, dress, messages, cut }) => {
      const rows = rowsOf(count, 0, 0).map((line, k) => dressed[dress](line.split(","), k));
      const lines = [...rows];
      if (dress !== 4)
        for (const m of messages) lines.splice(at(m, lines.length), 0, "heartbeat ok, bus 80 %");
      // Values without labels have a heading.
      if (dress === 2) lines.unshift(dressed[2](heading.split(","), 0));
      const text = lines.join("\n");
      const path = join(folder, "dressed.log");
      writeFileSync(path, cut ? text.slice(0, -9) : `${text}\n`);
      const { recordings, problems } = await readRecordings([path]);
      if (recordings.length === 0) {
        refused += 1;
        expect(problems.some((f) => f.severity === "error")).toBe(true);
        return;
      }
      kept += 1;
      const inRecordings = recordings.reduce((sum, r) => sum + r.time.length, 0);
      const told = [...problems, ...recordings.flatMap((r) => r.findings)];
      // A row that breaks off may be told as such, without a count.
      const whole = rows.length - (cut ? 1 : 0);
      expect(inRecordings).toBeLessThanOrEqual(rows.length);
      expect(inRecordings + rowsCounted(told)).toBeGreaterThanOrEqual(whole);
    }),
    {
      numRuns: Number(process.env.LOSS_RUNS ?? 60),
      seed: Number(process.env.LOSS_SEED ?? 23),
      endOnFailure: false,
    },
  );
  expect(kept).toBeGreaterThan(5 * refused);
});
