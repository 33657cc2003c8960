import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { readLeadOrder } from "../../lib/motor/leadLetters.js";
import { factsFromNames, lettersOfNames } from "../../lib/recording/factsFromNames.js";
import { cutTrials, readRecordings } from "../../lib/recording/index.js";

const folder = mkdtempSync(join(tmpdir(), "letters-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

// Terminals by IEC 60034-8 (U, V, W), IEC 60445 (L1, L2, L3) and NEMA MG 1 (T1, T2, T3), all from memory; A, B, C and
// R, S, T: common practice, no source.
describe("a lead order in anybody's letters", () => {
  test.each([
    ["VUW", "VUW"],
    ["v-u-w", "VUW"],
    ["U1 W1 V1", "UWV"],
    ["ACB", "UWV"],
    ["b/c/a", "VWU"],
    ["TSR", "WVU"],
    ["L2-L1-L3", "VUW"],
    ["T3T1T2", "WUV"],
    ["[213]", "VUW"],
  ])("%s is %s", (text, order) => expect(readLeadOrder(text)?.order).toBe(order));

  test.each(["", "AAB", "AB", "ABCD", "UVB", "L1L2", "1.23", "A-B C", "114", "banana", "UVW torque"])(
    "%s is none",
    (text) => expect(readLeadOrder(text)).toBeUndefined(),
  );
});

describe("orders in names", () => {
  test("three letters alone say nothing; beside a word for it, or among their like, they do", () => {
    expect(factsFromNames(["abc.csv"]).ordering).toBeUndefined();
    expect(factsFromNames(["cab 2 test.csv"]).ordering).toBeUndefined();
    expect(factsFromNames(["phase_currents_abc.csv"]).ordering).toBeUndefined();
    expect(factsFromNames(["leads ACB torque.csv"])).toMatchObject({ ordering: "UWV", letters: "ABC" });
    expect(lettersOfNames(["abc.csv", "cab.csv", "gains.csv", "2023-12-31.csv"])).toEqual([]);
    expect(lettersOfNames(["abc.csv", "cab.csv", "bca.csv"])).toEqual(["ABC"]);
    expect(factsFromNames(["abc.csv"], ["ABC"]).ordering).toBe("UVW");
  });

  const rows = (sign: number): string =>
    `${Array.from({ length: 60 }, (_, i) => `${i / 100},${i < 20 ? 0 : sign},${i < 20 ? 0 : sign * (i - 20)}`).join("\n")}\n`;

  test("six files named by their orders are six orders", async () => {
    const own = join(folder, "six");
    mkdirSync(own);
    for (const order of ["abc", "bca", "cab", "acb", "cba", "bac"])
      writeFileSync(join(own, `${order}.csv`), `time [s],iq [A],speed [rpm]\n${rows(1)}`);
    const { recordings } = await readRecordings([own]);
    const orders = Object.fromEntries(recordings.map((r) => [r.path.split("/").at(-1), r.ordering]));
    expect(orders).toEqual({
      "abc.csv": "UVW",
      "bca.csv": "VWU",
      "cab.csv": "WUV",
      "acb.csv": "UWV",
      "cba.csv": "WVU",
      "bac.csv": "VUW",
    });
    for (const r of recordings) expect(r.findings.map((f) => f.code)).toContain("lead-letters");
    const alone = await readRecordings([join(own, "abc.csv")]);
    expect(alone.recordings[0].ordering).toBeUndefined();
  });

  test("folders named by their orders are one bench; other folders in a folder are not gone into", async () => {
    const bench = join(folder, "bench");
    for (const name of ["UVW", "VUW"]) {
      mkdirSync(join(bench, name), { recursive: true });
      writeFileSync(join(bench, name, "torque.csv"), `time [s],iq [A],speed [rpm]\n${rows(1)}`);
    }
    const { recordings } = await readRecordings([bench]);
    expect(recordings.map((r) => r.ordering).sort()).toEqual(["UVW", "VUW"]);
    const customers = join(folder, "customers");
    for (const name of ["miller", "smith"]) {
      mkdirSync(join(customers, name), { recursive: true });
      writeFileSync(join(customers, name, "torque.csv"), `time [s],iq [A],speed [rpm]\n${rows(1)}`);
    }
    const none = await readRecordings([customers]);
    expect(none.recordings).toEqual([]);
    expect(none.problems[0].code).toBe("empty-folder");
  });

  test.each([
    ["leads", ["ABC", "BCA", "CAB"]],
    ["config", ["R-S-T", "S-R-T", "T-S-R"]],
    ["wiring", ["L1L2L3", "L2L1L3"]],
    ["order", ["123", "213", "312", "321"]],
    ["test", ["acb", "cab", "bac"]],
  ])("a column %s of orders makes recordings with orders", async (heading, orders) => {
    const path = join(folder, `${heading}.csv`);
    const body = orders.flatMap((order) =>
      rows(1)
        .trim()
        .split("\n")
        .map((row) => `${order},${row}`),
    );
    writeFileSync(path, `${heading},time [s],iq [A],speed [rpm]\n${body.join("\n")}\n`);
    const { recordings } = await readRecordings([path]);
    expect(recordings.map((r) => r.ordering)).toEqual(orders.map((o) => readLeadOrder(o)?.order));
  });
});

test("a count turned by hand tells the lines it would take for one turn; the name tells the hand", async () => {
  const path = join(folder, "hand turn.csv");
  // One turn of 1,024 lines at four counts a line, in four seconds.
  const counts = Array.from({ length: 600 }, (_, i) => {
    const s = Math.min(1, Math.max(0, (i - 100) / 400));
    return `${i / 100},${Math.floor(4096 * s * s * (3 - 2 * s))}`;
  });
  writeFileSync(path, `time_s,enc_counts\n${counts.join("\n")}\n`);
  const asked = await readRecordings([path]);
  expect(asked.problems[0].meaning).toContain("--lines 1024");
  const { recordings } = await readRecordings([path], { encoder: { lines: 1024 } });
  expect(cutTrials(recordings[0]).trials.map(({ kind }) => kind)).toContain("hand-turn");
});
