import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { DuckDBInstance } from "@duckdb/node-api";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { Command } from "../../lib/cli/io.js";
import { readOptionsOf } from "../../lib/cli/readingOptions.js";
import type { Diagnosis } from "../../lib/index.js";
import { openRuns } from "../../lib/toolkit/index.js";
import { capture } from "../house/capture.js";

const demo = join(import.meta.dirname, "../../datasets/parcel-sorter");
const orders = ["uvw", "vuw", "vwu"];
/** All that tells what the columns of a log with nameless headings hold. */
const stated = {
  map: [...["time=a1", "currentCommand=a2", "current=a3"], ...["speed=a4", "position=a5", "speedCommand=a6"]],
  unit: ["a1=s", "a2=A", "a3=A", "a4={rev}/min", "a5={count}", "a6={rev}/min"],
  ordering: orders.map((order) => `${order}*=${order.toUpperCase()}`),
  kind: ["0..4.5=torque"],
  lines: "1024",
  "pole-pairs": "4",
  decimal: ",",
  "skip-lines": "1",
  limit: "120",
  memory: "2048",
};
const options = Object.entries(stated).flatMap(([name, value]) =>
  [value].flat().flatMap((text) => [`--${name}`, text]),
);
let home: string;

beforeAll(() => {
  home = mkdtempSync(join(tmpdir(), "shaftwise-pipeline-"));
  mkdirSync(join(home, "customers", "one"), { recursive: true });
  for (const order of orders) {
    const rows = readFileSync(join(demo, `order-${order}.csv`), "utf8")
      .trimEnd()
      .split("\n")
      .slice(1);
    const local = rows.map((row) => row.replaceAll(",", ";").replaceAll(".", ","));
    const lines = ["a log of the bench; 12.4.2024", "a1;a2;a3;a4;a5;a6", ...local];
    writeFileSync(join(home, "customers", "one", `${order}.csv`), `${lines.join("\n")}\n`);
  }
});

afterAll(() => rmSync(home, { recursive: true, force: true }));

async function called(command: string, ...args: string[]): Promise<string> {
  const { run } = (await import(`../../lib/cli/${command}.ts`)) as { run: Command };
  const { status, out, err } = await capture(run, [...args, ...options]);
  expect(status, `${command}: ${err}`).toBe(0);
  return out;
}

/** Order, kind, verdict and sureness of every trial. */
const verdictsOf = ({ recordings }: Pick<Diagnosis, "recordings">) =>
  recordings
    .flatMap(({ ordering, trials }) =>
      trials.map(({ kind, verdict, confidence, causes }) => ({
        ordering,
        kind,
        verdict,
        confidence,
        cause: causes[0]?.cause ?? null,
        odds: causes[0]?.probability ?? null,
      })),
    )
    .sort((a, b) => `${a.ordering}`.localeCompare(`${b.ordering}`));

test("diagnose, fit, loop, report, triage, a study and openRuns take the same options and give the same answers", async () => {
  const logs = join(home, "customers", "one");
  const diagnosis: Diagnosis = JSON.parse(await called("diagnose", logs, "--json"));
  const expected = verdictsOf(diagnosis);
  expect(expected.map(({ ordering, kind, verdict }) => `${ordering} ${kind} ${verdict}`)).toEqual([
    "UVW torque tracking",
    "UVW speed tracking",
    "VUW torque blocked",
    "VWU torque reversed",
    "VWU speed runaway",
  ]);

  const runs = await openRuns(logs, readOptionsOf(stated));
  expect(verdictsOf(runs.diagnose().document)).toEqual(expected);

  const fit = JSON.parse(await called("fit", logs, "--json"));
  const loop = JSON.parse(await called("loop", logs, "--json", "--no-proposals"));
  for (const [k, order] of runs.list.entries()) {
    const constants = JSON.parse(JSON.stringify(order.constants()));
    expect(fit.recordings[k].constants).toEqual(constants);
    expect(loop.recordings[k]).toMatchObject({ path: order.path, ordering: order.ordering });
  }

  await called("report", logs, "--out", join(home, "report"));
  const report = JSON.parse(readFileSync(join(home, "report", "report.json"), "utf8"));
  expect(verdictsOf(report.diagnosis ?? report)).toEqual(expected);

  const { rows } = JSON.parse(await called("triage", join(home, "customers"), "--json"));
  expect(rows).toHaveLength(1);
  expect(rows[0]).toMatchObject({ worst: "runaway", trials: expected.length });

  await called("study", "run", logs, "--out", join(home, "study"), "--threads", "1");
  expect(await studied(join(home, "study", "trials.parquet"))).toEqual(expected);
}, 240_000);

async function studied(path: string) {
  const connection = await (await DuckDBInstance.create(":memory:")).connect();
  const rows = await connection.runAndReadAll(
    `SELECT ordering, kind, verdict, confidence, cause, cause_odds AS odds FROM '${path}' ORDER BY ordering, start`,
  );
  connection.closeSync();
  return rows.getRowObjectsJS();
}
