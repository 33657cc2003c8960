import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";
import type { Recording } from "../../lib/recording/types.js";

// Tracks a quarter of a period apart, the first leading while the count goes up, four counts a line, one index pulse a
// turn; Hall sensors 120 electrical degrees apart, six steps in an electrical turn: common practice, no source.

async function read(text: string, options = {}): Promise<Recording> {
  const folder = mkdtempSync(join(tmpdir(), "tracks-"));
  try {
    writeFileSync(join(folder, "capture.csv"), text);
    const { recordings, problems } = await readRecordings([join(folder, "capture.csv")], options);
    expect(problems).toEqual([]);
    expect(recordings).toHaveLength(1);
    return recordings[0];
  } finally {
    rmSync(folder, { recursive: true });
  }
}

const finding = (recording: Recording, code: string) => recording.findings.find((f) => f.code === code);
const codes = (recording: Recording): string[] => recording.findings.map(({ code }) => code);

/** Levels of the two tracks at a line's phase in turns. */
const level = (phase: number): number => (phase - Math.floor(phase) < 0.5 ? 1 : 0);
const tracks = (turns: number, lines: number): readonly [number, number] => [
  level(turns * lines),
  level(turns * lines - 0.25),
];
/** Two turns up and one back, as a shaft turned by hand. */
const byHand = (t: number): number => 0.301 + (t < 2 ? 1 - Math.cos((Math.PI * t) / 2) : 2 - (t - 2) / 2);

test("a capture of events counts the position, its lines from the index, and no gap while the shaft rests", async () => {
  const lines = 50;
  const rows: string[] = [];
  let last = "";
  for (let k = 0; k < 400_000; k += 1) {
    const turns = byHand(k * 1e-5);
    const [a, b] = tracks(turns, lines);
    const z = turns - Math.floor(turns) < 0.005 ? 1 : 0;
    const row = `${a},${b},${z}`;
    if (row !== last) rows.push(`${(k * 1e-5).toFixed(6)},${row}`);
    last = row;
  }
  const recording = await read(`Time [s],Channel 0,Channel 1,Channel 2\n${rows.join("\n")}\n`);
  const { position } = recording.channels;
  expect(recording.encoder.lines).toBe(lines);
  const turned = (position?.data.at(-1) as number) - (position?.data[0] as number);
  // Within one count of where the shaft truly is.
  expect(Math.abs(turned / (2 * Math.PI) - (byHand(4) - byHand(0)))).toBeLessThan(1 / (4 * lines));
  expect(codes(recording)).not.toContain("time-gaps");
  expect(finding(recording, "tracks-counted")?.severity).toBe("note");
});

test("tracks seen by an oscilloscope as noisy volts are counted, whichever way the shaft turns", async () => {
  const scope = (way: number): string => {
    const rows = Array.from({ length: 4000 }, (_, k) => {
      const [a, b] = tracks(way * k * 2.5e-4, 40);
      const noise = 0.2 * Math.sin(k * 12.9898) * Math.cos(k * 78.233);
      return `${(k * 1e-4).toFixed(4)},${(3.3 * a + noise).toFixed(3)},${(3.3 * b - noise).toFixed(3)}`;
    });
    return `Time (s),ENC_A (V),ENC_B (V)\n${rows.join("\n")}\n`;
  };
  for (const way of [1, -1]) {
    const recording = await read(scope(way), { encoder: { lines: 40 } });
    const turned = (recording.channels.position?.data.at(-1) ?? 0) / (2 * Math.PI);
    expect(Math.abs(turned - way * 3999 * 2.5e-4)).toBeLessThan(1 / 160);
  }
});

test("tracks sampled too slowly are told and not counted", async () => {
  const rows = Array.from({ length: 400 }, (_, k) => `${k},${tracks(k * 0.0137, 40).join(",")}`);
  const recording = await read(`ms,pos_ref,A,B\n${rows.map((r) => r.replace(",", ",0,")).join("\n")}\n`);
  expect(codes(recording)).toContain("tracks-too-slow");
  expect(codes(recording)).not.toContain("tracks-counted");
  expect(recording.channels.position).toBeUndefined();
});

test("a lost edge is told with its remedy", async () => {
  const rows = Array.from({ length: 4000 }, (_, k) => {
    const [a, b] = tracks(k * 5e-4 + (k > 2000 ? 0.5 / 40 : 0), 40);
    return `${(k * 1e-3).toFixed(3)},${a},${b}`;
  });
  const recording = await read(`t,A,B\n${rows.join("\n")}\n`);
  expect(finding(recording, "tracks-counted")).toMatchObject({ severity: "warning" });
  expect(finding(recording, "tracks-counted")?.message).toContain("at 1 row two tracks changed at once");
});

const hall = (turns: number, pairs: number): number[] => [0, 1, 2].map((k) => level(turns * pairs - k / 3));

test("Hall signals beside a counted position tell the counts of an electrical turn and the sense", async () => {
  const rows = Array.from({ length: 3000 }, (_, k) => {
    const turns = k / 3000;
    return [k * 2, Math.round(2400 * turns), ...hall(-turns, 4)].join(" ");
  });
  const recording = await read(`ms enc u v w\n${rows.join("\n")}\n`);
  const found = finding(recording, "hall-steps");
  // 2,400 counts for one turn of four pole pairs: 600 for one electrical turn.
  expect(Math.abs((found?.value ?? 0) - 600)).toBeLessThan(30);
  expect(found?.message).toContain("the other way");
});

test("Hall signals alone are the position once the pole pairs are stated", async () => {
  const rows = Array.from({ length: 3000 }, (_, k) => [k * 1e-3, ...hall(k / 1000, 7), 0.2].join(","));
  const text = `t_s,H1,H2,H3,duty\n${rows.join("\n")}\n`;
  const bare = await read(text);
  expect(bare.channels.position).toBeUndefined();
  expect(finding(bare, "lines-missing")?.meaning).toContain("--pole-pairs");
  const stated = await read(text, { machine: { polePairs: 7 } });
  expect(Math.abs((stated.channels.position?.data.at(-1) ?? 0) / (2 * Math.PI) - 2.999)).toBeLessThan(1 / 42);
});

test("a square command and what follows it are no tracks, named or not", async () => {
  for (const names of ["x,y", "w_ref(rad/s),w_act(rad/s)", "A,B"]) {
    const rows = Array.from({ length: 4000 }, (_, k) => {
      const asked = Math.floor(k / 100) % 2;
      const follows = Math.floor((k - 4) / 100) % 2;
      return `${(k * 1e-3).toFixed(3)},${10 * asked},${(10 * Math.max(0, follows)).toFixed(1)},${k}`;
    });
    const recording = await read(`t [s],${names},position [deg]\n${rows.join("\n")}\n`);
    expect(codes(recording)).not.toContain("tracks-counted");
  }
});
