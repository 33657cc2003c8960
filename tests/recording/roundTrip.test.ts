import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { afterAll, expect, test } from "vitest";
import { fromFrame, toFrame } from "../../lib/danfo.js";
import {
  fromTable,
  type Recording,
  readRecordings,
  toTable,
  writeRecordings,
} from "../../lib/recording/index.js";
import { lines, scenario } from "./scenario.js";

const folder = mkdtempSync(join(tmpdir(), "roundtrip-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const turn = 2 * Math.PI;

/** Units with their factor from SI, written out here from their definitions, not taken from the library under test. */
const currents = { A: 1, mA: 1e3 } as const;
const speeds = {
  "rad/s": 1,
  rpm: 60 / turn,
  "U/min": 60 / turn,
  "deg/s": 360 / turn,
  "rev/s": 1 / turn,
} as const;
const positions = { rad: 1, deg: 360 / turn, turns: 1 / turn, counts: (4 * lines) / turn } as const;
const times = { s: 1, ms: 1e3, us: 1e6 } as const;

const dialect = fc.record({
  delimiter: fc.constantFrom(",", ";", "\t", "|"),
  decimalComma: fc.boolean(),
  newline: fc.constantFrom("\n", "\r\n"),
  encoding: fc.constantFrom("utf8", "utf8-mark", "utf16le", "latin1"),
  unitsIn: fc.constantFrom("brackets", "parentheses", "row"),
  quoted: fc.boolean(),
  preamble: fc.constantFrom([], ["logger of bench 3"], ["# written by the bench", "# second line"]),
  current: fc.constantFrom(...(Object.keys(currents) as (keyof typeof currents)[])),
  speed: fc.constantFrom(...(Object.keys(speeds) as (keyof typeof speeds)[])),
  position: fc.constantFrom(...(Object.keys(positions) as (keyof typeof positions)[])),
  time: fc.constantFrom(...(Object.keys(times) as (keyof typeof times)[]), "stamps", "clock"),
  rows: fc.integer({ min: 12, max: 60 }),
});

test("dialect x units x time form: what is written is what is read, to the last digit written", async () => {
  let run = 0;
  await fc.assert(
    fc.asyncProperty(dialect, async (d) => {
      const decimalComma = d.decimalComma && d.delimiter !== ",";
      const data = scenario(d.rows, 0.01);
      const number = (v: number, digits: number): string => {
        const text = v.toFixed(digits);
        return decimalComma ? text.replace(".", ",") : text;
      };
      const stamp = (t: number): string => {
        const iso = new Date(Date.UTC(2026, 1, 28, 23, 59, 59) + Math.round(t * 1000)).toISOString();
        return d.time === "stamps" ? iso : iso.slice(11, 23);
      };
      const stamped = d.time === "stamps" || d.time === "clock";
      const units = [stamped ? "" : d.time, d.current, d.current, d.speed, d.position];
      const names = [stamped ? "timestamp" : "time", "i_cmd", "i_q", "speed", "position"];
      const head = names.map((n, k) =>
        d.unitsIn === "row" || units[k] === ""
          ? n
          : d.unitsIn === "brackets"
            ? `${n} [${units[k]}]`
            : `${n} (${units[k]})`,
      );
      const quote = (c: string): string => (d.quoted ? `"${c}"` : c);
      const records = [head.map(quote).join(d.delimiter)];
      if (d.unitsIn === "row") records.push(units.map(quote).join(d.delimiter));
      for (let i = 0; i < d.rows; i += 1) {
        records.push(
          [
            stamped ? stamp(data.time[i]) : number(data.time[i] * times[d.time as keyof typeof times], 6),
            number(data.command[i] * currents[d.current], 6),
            number(data.current[i] * currents[d.current], 6),
            number(data.speed[i] * speeds[d.speed], 6),
            d.position === "counts"
              ? String(data.counts[i])
              : number(((data.counts[i] * turn) / (4 * lines)) * positions[d.position], 6),
          ]
            .map(quote)
            .join(d.delimiter),
        );
      }
      const text = [...d.preamble, ...records, ""].join(d.newline);
      const bytes =
        d.encoding === "utf16le"
          ? Buffer.from(`\ufeff${text}`, "utf16le")
          : d.encoding === "latin1"
            ? Buffer.from(text, "latin1")
            : Buffer.from(`${d.encoding === "utf8-mark" ? "\ufeff" : ""}${text}`);
      const file = join(folder, `case-${run++}x.csv`);
      writeFileSync(file, bytes);
      const { recordings, problems } = await readRecordings([file], { encoder: { lines } });
      expect(problems).toEqual([]);
      const [r] = recordings;
      expect(r.time.length).toBe(d.rows);
      const half = 0.51e-6;
      for (let i = 0; i < d.rows; i += 1) {
        const t = data.time[i] - data.time[0];
        expect(Math.abs(r.time[i] - t)).toBeLessThanOrEqual(stamped ? 1e-9 : half);
        expect(
          Math.abs((r.channels.currentCommand as { data: Float64Array }).data[i] - data.command[i]),
        ).toBeLessThanOrEqual(half);
        expect(
          Math.abs((r.channels.current as { data: Float64Array }).data[i] - data.current[i]),
        ).toBeLessThanOrEqual(half);
        expect(
          Math.abs((r.channels.speed as { data: Float64Array }).data[i] - data.speed[i]),
        ).toBeLessThanOrEqual((half / speeds[d.speed]) * 1.01 + 1e-12);
        expect(
          Math.abs(
            (r.channels.position as { data: Float64Array }).data[i] - (data.counts[i] * turn) / (4 * lines),
          ),
        ).toBeLessThanOrEqual((half / positions[d.position]) * 1.01 + 1e-12);
      }
    }),
    { numRuns: 60, seed: 20261125 },
  );
});

/** Doubles at the edges of IEEE 754-2019: signed zero, the smallest subnormal, the largest, infinities, not a number,
 * and neighbours of one. */
const edges = [
  0,
  -0,
  5e-324,
  -5e-324,
  2.2250738585072014e-308,
  1.7976931348623157e308,
  -1.7976931348623157e308,
  1 + 2 ** -52,
  1 - 2 ** -53,
  0.1,
  1 / 3,
  Number.POSITIVE_INFINITY,
  Number.NEGATIVE_INFINITY,
  Number.NaN,
  9007199254740991,
];

function edgeRecording(): Recording {
  const n = edges.length;
  return {
    path: "edges.csv",
    ordering: "WUV",
    motor: "=1+1",
    title: '<b>"quoted", title</b>',
    time: Float64Array.from({ length: n }, (_, i) => i / 3),
    channels: {
      current: {
        role: "current",
        name: "=cmd|' /C calc'!A0",
        sourceUnit: "A",
        recognisedBy: "test",
        data: Float64Array.from(edges),
      },
      position: {
        role: "position",
        name: "p",
        sourceUnit: "rad",
        recognisedBy: "test",
        data: Float64Array.from({ length: n }, (_, i) => i * 0.1),
      },
    },
    machine: { polePairs: 4 },
    drive: { speedLoop: { kp: 0.1, ki: 0 } },
    encoder: { lines: 1024 },
    declaredTrials: [{ kind: "torque", start: 0, end: 2 }],
    findings: [],
  };
}

test.each(["csv", "parquet"] as const)(
  "out as %s and in again: every double to its last bit, facts and trials too",
  async (format) => {
    const recording = edgeRecording();
    const out = join(folder, `out-${format}`);
    await writeRecordings([recording, recording], out, { format });
    const { recordings, problems } = await readRecordings([out]);
    expect(problems).toEqual([]);
    expect(recordings.length).toBe(2);
    for (const again of recordings) {
      expect(again).toMatchObject({
        ordering: "WUV",
        motor: "=1+1",
        title: recording.title,
        machine: recording.machine,
        drive: recording.drive,
        encoder: recording.encoder,
        declaredTrials: recording.declaredTrials,
      });
      expect([...again.time]).toEqual([...recording.time]);
      // toEqual tells -0 from 0 and takes NaN for equal.
      expect([...(again.channels.current?.data ?? [])]).toEqual(edges);
    }
  },
);

test("an arquero table and a danfojs frame of a recording, and back", async () => {
  const recording = edgeRecording();
  const table = await toTable(recording);
  expect(table.columnNames()).toEqual(["time", "current", "position"]);
  const fromTheTable = await fromTable(table, { machine: { polePairs: 4 } });
  const frame = await toFrame(recording);
  expect(frame.shape).toEqual([edges.length, 3]);
  const fromTheFrame = await fromFrame(frame);
  for (const again of [fromTheTable, fromTheFrame]) {
    expect([...again.time]).toEqual([...recording.time]);
    expect([...(again.channels.current?.data ?? [])]).toEqual(edges);
    expect([...(again.channels.position?.data ?? [])]).toEqual([
      ...(recording.channels.position?.data ?? []),
    ]);
  }
  expect(fromTheTable.machine.polePairs).toBe(4);
});
