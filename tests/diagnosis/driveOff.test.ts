import { expect, test } from "vitest";
import { observe } from "../../lib/diagnosis/observe.js";
import { runOf } from "../../lib/run/run.js";
import { recordingOf, trialOf } from "./observed.js";
import { gaussian, seeded } from "./secondBench.js";

const time = Float64Array.from({ length: 600 }, (_, k) => k / 100);
const whole = { ...trialOf("speed"), to: 600, end: 6 };
const stepped = time.map((t) => (t < 1 ? 0 : 12));

/** A speed trial of a shaft that stands, with a current sensor that is noisy and off by a little. */
function trialWith(current: (t: number) => number, seed: number) {
  const random = seeded(seed);
  const noisy = (deviation: number) => gaussian(random) * deviation;
  const measured = time.map((t) => 0.05 + current(t) + noisy(0.08));
  const speed = time.map(() => noisy(0.05));
  return observe(runOf(recordingOf(time, { speedCommand: stepped, speed, current: measured })), whole);
}

test("a current that stays the noise it was before a motion was asked for: nothing was tried", () => {
  // Common practice, no source: a drive that is not enabled shows the noise of its current sensor, and no zero.
  const said = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10].map((seed) => trialWith(() => 0, seed));
  const off = said.filter(({ text }) => /no current flowed although a motion was asked for/.test(text));
  // By chance a mean moves by three of its errors once in four hundred.
  expect(off.length).toBeGreaterThanOrEqual(9);
  expect(off.every(({ verdict }) => verdict === "undetermined")).toBe(true);
});

test("a loop that presses against a shaft that stays is blocked, and so is one whose current turns to and fro", () => {
  for (const seed of [1, 2, 3, 4, 5]) {
    expect(trialWith((t) => (t < 1 ? 0 : Math.min(2, 0.4 * (t - 1))), seed).verdict).toBe("blocked");
    expect(trialWith((t) => (t < 1 ? 0 : 0.5), seed).verdict).toBe("blocked");
    expect(trialWith((t) => (t < 1 ? 0 : 2 * Math.sign(Math.sin(9 * t))), seed).text).not.toMatch(
      /no current flowed/,
    );
  }
});

test("few rows before the command are enough where the current under it is white noise about their mean", () => {
  const slow = Float64Array.from({ length: 60 }, (_, k) => k);
  const asked = slow.map((_, k) => (k < 5 ? 0 : 12));
  const trial = { ...trialOf("speed"), to: 60, end: 59 };
  const seen = (current: (t: number) => number, seed: number) => {
    const random = seeded(seed);
    const measured = slow.map((t) => current(t) + 0.08 * gaussian(random));
    return observe(
      runOf(recordingOf(slow, { speedCommand: asked, speed: slow.map(() => 0), current: measured })),
      trial,
    );
  };
  const off = [1, 2, 3, 4, 5, 6, 7, 8].map((seed) => seen(() => 0.2, seed));
  expect(off.filter(({ text }) => /no current flowed/.test(text)).length).toBeGreaterThanOrEqual(7);
  // A current that rises, or has another mean, flows.
  for (const seed of [1, 2, 3]) {
    expect(seen((t) => (t < 5 ? 0.2 : 0.2 + 0.05 * t), seed).verdict).toBe("blocked");
    expect(seen((t) => (t < 5 ? 0.2 : 3), seed).verdict).toBe("blocked");
  }
});

test("a shaft that stands is no surer blocked than its drive was on, where no effort was logged", () => {
  const bare = observe(runOf(recordingOf(time, { speedCommand: stepped, speed: time.map(() => 0) })), whole);
  expect(bare.verdict).toBe("blocked");
  expect(bare.confidence).toBeLessThan(0.8);
  expect(bare.missing.join()).toMatch(/a current, which shows that the drive was on/);
  expect(trialWith((t) => (t < 1 ? 0 : 2), 1).confidence).toBeGreaterThan(bare.confidence);
});
