import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { diagnoseFiles } from "../../lib/analysis/analyseFiles.js";
import { headline } from "../../lib/diagnosis/danger.js";

async function judged(header: string, row: (t: number) => readonly (number | string)[], seconds = 2) {
  const folder = mkdtempSync(join(tmpdir(), "unscaled-"));
  const rows = Array.from({ length: seconds * 500 }, (_, k) => row(k / 500).join(","));
  const file = join(folder, "log.csv");
  writeFileSync(file, `${header}\n${rows.join("\n")}\n`);
  const { recordings, problems } = await diagnoseFiles([file], { threads: 1 });
  return { trials: recordings.flatMap((r) => r.trials), problems, recordings };
}

// Physics: 2nd-order-free moves are enough here, for only sign and shape are judged.
const move = (t: number): number => 1000 * (t < 0.2 ? 0 : 1 - Math.exp(-(t - 0.2) / 0.1));

test("a position in counts without stated lines that goes where it is asked is followed, and no figure is given", async () => {
  const { trials } = await judged("time [s],target position [inc],actual position [inc]", (t) => [
    t,
    t < 0.2 ? 0 : 1000,
    Math.round(move(t)),
  ]);
  expect(trials).toHaveLength(1);
  expect(trials[0]).toMatchObject({ kind: "position", verdict: "tracking", evidence: [], causes: [] });
  expect(trials[0].confidence).toBeLessThanOrEqual(0.9);
  expect(trials[0].text).not.toMatch(/\d/);
  expect(trials[0].missing?.join()).toContain("scale");
});

test("a torque in percent of a rating nobody stated shows the sense of the answer", async () => {
  const command = (t: number): number => (t < 0.3 ? 0 : t < 1 ? 20 : t < 1.7 ? -20 : 0);
  const speed = (t: number): number =>
    -300 * (t < 0.3 ? 0 : t < 1 ? t - 0.3 : t < 1.7 ? 0.7 - 1.6 * (t - 1) : -0.42);
  const { trials } = await judged("t [s],torque ref [%],torque act [%],speed [rpm]", (t) => [
    t,
    command(t),
    command(t) + 0.1 * Math.sin(900 * t),
    speed(t).toFixed(1),
  ]);
  const torque = trials.filter(({ kind }) => kind === "torque");
  expect(torque.map(({ verdict }) => verdict)).toEqual(["reversed"]);
  expect(torque[0].text).toContain("TURNS AGAINST");
});

test("a motion in another unknown scale than its command is not judged", async () => {
  const { trials } = await judged("time [s],target position [inc],actual position [mm]", (t) => [
    t,
    t < 0.2 ? 0 : 1000,
    move(t).toFixed(3),
  ]);
  expect(trials.filter(({ verdict }) => verdict !== "undetermined")).toEqual([]);
});

test("a position step from 0 to 350 degrees is no step of -10", async () => {
  const { trials } = await judged("time [s],position command [deg],position [deg]", (t) => [
    t,
    t < 0.2 ? 0 : 350,
    (0.35 * move(t)).toFixed(2),
  ]);
  expect(trials.map(({ kind, verdict }) => `${kind} ${verdict}`)).toEqual(["position tracking"]);
});

test("a speed command is held against counts without stated lines by sign and shape", async () => {
  // First-order answer to a reference that reverses: w = r (1 - exp(-t/T)).
  const asked = (t: number): number => (t < 0.2 ? 0 : t < 1 ? 60 : -60);
  const run = (sign: number, noise: number) => {
    let [speed, turned] = [0, 0];
    return judged("time [s],speed ref [rad/s],encoder [counts]", (t) => {
      speed += ((sign * asked(t) - speed) * 0.002) / 0.03;
      turned += speed * 0.002 * (4096 / (2 * Math.PI));
      return [t, asked(t), Math.round(noise > 0 ? noise * Math.sin(37 * t) : turned)];
    });
  };
  const words = async (sign: number, noise: number) =>
    (await run(sign, noise)).trials.filter(({ kind }) => kind === "speed").map(({ verdict }) => verdict);
  expect(await words(1, 0)).toEqual(["tracking"]);
  expect(await words(-1, 0)).not.toContain("tracking");
  // Two counts of trembling are not drawn as large as what was asked.
  expect(await words(1, 2)).not.toContain("tracking");
});

test("orders logged in counts without stated lines: by sense alone, none kept, the dangerous one named, the scale asked for", async () => {
  const folder = mkdtempSync(join(tmpdir(), "unscaled-set-"));
  // Physics: a step of torque on a free shaft, reversed after a second; held orders swing to a rest and stay.
  const places: Record<string, (t: number) => number> = {
    UVW: (t) =>
      t < 0.2 ? 0 : t < 1.2 ? 4000 * (t - 0.2) ** 2 : 4000 + 8000 * (t - 1.2) - 4000 * (t - 1.2) ** 2,
    VWU: (t) =>
      -(t < 0.2 ? 0 : t < 1.2 ? 4000 * (t - 0.2) ** 2 : 4000 + 8000 * (t - 1.2) - 4000 * (t - 1.2) ** 2),
    VUW: (t) => (t < 0.2 ? 0 : t < 1.2 ? 30 : -30),
  };
  for (const [order, place] of Object.entries(places)) {
    const rows = Array.from({ length: 1800 }, (_, k) => {
      const t = k / 500;
      const amps = t < 0.2 ? 0 : t < 1.2 ? 2 : -2;
      return [t, amps, (amps + 0.02 * Math.sin(700 * t)).toFixed(3), Math.round(place(t))].join();
    });
    writeFileSync(
      join(folder, `${order}.csv`),
      `time [s],iq_ref [A],iq [A],position [counts]\n${rows.join("\n")}\n`,
    );
  }
  const diagnosis = await diagnoseFiles([folder], { threads: 1 });
  const { orderings, advice } = diagnosis;
  const answer = headline(diagnosis);
  const of = (order: string) => orderings.find(({ ordering }) => ordering === order);
  expect(of("UVW")).toMatchObject({ verdict: "tracking", usable: false });
  expect(of("VWU")).toMatchObject({ verdict: "reversed", usable: false });
  expect(of("VUW")).toMatchObject({ verdict: "blocked", usable: false });
  expect(answer).toContain("Close no loop on VWU");
  expect(answer).toContain("UVW turns with the command, on too little evidence to keep yet");
  for (const { reason } of orderings) expect(reason).not.toMatch(/%|Likely|leaves open/);
  expect(advice.join("\n")).toContain("State the encoder's lines (--lines)");
  expect(advice.at(-1)).toMatch(/^Do not close/);
});
