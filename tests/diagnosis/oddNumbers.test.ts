import { expect, test } from "vitest";
import { diagnose, recordingFromTrace, simulate, torqueTrial } from "../../lib/index.js";
import { cutTrials } from "../../lib/recording/segments/cutTrials.js";
import type { Channel, Recording } from "../../lib/recording/types.js";
import { goodBench } from "../recording/bench.js";

const sound = recordingFromTrace(
  simulate(goodBench, torqueTrial({ current: 1.2 }), { logRate: 500 }),
  goodBench,
);
const trials = cutTrials(sound).trials;

// What a damaged file can hold where a measured value stood (a mutated Arrow file gave odds of NaN once).
const strange = [Number.NaN, Number.POSITIVE_INFINITY, -1e308, 1e300, 5e-324];

test.each(["current", "speed", "position", "currentCommand"] as const)(
  "absurd values in %s leave odds that add up to one",
  (role) => {
    for (const value of strange) {
      for (const every of [1, 3, 50]) {
        const channel = sound.channels[role] as Channel;
        const data = channel.data.map((old, i) => (i % every === 0 ? value : old));
        const recording: Recording = {
          ...sound,
          channels: { ...sound.channels, [role]: { ...channel, data } },
        };
        const [{ trials: judged }] = diagnose([{ recording, trials }]).recordings;
        for (const trial of judged) {
          expect(trial.confidence >= 0 && trial.confidence <= 1, `${role} ${value} every ${every}`).toBe(
            true,
          );
          for (const { probability } of trial.causes) expect(probability >= 0 && probability <= 1).toBe(true);
          const sum = trial.causes.reduce((total, cause) => total + cause.probability, 0);
          if (trial.causes.length > 0) expect(sum, `${role} ${value} every ${every}`).toBeCloseTo(1, 6);
          if (trial.forecast)
            expect(trial.forecast.probability >= 0 && trial.forecast.probability <= 1).toBe(true);
        }
      }
    }
  },
);

test("channels scaled beyond where squares have numbers leave sureness a number", () => {
  for (const factor of [1e160, 1e213, -1e300]) {
    for (const roles of [
      ["speed"],
      ["current", "currentCommand"],
      ["speed", "position", "current"],
    ] as const) {
      const channels = { ...sound.channels };
      for (const role of roles) {
        const channel = sound.channels[role] as Channel;
        channels[role] = { ...channel, data: channel.data.map((v, i) => factor * v * (1 + (i % 7))) };
      }
      if (!(roles as readonly string[]).includes("position")) delete channels.position;
      const [{ trials: judged }] = diagnose([{ recording: { ...sound, channels }, trials }]).recordings;
      for (const { confidence } of judged) expect(confidence >= 0 && confidence <= 1).toBe(true);
    }
  }
});
