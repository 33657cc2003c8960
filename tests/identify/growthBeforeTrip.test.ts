import { expect, test } from "vitest";
import { growthFromTrial } from "../../lib/identify/loop/growthFromTrial.js";
import { runOf } from "../../lib/run/run.js";
import { drivenPart } from "../../lib/run/trip.js";
import { madeRecording } from "../house/madeRecording.js";

test("a runaway that ends in a trip is fitted up to it, by whoever asks: what follows is a run-out", () => {
  const n = 3000;
  const tau = 0.1;
  const time = Float64Array.from({ length: n }, (_, i) => i * 1e-3);
  const [on, trip] = [0.2, 0.6];
  const asked = time.map((t) => (t < on ? 0 : 20));
  // Positive feedback: the error grows as exp(t/tau); after the trip the shaft runs out.
  const ripple = (i: number): number => 0.02 * Math.sin(2.1 * i);
  const at = (t: number): number => -2 * (Math.exp((t - on) / tau) - 1);
  const speed = time.map(
    (t, i) => ripple(i) + (t < on ? 0 : t < trip ? at(t) : at(trip) * Math.exp(-(t - trip) / 0.5)),
  );
  const command = time.map((t, i) => (t < on ? 0 : Math.min(10, 0.05 * (asked[i] - speed[i]))));
  const current = command.map((v, i) => (time[i] < trip ? v : 0) + 0.01 * Math.sin(3.3 * i));
  const run = runOf(madeRecording(time, { speedCommand: asked, speed, currentCommand: command, current }));
  const trial = run.trials.find(({ kind }) => kind === "speed");
  if (trial === undefined) throw new Error("no speed trial was found");
  const driven = drivenPart(run, trial);
  expect(run.time[driven.to - 1]).toBeGreaterThan(trip - 0.05);
  expect(run.time[driven.to - 1]).toBeLessThan(trip + 0.05);
  const { growthTime } = growthFromTrial(run, trial);
  expect(growthTime?.value).toBeGreaterThan(0.9 * tau);
  expect(growthTime?.value).toBeLessThan(1.1 * tau);
  expect(growthFromTrial(run, driven).growthTime).toEqual(growthTime);
});
