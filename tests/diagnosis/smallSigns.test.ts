import { describe, expect, test } from "vitest";
import { fallsBack } from "../../lib/diagnosis/fallsBack.js";
import { forecastOf } from "../../lib/diagnosis/forecast.js";
import { observeHeld } from "../../lib/diagnosis/observeHeld.js";
import { openReadings } from "../../lib/diagnosis/openReadings.js";
import type { ColumnUnderstanding, Recording } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { trialSignals } from "../../lib/run/trialSignals.js";
import { madeRecording } from "../house/madeRecording.js";
import { uniforms } from "../house/uniforms.js";
import { hold, seen, trialOf } from "./observed.js";

// What single signs say, held against what they are made of.

const random = uniforms(4711);
const noise = (size: number): number => size * (random() + random() + random() - 1.5);

describe("a column of open meaning", () => {
  const n = 300;
  const time = Float64Array.from({ length: n }, (_, i) => 0.01 * i);
  const column = time.map((t) => (t < 1 ? 0 : 600));
  const reading = (said: Partial<ColumnUnderstanding>, unit = "{rev}/min", gap = true) => {
    const recording = madeRecording(time, { speed: time.map((t) => (t < 1 ? 0 : 60)) });
    const speed = { ...recording.channels.speed, sourceUnit: unit };
    const made = {
      ...recording,
      channels: gap ? { speed } : {},
      open: { x: column },
      understanding: [{ index: 1, column: "x", probability: 0.4, why: [], ...said }],
    } as Recording;
    return openReadings(made, () => true)[0];
  };
  const weightOf = (of: ReturnType<typeof reading>, role: string): number =>
    of.readings.find(({ recording }) => role in recording.channels || role in (recording.unscaled ?? {}))
      ?.weight ?? Number.NaN;

  test("as a speed that was asked for it has the unit of the speed that answers", () => {
    const { readings } = reading({ role: "speedCommand" });
    const speed = readings.find(({ recording }) => recording.channels.speedCommand !== undefined);
    // 600 rev/min are 20 pi rad/s.
    expect(speed?.recording.channels.speedCommand?.data[n - 1]).toBeCloseTo(20 * Math.PI, 9);
    expect(speed?.words).toBe("a speed");
    // Nothing answers a position here.
    expect(readings.some(({ recording }) => recording.channels.positionCommand !== undefined)).toBe(false);
  });

  test("as a current it keeps its values", () => {
    const { readings } = reading({ role: "currentCommand" });
    const current = readings.find(({ recording }) => recording.channels.currentCommand !== undefined);
    expect(current?.recording.channels.currentCommand?.data[n - 1]).toBe(600);
  });

  test("a meaning weighs what was said of it, beside what holds without", () => {
    const [less, more] = [0.1, 0.4].map((probability) =>
      weightOf(reading({ role: "speedCommand", probability }), "speedCommand"),
    );
    expect(more - less).toBeCloseTo(0.3, 9);
    const second = { role: "currentCommand" as const, probability: 0.25 };
    const [without, beside] = [undefined, second].map((runnerUp) =>
      weightOf(reading({ role: "speedCommand", runnerUp }), "currentCommand"),
    );
    expect(beside - without).toBeCloseTo(0.25, 9);
  });
});

test("torque on a held shaft: as sure as the current explains the torque, and nine tenths at most", () => {
  const n = 2000;
  const time = Float64Array.from({ length: n }, (_, i) => 1e-3 * i);
  const current = time.map((_, i) => Math.floor(i / 400) - 2);
  for (const spread of [0.02, 1.1]) {
    const torque = current.map((v) => 0.5 * v + noise(spread));
    const run = runOf(madeRecording(time, { current, torque, speed: time.map(() => 0) }));
    const trial = { ...trialOf("held"), from: 0, to: n, end: 2, source: "declared" as const };
    const found = observeHeld(run, trial, trialSignals(run, trial));
    // Where nobody said that it is held, no surer than that the torque is a sensor's.
    const unsaid = observeHeld(run, { ...trial, source: "found" }, trialSignals(run, trial));
    expect(unsaid.confidence).toBeLessThanOrEqual(0.7);
    const [perAmpere, explained] = found.evidence.map(({ value }) => value as number);
    expect(perAmpere).toBeCloseTo(0.5, 1);
    expect(found.confidence).toBeCloseTo(0.9 * Math.min(1, explained + 0.1), 9);
    expect(found.confidence).toBeLessThanOrEqual(0.9);
  }
});

test("a shaft that goes back once the current ends: by where it is at last, not on its way", () => {
  const time = Float64Array.from({ length: 2000 }, (_, i) => 2e-3 * i);
  const current = time.map((t) => (t > 0.5 && t < 1.5 ? 2 : 0));
  // Moved by 1 rad, still there for three fifths of the rest, then back by 0.8.
  const position = time.map((t) => {
    if (t < 0.5) return 0;
    if (t < 0.6) return 10 * (t - 0.5);
    return t < 3 ? 1 : 0.2;
  });
  const run = runOf(madeRecording(time, { currentCommand: current, current, position }));
  const trial = { ...trialOf("torque"), from: 200, to: 750, start: 0.4, end: 1.5 };
  const signals = trialSignals(run, trial);
  const holds = [hold({ from: 50, to: 550, sense: 1 })];
  const found = fallsBack(run, { ...seen("torque", "unclear", { trial, holds }), signals });
  expect(found?.verdict).toBe("tracking");
  expect(found?.evidence[0].value).toBeCloseTo(0.8, 2);
});

test("a forecast that the speed trial contradicts says what the torque trial alone foretells, or that it leaves it open", () => {
  const observation = seen("torque", "turns", { verdict: "tracking" });
  const said = (tracking: number, runaway: number) =>
    forecastOf(
      undefined,
      observation as never,
      { tracking, runaway, blocked: 1 - tracking - runaway } as never,
      "blocked",
    );
  expect(said(0.93, 0.04)?.text).toMatch(/speed control should track \(93 %\), but the speed trial/);
  expect(said(0.45, 0.3)?.text).toMatch(/leaves it open, but the speed trial of this order was blocked/);
});
