import { describe, expect, test } from "vitest";
import { observe } from "../../lib/diagnosis/observe.js";
import { judgeOpenInput } from "../../lib/diagnosis/openInput.js";
import type { Channel } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import { recordingOf, trialOf } from "./observed.js";
import { gaussian, seeded } from "./secondBench.js";

const random = seeded(8);
const n = 1000;
const time = Float64Array.from({ length: n }, (_, k) => k / 1000);
const noisy = (f: (t: number) => number, sd: number): Float64Array =>
  time.map((t) => f(t) + sd * gaussian(random));
const whole = { ...trialOf("speed"), to: n, end: time[n - 1] };

describe("a motion that is not what it was taken for", () => {
  const speedCommand = time.map((t) => (t < 0.2 ? 0 : t < 0.6 ? 20 : -20));
  const speed = noisy((t) => (t < 0.2 ? 0 : t < 0.6 ? 20 : -20), 0.05);
  /** The way of the speed in counts, of one sense or the other. */
  const counted = (sign: number): Float64Array => {
    let way = 0;
    return speed.map((w) => {
      way += sign * 0.65 * w;
      return Math.round(way);
    });
  };
  const watch = (sign: number) =>
    observe(
      runOf(
        recordingOf(
          time,
          { speedCommand, speed },
          {
            unscaled: {
              position: {
                role: "position",
                name: "n",
                sourceUnit: "{count}",
                recognisedBy: "test",
                data: counted(sign),
              },
            },
          },
        ),
      ),
      whole,
    );

  test("a position without a scale that goes the other way leaves the verdict on the speed in doubt", () => {
    expect(watch(1)).toMatchObject({ verdict: "tracking" });
    expect(watch(1).confidence).toBeGreaterThan(0.9);
    expect(watch(-1).confidence).toBeLessThanOrEqual(0.6);
    expect(watch(-1).missing[0]).toMatch(/"n" goes the other way/);
  });

  test("a shaft under a duty that went less than a quarter turn is no sure reversal", () => {
    const duty = time.map((t) => (Math.floor(t / 0.05) % 2 === 0 ? 0.5 : -0.5));
    let way = 0;
    const speedOf = noisy((t) => (Math.floor(t / 0.05) % 2 === 0 ? -3 : 3), 0.05);
    const position = speedOf.map((w) => {
      way += w / 1000;
      return way;
    });
    const seen = observe(runOf(recordingOf(time, { duty, position })), {
      ...trialOf("duty"),
      command: "duty",
      to: n,
      end: time[n - 1],
    });
    expect(seen.confidence).toBeLessThanOrEqual(0.8);
  });
});

describe("a shaft that met a stop", () => {
  const answer = (t: number): number => (t < 0.1 ? 0 : Math.min(0.1, 60 * (t - 0.1) ** 2));
  const positionCommand = time.map((t) => (t < 0.1 ? 0 : 3));

  test("has answered, and a free one would not have stood for the rest: blocked after a short time too", () => {
    const short = { ...trialOf("position"), to: 180, end: 0.18 };
    const of = (f: (t: number) => number) =>
      observe(runOf(recordingOf(time, { positionCommand, position: time.map(f) })), short);
    expect(of((t) => answer(t)).verdict).toBe("blocked");
    expect(of(() => 0).verdict).toBe("undetermined");
  });
});

describe("a command in a column of open meaning", () => {
  test("under which the shaft rings about its angles of rest: blocked; one that never moves tells nothing", () => {
    const command = time.map((t) => (t < 0.1 || t > 0.9 ? 0 : t < 0.5 ? 2 : -2));
    let [angle, w] = [0.03, 0];
    // Eight electrical turns in a turn of the shaft part the drive's angle from the magnets (theory: n = 2p).
    const swinging = command.map((i) => {
      for (let step = 0; step < 5; step += 1) {
        w += 2e-4 * (i * 100 * Math.cos(8 * angle) - 4 * w - 2 * Math.tanh(10 * w));
        angle += 2e-4 * w;
      }
      return angle;
    });
    const said = (position: Float64Array) =>
      (
        judgeOpenInput({
          ...recordingOf(time, { position }),
          open: { x: command },
          understanding: [
            {
              index: 1,
              column: "x",
              role: "currentCommand",
              probability: 0.5,
              why: [],
              runnerUp: { role: "current", probability: 0.45 },
            },
          ],
        }) ?? []
      ).map(({ observation }) => observation);
    const [seen] = said(swinging);
    expect(seen).toMatchObject({ verdict: "blocked" });
    expect(seen.confidence).toBeLessThanOrEqual(0.8);
    expect(said(noisy(() => 0, 1e-5)).filter(({ verdict }) => verdict !== "undetermined")).toEqual([]);
  });
});

describe("a speed in another scale than its command", () => {
  const frequency = time.map((t) => 2 * Math.PI * Math.min(50, 100 * Math.max(0, t - 0.1)));
  const turning = (part: number): Float64Array => {
    let w = 0;
    return frequency.map((f) => {
      w += 0.05 * (part * f - w);
      return w + 0.3 * gaussian(random);
    });
  };
  const watch = (part: number, sourceUnit: string) => {
    const recording = recordingOf(time, { speedCommand: frequency, speed: turning(part) });
    const command = { ...recording.channels.speedCommand, sourceUnit } as Channel;
    return observe(
      runOf({ ...recording, channels: { ...recording.channels, speedCommand: command } }),
      whole,
    );
  };

  test("the field turns once in p periods (synchronous speed), a motor with slip a little less: follows", () => {
    // Three pole pairs at 50 Hz: 1000 rev/min, 970 with 3 % slip (any handbook of induction motors; slip from memory).
    expect(watch(0.97 / 3, "Hz")).toMatchObject({ verdict: "tracking", behaviour: "follows" });
    expect(watch(0.97 / 3, "Hz").confidence).toBeLessThanOrEqual(0.8);
    expect(watch(0.97 / 3, "Hz").text).toMatch(/3 pole pairs/);
  });

  test("not where the command is a speed, nor a part that no number of pole pairs makes", () => {
    expect(watch(0.97 / 3, "rad/s").verdict).toBe("undetermined");
    expect(watch(0.7, "Hz").text).not.toMatch(/pole pair/);
  });
});
