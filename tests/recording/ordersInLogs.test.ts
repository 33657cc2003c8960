import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";

const orders = ["UVW", "VWU", "WUV", "UWV", "VUW", "WVU"];
const count = 60;
/** Time from the run's own start, command, current and speed of row `k`. */
const row = (k: number, run: number): readonly [number, number, string, number] => [
  k * 0.01,
  k < 10 ? 0 : 1,
  ((k < 10 ? 0 : 1) + 0.02 * Math.sin(37 * k + run)).toFixed(3),
  k < 10 ? 0 : 30 * (k - 10),
];
const rows = Array.from({ length: count }, (_, k) => k);
const csv = (run: number, later = 0, by = ","): string =>
  rows
    .map((k) => {
      const [t, ...rest] = row(k, run);
      return [(t + later).toFixed(2), ...rest].join(by);
    })
    .join("\n");
const head = "t_s,iq_ref_A,iq_A,rpm";
const letters = (o: string): [string, string, string] => [o[0], o[1], o[2]];

/** Each way in which people write down which order they connected, in one file. */
const habits: Readonly<Record<string, readonly [file: string, text: string]>> = {
  "a line above each run, the heading only once": [
    "monday.txt",
    orders
      .map(
        (o, n) =>
          `\nnow leads ${letters(o).join("-")}, aligned again\n${n === 0 ? `${head}\n` : ""}${csv(n)}`,
      )
      .join("\n"),
  ],
  "a remark between rows while the clock goes on": [
    "bench.csv",
    `${head}\n${orders.map((o, n) => `# leads: ${o}\n${csv(n, n * 0.6)}`).join("\n")}`,
  ],
  "a remark in a column, where it changes": [
    "remarks.csv",
    `${head},remark\n${orders
      .map((o, n) =>
        csv(n, n * 0.6)
          .split("\n")
          .map((l, k) => `${l},${k === 0 ? `leads ${o}` : ""}`)
          .join("\n"),
      )
      .join("\n")}`,
  ],
  "lines of a logger between labelled values": [
    "boot.log",
    orders
      .map((o, n) => {
        const lines = rows.map((k) => {
          const [t, ref, iq, rpm] = row(k, n);
          return `[DATA] t=${(t + n * 0.6).toFixed(2)} iq_ref=${ref} iq=${iq} rpm=${rpm}`;
        });
        return `[INFO] leads changed to ${o}\n${lines.join("\n")}`;
      })
      .join("\n"),
  ],
  "each terminal with its lead": [
    "arrows.txt",
    orders
      .map(
        (o, n) => `U->${o[0]}, V->${o[1]}, W->${o[2]}\n${head.replaceAll(",", "\t")}\n${csv(n, 0, "\t")}\n`,
      )
      .join("\n"),
  ],
  "leads parted by slashes in the title of each block": [
    "versuche.csv",
    orders
      .map((o, n) => `Versuch ${n + 1}: Motor ${letters(o).join("/")} angeschlossen\n${head}\n${csv(n)}`)
      .join("\n"),
  ],
  "columns of all orders side by side": [
    "wide.csv",
    [
      `t;${orders.map((o) => `iq_ref ${o};iq ${o};rpm ${o}`).join(";")}`,
      ...rows.map((k) => [row(k, 0)[0], ...orders.flatMap((_, n) => row(k, n).slice(1))].join(";")),
    ].join("\n"),
  ],
  "a fact beside the data in each part of a JSON document": [
    "tests.json",
    JSON.stringify({
      rig: "B",
      tests: orders.map((o, n) => ({
        leads: o,
        data: {
          t: rows.map((k) => row(k, n)[0]),
          iq_ref: rows.map((k) => row(k, n)[1]),
          iq: rows.map((k) => Number(row(k, n)[2])),
          rpm: rows.map((k) => row(k, n)[3]),
        },
      })),
    }),
  ],
};

test.each(Object.entries(habits))("%s: each run has its own order", async (_, [file, text]) => {
  const folder = mkdtempSync(join(tmpdir(), "orders-"));
  try {
    writeFileSync(join(folder, file), text);
    const { recordings, problems } = await readRecordings([join(folder, file)]);
    expect(problems).toEqual([]);
    expect(recordings.map(({ ordering }) => ordering)).toEqual(orders);
    expect(recordings.map(({ time }) => time.length)).toEqual(orders.map(() => count));
    expect(new Set(recordings.map(({ motor }) => motor)).size).toBe(1);
  } finally {
    rmSync(folder, { recursive: true });
  }
});

test("numbers under `order` part the runs", async () => {
  const folder = mkdtempSync(join(tmpdir(), "orders-"));
  try {
    const lines = orders.map((_, n) =>
      csv(n, n * 0.6)
        .split("\n")
        .map((l) => `${l},${n + 1}`)
        .join("\n"),
    );
    writeFileSync(join(folder, "numbers.csv"), `${head},order\n${lines.join("\n")}\n`);
    const { recordings } = await readRecordings([join(folder, "numbers.csv")]);
    expect(recordings).toHaveLength(orders.length);
  } finally {
    rmSync(folder, { recursive: true });
  }
});
