import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import {
  type Channel,
  type ChannelRole,
  crossChecks,
  type Finding,
  type Recording,
  readRecordings,
  writeRecordings,
} from "../../lib/recording/index.js";
import { madeRecording } from "../house/madeRecording.js";
import { goodRun } from "./bench.js";

const folder = mkdtempSync(join(tmpdir(), "checks-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const torque = goodRun([
  { kind: "torque", from: 0, duration: 0.3 },
  { kind: "torque", from: 1.2, duration: 1 },
  { kind: "torque", from: -1.2, duration: 1.2 },
  { kind: "torque", from: 0, duration: 0.5 },
]);

type Mistake = (values: Float64Array, recording: Recording) => Float64Array;

/** A good run with a mistake in one or more channels, or in what is stated. */
function withMistake(
  channels: Partial<Record<ChannelRole, Mistake>>,
  stated: Partial<Recording> = {},
  from: Recording = torque,
): Recording {
  const changed: Partial<Record<ChannelRole, Channel>> = { ...from.channels };
  for (const [role, mistake] of Object.entries(channels) as [ChannelRole, Mistake][]) {
    const channel = changed[role] as Channel;
    changed[role] = { ...channel, data: mistake(channel.data, from) };
  }
  return { ...from, channels: changed, ...stated };
}

let written = 0;
/** The checks on what is read back from a file that holds the recording. */
async function checked(recording: Recording): Promise<Finding[]> {
  const out = join(folder, String(written++));
  await writeRecordings([recording], out);
  const { recordings, problems } = await readRecordings([out]);
  expect(problems).toEqual([]);
  return crossChecks(recordings[0]);
}
const loud = (findings: readonly Finding[]): string[] =>
  findings.filter((f) => f.severity !== "note").map((f) => f.code);
const by =
  (factor: number): Mistake =>
  (values) =>
    values.map((v) => v * factor);

test("a good run passes every check; its grid confirms the stated lines", async () => {
  const findings = await checked(torque);
  expect(loud(findings)).toEqual([]);
  expect(findings.map((f) => f.code)).toContain("lines-confirmed");
});

describe("logged speed against the derivative of logged position", () => {
  test.each([
    ["lines taken after quadrature", 4, "quadrature"],
    ["lines taken before quadrature", 0.25, "quadrature"],
    ["rev/min taken for rad/s", 60 / (2 * Math.PI), "rev/min"],
    ["rad/s taken for rev/min", (2 * Math.PI) / 60, "rev/min"],
    ["turns taken for radians", 1 / (2 * Math.PI), "turns"],
  ])("%s", async (_name, factor, word) => {
    const findings = await checked(withMistake({ speed: by(factor) }));
    const found = findings.find((f) => f.code === "speed-position-factor");
    expect(found?.severity).toBe("error");
    expect((found?.value ?? 0) / factor).toBeCloseTo(1, 2);
    expect(found?.meaning).toContain(word);
  });

  test("electrical speed: a factor of the stated pole pairs", async () => {
    const findings = await checked(withMistake({ speed: by(7) }, { machine: { polePairs: 7 } }));
    expect(findings.find((f) => f.code === "speed-position-factor")?.meaning).toContain("electrical speed");
  });

  test("the drive set to other lines than the encoder has", async () => {
    const findings = await checked(
      withMistake({ speed: by(1024 / 1000) }, { drive: { ...torque.drive, encoderLines: 1000 } }),
    );
    expect(findings.find((f) => f.code === "speed-position-factor")?.meaning).toContain("1000 lines");
  });

  test("opposite signs", async () => {
    expect(loud(await checked(withMistake({ speed: by(-1) })))).toContain("speed-position-sign");
  });

  test("a speed that is logged late: the delay is estimated", async () => {
    const late = 8;
    const findings = await checked(withMistake({ speed: (v) => v.map((_, i) => v[Math.max(0, i - late)]) }));
    const found = findings.find((f) => f.code === "speed-delay");
    expect(Math.abs((found?.value ?? 0) - late * 1e-3)).toBeLessThan(2.5e-3);
    expect(found?.unit).toBe("s");
  });

  test("a position that stands still while the speed does not", async () => {
    const stuck = withMistake({ position: (v) => v.map(() => 0) });
    const position = stuck.channels.position as Channel;
    const findings = crossChecks({
      ...stuck,
      channels: { ...stuck.channels, position: { ...position, resolution: 0.0015 } },
    });
    expect(loud(findings)).toContain("position-stuck");
  });
});

describe("position grid", () => {
  test("another number of lines than stated", async () => {
    const findings = await checked(withMistake({}, { encoder: { lines: 4096 } }));
    const found = findings.find((f) => f.code === "position-grid");
    expect(found?.value).toBeCloseTo(0.25, 6);
    expect(found?.meaning).toContain("after quadrature");
  });

  test("counts that move by whole lines only", async () => {
    const position = torque.channels.position?.data as Float64Array;
    const counts = position.map((p) => 4 * Math.floor(((p / (2 * Math.PI)) * 4096) / 4));
    const rows = [...counts].map((c, i) => `${torque.time[i].toFixed(4)},${c}`).join("\n");
    const file = join(folder, "whole-lines.csv");
    writeFileSync(file, `time [s],position [counts]\n${rows}\n`);
    const { recordings } = await readRecordings([file], { encoder: { lines: 1024 } });
    expect(crossChecks(recordings[0]).find((f) => f.code === "position-grid")).toMatchObject({
      value: 4,
      severity: "error",
    });
  });
});

describe("index pulses", () => {
  const turned = goodRun([{ kind: "hand", angle: 10 * 2 * Math.PI, duration: 6 }]);

  test("a turned shaft in good order says nothing", async () => {
    expect(loud(await checked(turned))).toEqual([]);
  });

  test("a wrong line count shows in the spacing", async () => {
    const findings = await checked(
      withMistake({ position: by(1024 / 1000) }, { encoder: { lines: 1000 } }, turned),
    );
    const found = findings.find((f) => f.code === "index-spacing");
    expect(found?.value).toBeCloseTo(1.024, 2);
    expect(found?.meaning).toContain("1024 lines would fit");
  });

  test("lost counts show as a drift", async () => {
    const step = (2 * Math.PI) / 4096;
    const findings = await checked(
      withMistake({ position: (v) => v.map((p) => Math.round((p * (1 - 0.004)) / step) * step) }, {}, turned),
    );
    expect(loud(findings)).toContain("missed-counts");
  });
});

describe("measured against commanded current", () => {
  const held = goodRun([
    { kind: "torque", from: 0, duration: 0.1 },
    { kind: "torque", from: 1.2, duration: 0.25 },
    { kind: "torque", from: -1.2, duration: 0.5 },
    { kind: "torque", from: 1.2, duration: 0.25 },
  ]);

  test.each([
    ["RMS measured", Math.SQRT1_2, "RMS"],
    ["RMS commanded", Math.SQRT2, "RMS"],
    ["mA taken for A", 1000, "mA"],
  ])("%s", async (_name, factor, word) => {
    const found = (await checked(withMistake({ current: by(factor) }, { drive: {} }, held))).find(
      (f) => f.code === "current-factor",
    );
    expect((found?.value ?? 0) / factor).toBeCloseTo(1, 1);
    expect(found?.meaning).toContain(word);
  });

  test("a reversed sign", async () => {
    expect(loud(await checked(withMistake({ current: by(-1) }, {}, held)))).toContain("current-sign");
  });

  test("a reversed sign under a command that never stands", async () => {
    const sweep = goodRun(
      Array.from({ length: 100 }, (_, k) => ({
        kind: "torque" as const,
        from: 1.2 * Math.sin(2 * Math.PI * (k / 100 + 2 * (k / 100) ** 2)),
        duration: 0.01,
      })),
    );
    expect(loud(await checked(withMistake({ current: by(-1) }, {}, sweep)))).toContain("current-sign");
    expect(loud(await checked(sweep))).not.toContain("current-sign");
  });

  test("a current that never reaches its command", async () => {
    expect(loud(await checked(withMistake({ current: by(0.4) }, {}, held)))).toContain(
      "current-below-command",
    );
  });

  test("a current that the speed takes away once the shaft is fast was at its command before", async () => {
    // R*i = V - Ke*w at the end of the voltage: what is left of 2 A is a tenth.
    const n = 2000;
    const time = Float64Array.from({ length: n }, (_, k) => k * 2e-3);
    const asked = time.map((t) => (t < 0.4 ? 0 : t < 2 ? 2 : -2));
    const since = (t: number): number => (t < 2 ? t - 0.4 : t - 2);
    const left = (t: number): number => (since(t) < 0.08 ? 1 : 0.1);
    const file = join(folder, "voltage-limit.csv");
    writeFileSync(
      file,
      `time [s],i command [A],i measured [A],speed [rpm]\n${Array.from(time, (t, k) => [t.toFixed(3), asked[k], (asked[k] * left(t) + 0.02 * Math.sin(9 * k)).toFixed(3), t < 0.4 ? 0 : (Math.sign(asked[k]) * 3200 * Math.min(1, since(t) / 0.08)).toFixed(0)].join(",")).join("\n")}\n`,
    );
    const { recordings } = await readRecordings([file]);
    expect(loud(crossChecks(recordings[0]))).not.toContain("current-below-command");
  });

  test("a shaft that accelerates against its current", async () => {
    expect(loud(await checked(withMistake({ speed: by(-1), position: by(-1) }, {}, held)))).toContain(
      "shaft-against-current",
    );
  });

  test("a shaft that a load slows down under a current of one sign does not accelerate against it", async () => {
    // J*dw/dt = Kt*i - k*w*|w|, the torque of a propeller: stairs of the current up, and one large step down.
    const n = 4000;
    const time = Float64Array.from({ length: n }, (_, k) => k * 1e-3);
    const current = time.map((t) => (t < 0.2 ? 0 : t < 2 ? 2 + 2 * Math.floor(t / 0.25) : 3));
    const speed = new Float64Array(n);
    for (let k = 1; k < n; k++)
      speed[k] = speed[k - 1] + 1e-3 * 300 * (current[k - 1] - 2e-4 * speed[k - 1] * Math.abs(speed[k - 1]));
    const codes = (w: Float64Array): string[] =>
      crossChecks(madeRecording(time, { current, speed: w })).map(({ code }) => code);
    expect(codes(speed)).not.toContain("shaft-against-current");
    expect(codes(speed.map((w) => -w))).toContain("shaft-against-current");
  });

  test("more current than the stated limit", async () => {
    expect(loud(await checked(withMistake({}, { drive: { currentLimit: 0.8 } }, held)))).toContain(
      "current-over-limit",
    );
  });
});

describe("one channel by itself", () => {
  test("clipped at the end of its range", async () => {
    const findings = await checked(withMistake({ current: (v) => v.map((x) => Math.min(x, 0.9)) }));
    expect(findings.find((f) => f.code === "clipped")?.value).toBeCloseTo(0.9, 6);
  });

  test("stuck from some time on", async () => {
    const findings = await checked(
      withMistake({ current: (v) => v.map((x, i) => (i > 1500 && i < 2400 ? v[1500] : x)) }),
    );
    expect(findings.find((f) => f.code === "stuck")?.message).toContain("900");
  });

  test("never changing although commanded", async () => {
    expect(loud(await checked(withMistake({ current: (v) => v.map(() => 0) })))).toContain("stuck");
  });

  test("coarsely logged", async () => {
    const findings = await checked(withMistake({ speed: (v) => v.map((x) => Math.round(x / 150) * 150) }));
    expect(findings.map((f) => f.code)).toContain("coarse");
  });

  test("mostly noise", async () => {
    const findings = await checked(withMistake({ torque: (v) => v }, {}, noisyTorque()));
    expect(findings.map((f) => f.code)).toContain("noisy");
  });
});

function noisyTorque(): Recording {
  const data = torque.time.map((_, i) => Math.sin(i * 12.9898) * Math.cos(i * i * 0.7));
  return {
    ...torque,
    channels: {
      ...torque.channels,
      torque: { role: "torque", name: "T", sourceUnit: "N.m", recognisedBy: "test", data },
    },
  };
}

test("a wrapped position whose speed passes half a wrap per sample cannot be unwrapped, and that is said", async () => {
  // A single-turn counter at 100 samples a second follows 50 turns a second at most.
  const rate = 100;
  const w = 2 * Math.PI * 60;
  const rows = Array.from({ length: 300 }, (_, i) => {
    const t = i / rate;
    return `${t.toFixed(3)},${Math.floor(((w * t) / (2 * Math.PI)) * 4096 + 1e-6) % 4096},${w.toFixed(3)}`;
  });
  const file = join(folder, "too-fast.csv");
  writeFileSync(file, `time [s],position [counts],speed [rad/s]\n${rows.join("\n")}\n`);
  const { recordings } = await readRecordings([file], { encoder: { lines: 1024 } });
  expect(loud([...recordings[0].findings, ...crossChecks(recordings[0])])).toContain("unwrap-impossible");
});
