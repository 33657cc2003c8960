import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { run as diagnose } from "../../lib/cli/diagnose.js";
import { run as fit } from "../../lib/cli/fit.js";
import { angleAgainstPosition } from "../../lib/recording/checks/angleAgainstPosition.js";
import { countsWitness } from "../../lib/recording/checks/countsWitness.js";
import type { ChannelRole, Recording } from "../../lib/recording/types.js";
import { capture } from "../house/capture.js";
import { madeRecording } from "../house/madeRecording.js";
import { column, descriptor, mapped, shippedSet, written } from "./shippedDamages.js";

/** Counts that are missing evenly: told by whatever else tells how far the shaft turned, and said where nothing
 * does. */

const turn = 2 * Math.PI;

/** A shaft that runs up and holds 40 rad/s for the rest of 4 s, of which a part of the counts is missing. */
function counted(kept: number, beside: readonly ChannelRole[]): Recording {
  const time = Float64Array.from({ length: 8000 }, (_, i) => i / 2000);
  const truth = time.map((t) => (t < 1 ? 20 * t * t : 20 + 40 * (t - 1)));
  const step = turn / 4096;
  const columns: Partial<Record<ChannelRole, Float64Array>> = {
    position: truth.map((a) => step * Math.trunc((kept * a) / step)),
    speed: time.map((t) => 40 * Math.min(1, t)),
    speedCommand: time.map((t) => (t < 0.1 ? 0 : t < 2.5 ? 40 : 40.001)),
    electricalAngle: truth.map((a) => 4 * a + 0.3),
    index: truth.map((a, i) => (i > 0 && Math.floor(a / turn) !== Math.floor(truth[i - 1] / turn) ? 1 : 0)),
  };
  const chosen = Object.fromEntries(
    Object.entries(columns).filter(([role]) => role === "position" || beside.includes(role as ChannelRole)),
  );
  return madeRecording(
    time,
    chosen,
    { sourceUnit: "{count}", resolution: step },
    { encoder: { lines: 1024 }, drive: { polePairs: 4 } },
  );
}

describe("what confirms the scale of a counted position", () => {
  test.each(["speed", "index", "electricalAngle", "speedCommand"] as const)("%s", (role) => {
    expect(countsWitness(counted(1, [role]))).toBe(role);
  });

  test("nothing, with the position alone", () => {
    expect(countsWitness(counted(1, []))).toBeUndefined();
  });

  test.each(["index", "electricalAngle", "speedCommand"] as const)(
    "%s does not confirm counts of which 3 % are missing",
    (role) => {
      expect(countsWitness(counted(0.97, [role]))).toBeUndefined();
    },
  );

  test("a commutation angle tells that 3 % are missing, by how much, and nothing of a sound position", () => {
    const [found] = angleAgainstPosition(counted(0.97, ["electricalAngle"]));
    expect(found.code).toBe("scale-doubtful");
    expect(found.value).toBeCloseTo(4 / 0.97, 2);
    expect(angleAgainstPosition(counted(1, ["electricalAngle"]))).toEqual([]);
  });

  test("an open-loop vector that the shaft does not follow says nothing of the counts", () => {
    const recording = counted(1, ["electricalAngle"]);
    const { electricalAngle, position } = recording.channels;
    if (electricalAngle === undefined || position === undefined) throw new Error("no channels");
    const slipping = electricalAngle.data.map((a, i) => a + 9 * Math.sin(i / 300));
    const channels = { position, electricalAngle: { ...electricalAngle, data: slipping } };
    expect(angleAgainstPosition({ ...recording, channels })).toEqual([]);
  });
});

describe("the shipped UVW without its speed column, with its descriptor", () => {
  let home: string;
  beforeAll(() => {
    home = mkdtempSync(join(tmpdir(), "shaftwise-counts-"));
  });
  afterAll(() => rmSync(home, { recursive: true, force: true }));

  function log(name: string, kept: number, reference: boolean): string {
    const keep = (cells: readonly string[]): string[] =>
      cells.filter((_, k) => k !== column.speed && (reference || k !== column.reference));
    const { file, heading, rows } = shippedSet[0];
    const damaged = mapped(rows, [column.position], (v) => Math.trunc(kept * v));
    const folder = join(home, name);
    mkdirSync(folder);
    writeFileSync(join(folder, file), written({ file, heading: keep(heading), rows: damaged.map(keep) }));
    const [resource] = descriptor.resources;
    const fields = resource.schema.fields.filter(({ name: of }: { name: string }) =>
      keep(heading).includes(of),
    );
    const only = { ...descriptor, resources: [{ ...resource, schema: { ...resource.schema, fields } }] };
    writeFileSync(join(folder, "datapackage.json"), JSON.stringify(only));
    return folder;
  }

  async function constants(path: string): Promise<{ said: string; method: string; status: number }> {
    const { out, status } = await capture(fit, [path, "--json"]);
    const { electrical, findings } = JSON.parse(out).recordings[0].constants;
    expect(electrical.kv).toBeDefined();
    return { said: JSON.stringify(findings), method: electrical.offsetError.method, status };
  }

  const alone = "which nothing else in the log confirms";

  test.each([1, 0.97])(
    "position alone, %f of the counts: it is said what kv and offset error rest on",
    async (kept) => {
      const path = log(`alone-${kept}`, kept, false);
      const { said, method, status } = await constants(path);
      expect(said).toContain(alone);
      expect(method).toContain("rests on counts that nothing else in the log confirms");
      expect(status).toBe(0);
      expect((await capture(diagnose, [path])).status).toBe(0);
    },
  );

  test("a reference at which the counted speed settles confirms the counts", async () => {
    const { said, method } = await constants(log("reference", 1, true));
    expect(said).not.toContain(alone);
    expect(method).not.toContain("rests on counts");
  });

  test("where 3 % of the counts are missing it settles elsewhere, and by how much is said", async () => {
    const { said } = await constants(log("short", 0.97, true));
    expect(said).toContain(alone);
    expect(said).toMatch(/settles at 0\.9[67]\d* times its reference/);
  });
});
