import { mkdtempSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { LineFiles } from "../../lib/study/pipeline/lineFiles.js";
import { NumberLists } from "../../lib/study/pipeline/numberRows.js";
import type { JudgedRecording } from "../../lib/study/pipeline/recordingResult.js";
import { WaitingRecordings } from "../../lib/study/pipeline/waitingRecordings.js";

test("lists of numbers beyond one block give their rows in the order in which they came", () => {
  const lists = new NumberLists(2);
  const plain: number[][][] = [];
  for (let i = 0; i < 9001; i++) {
    const list = (i * 7) % 13;
    while (plain.length <= list) {
      expect(lists.begin()).toBe(plain.length);
      plain.push([]);
    }
    lists.add(list, [i, 2 ** 40 + i]);
    plain[list].push([i, 2 ** 40 + i]);
  }
  plain.forEach((rows, list) => {
    expect(lists.length(list)).toBe(rows.length);
    expect(lists.rows(list)).toEqual(rows);
  });
});

test("recordings that wait are taken out once each, as they were, whatever the order and however many", () => {
  const folder = mkdtempSync(join(tmpdir(), "shaftwise-waiting-"));
  const waiting = new WaitingRecordings(new LineFiles(join(folder, "later")));
  const one = (i: number): JudgedRecording => ({
    motor: `Rolle ${i} \u2028 „ä“`,
    ordering: "VWU",
    part: null,
    rows: i,
    trials: [],
    constants: { kv: [i / 3, i / 4, i / 2] },
    about: {},
    findings: [],
  });
  try {
    const places = Array.from({ length: 1731 }, (_, i) => i * 2 ** 22 + (i % 3));
    places.forEach((place, i) => {
      waiting.add(place, one(i));
    });
    expect(readdirSync(folder).length).toBe(3);
    const order = places.map((_, i) => (i * 1009) % places.length);
    for (const i of order) expect(waiting.take(places[i])).toEqual(one(i));
    for (const i of order) expect(waiting.take(places[i])).toBeUndefined();
    expect(waiting.take(5)).toBeUndefined();
  } finally {
    waiting.close();
    rmSync(folder, { recursive: true });
  }
});
