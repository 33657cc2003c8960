import { resolve } from "node:path";
import { beforeAll, expect, test } from "vitest";
import { analyseRuns } from "../../lib/analysis/analyseRuns.js";
import type { Analysis } from "../../lib/analysis/conclude.js";
import { looksLike, picturesOf, type TrialPicture } from "../../lib/diagnosis/likePicture.js";
import { readRecordings } from "../../lib/recording/index.js";
import type { Recording, Trial } from "../../lib/recording/types.js";
import { chosenFrom, chosenTrialsOf, evenly, mostAlike, mostOfAKind } from "../../lib/run/chosenTrials.js";
import { Run } from "../../lib/run/run.js";

const folder = resolve(import.meta.dirname, "../../datasets/parcel-sorter");
/** Times that the torque trial of the demo is repeated: more than are taken of one kind. */
const repeats = mostOfAKind + 6;

/** The first rows of recordings of the demo one after the other, time and counts going on; in each the torque trial is
 * declared. */
function joined(parts: readonly Recording[], rows: number): Recording {
  const n = parts.length * rows;
  const time = Float64Array.from({ length: n }, (_, i) => 1e-3 * i);
  const channels: Record<string, unknown> = {};
  for (const [role, channel] of Object.entries(parts[0].channels)) {
    const data = new Float64Array(n);
    let last = 0;
    parts.forEach((part, k) => {
      const own = (part.channels as (typeof parts)[0]["channels"])[channel.role]?.data as Float64Array;
      const shift = role === "position" ? last - own[0] : 0;
      for (let i = 0; i < rows; i += 1) data[k * rows + i] = own[i] + shift;
      last = data[(k + 1) * rows - 1];
    });
    channels[role] = { ...channel, data };
  }
  const declaredTrials = parts.map((_, k) => ({
    kind: "torque" as const,
    start: 1e-3 * k * rows,
    end: 1e-3 * k * rows + 2.2,
  }));
  return { ...parts[0], ordering: undefined, declaredTrials, time, channels } as Recording;
}

let sound: Recording;
let reversed: Recording;
let run: Run;
let analysis: Analysis;

beforeAll(async () => {
  const { recordings } = await readRecordings([folder]);
  sound = recordings.find(({ ordering }) => ordering === "UVW") as Recording;
  reversed = recordings.find(({ ordering }) => ordering === "VWU") as Recording;
  // One that turns against its command among many that turn with it.
  const parts = Array.from({ length: repeats }, (_, k) => (k === 17 ? reversed : sound));
  run = new Run(joined(parts, 2200));
  analysis = analyseRuns([run], { parts: { steps: true } });
});

test("so many are taken, spread evenly with both ends; a short list is left as it is", () => {
  const list = Array.from({ length: 100 }, (_, k) => k);
  const few = evenly(list, 5);
  expect(few).toEqual([0, 25, 50, 74, 99]);
  expect(evenly(few, 5)).toBe(few);
  const chosen = chosenFrom(list, (k) => (k % 4 === 0 ? "rare" : "common"), 30);
  expect(chosen.filter((k) => k % 4 === 0)).toHaveLength(25);
  expect(chosen.filter((k) => k % 4 !== 0)).toHaveLength(30);
  expect([...chosen].sort((a, b) => a - b)).toEqual(chosen);
});

test("a long log is estimated from some trials of each kind, and says from how many", () => {
  const torque = run.trials.filter(({ kind }) => kind === "torque");
  expect(torque).toHaveLength(repeats);
  expect(run.chosenTrials.filter(({ kind }) => kind === "torque")).toHaveLength(mostAlike);
  const [finding] = run.checks.filter(({ code }) => code === "trials-chosen");
  expect(finding.severity).toBe("note");
  expect(finding.message).toContain(`${mostAlike} of ${repeats} torque trials`);
  const steps = analysis.recordings[0].steps ?? [];
  expect(new Set(steps.map(({ time }) => Math.floor(time / 2.2))).size).toBe(mostAlike);
});

test("of trials that ask the same a few are taken, of different ones more; a kind with few of them is left whole", () => {
  const trial = (kind: "torque" | "speed", start: number, level: number): Trial => ({
    kind,
    source: "found",
    command: kind === "torque" ? "currentCommand" : "speedCommand",
    from: 1000 * start,
    to: 1000 * start + 900,
    start,
    end: start + 0.9,
    steps: [{ at: 1000 * start + 100, time: start + 0.1, from: 0, to: level }],
  });
  const many = Array.from({ length: 40 }, (_, k) => trial("torque", k, k % 2 === 0 ? 1.2 : -1.2 + 1e-4 * k));
  const few = Array.from({ length: mostOfAKind }, (_, k) => trial("speed", 100 + k, 50));
  const chosen = chosenTrialsOf([...many, ...few]);
  const levels = chosen.filter(({ kind }) => kind === "torque").map(({ steps }) => Math.sign(steps[0].to));
  expect(levels.filter((sign) => sign > 0)).toHaveLength(mostAlike);
  expect(levels.filter((sign) => sign < 0)).toHaveLength(mostAlike);
  expect(chosen[0]).toBe(many[0]);
  expect(chosen.filter(({ kind }) => kind === "speed")).toEqual(few);
  const stairs = Array.from({ length: 60 }, (_, k) => trial("torque", k, 1 + k));
  expect(chosenTrialsOf(stairs)).toHaveLength(mostOfAKind);
});

test("every trial of it has its verdict and its causes, and the one that went otherwise is not lost", () => {
  const torque = analysis.diagnosis.recordings[0].trials.filter(({ kind }) => kind === "torque");
  expect(torque).toHaveLength(repeats);
  expect(torque.map(({ verdict }) => verdict)).toEqual(
    Array.from({ length: repeats }, (_, k) => (k === 17 ? "reversed" : "tracking")),
  );
  for (const { causes } of torque) expect(causes).toEqual(torque[0].causes);
  expect(torque[0].causes.length).toBeGreaterThan(0);
});

test("a log with few trials says nothing of them", () => {
  const short = new Run(sound);
  expect(short.chosenTrials).toBe(short.trials);
  expect(short.checks.filter(({ code }) => code === "trials-chosen")).toEqual([]);
});

test("what is weighed alone gives the constants and the posterior of the whole, one odd trial among many included", () => {
  const parts = { constants: true } as const;
  const whole = analyseRuns([new Run(run.logged)], { parts });
  const weighed = analyseRuns([new Run(run.logged)], { parts: { ...parts, verdicts: "weighed" } });
  expect(weighed.recordings[0].constants).toEqual(whole.recordings[0].constants);
  expect(whole.recordings[0].constants?.electrical.torqueGain?.source).toBe("verdicts");
  const [all, some] = [whole, weighed].map(({ recordings }) => recordings[0].verdicts.trials);
  expect(all.filter(({ kind }) => kind === "torque")).toHaveLength(repeats);
  expect(some.length).toBeLessThan(all.length - 3);
  const words = (trials: typeof all): Set<string> => new Set(trials.map(({ verdict }) => verdict));
  expect(words(some)).toEqual(words(all));
  expect(words(all).has("reversed")).toBe(true);
  for (const trial of some) expect(all.find(({ start }) => start === trial.start)).toEqual(trial);
});

test("trials look alike where every channel went alike: not where one swings about the same mean, ends elsewhere or lacks values", () => {
  const rows = 960;
  const wave = (of: (t: number) => number): Float64Array =>
    Float64Array.from({ length: rows }, (_, i) => of((i % 240) / 240));
  const speed = wave((t) => 100 * Math.min(1, 4 * t));
  // The second trial swings about the speed of the first, the third stays slower, the fourth is the first again.
  for (let i = 240; i < 480; i += 1) speed[i] += i % 2 === 0 ? 6 : -6;
  for (let i = 480; i < 720; i += 1) speed[i] *= 0.9;
  const channels = { speed: { role: "speed", name: "w", data: speed } };
  const at = (k: number): Trial => ({
    ...run.trials[0],
    from: 240 * k,
    to: 240 * (k + 1),
    start: k,
    end: k + 1,
  });
  const trials = [0, 1, 2, 3].map(at);
  const drawn = (data: Float64Array) => {
    const recording = { ...sound, channels: { speed: { ...channels.speed, data } } } as unknown as Recording;
    return trials.map((trial) => picturesOf(recording, trials)(trial) as TrialPicture);
  };
  const pictures = drawn(speed);
  expect(pictures.map((picture) => looksLike(pictures[0], picture))).toEqual([true, false, false, true]);
  const lacking = speed.slice().fill(Number.NaN, 800, 840);
  const [first, , , last] = drawn(lacking);
  expect(looksLike(first, last)).toBe(false);
  expect(picturesOf(sound, trials)({ ...trials[0], to: 50 })).toBe(undefined);
});
