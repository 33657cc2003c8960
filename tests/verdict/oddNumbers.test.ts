import { expect, test } from "vitest";
import { diagnose, recordingFromTrace, simulate, torqueTrial } from "../../lib/index.js";
import { cutTrials } from "../../lib/recording/cutTrials.js";
import type { Channel, Recording } from "../../lib/recording/types.js";

const bench = {
  motor: {
    polePairs: 4,
    resistance: 0.9,
    inductanceD: 1.1e-3,
    inductanceQ: 1.1e-3,
    fluxLinkage: 0.0155,
    inertia: 1.4e-4,
    coulombFriction: 0.025,
    viscousFriction: 8e-5,
    staticFriction: 0.032,
  },
  drive: {
    busVoltage: 48,
    modulation: "space-vector" as const,
    currentLimit: 3,
    samplePeriod: 1e-4,
    currentBandwidth: 2500,
    polePairs: 4,
    encoderLines: 1024,
    speedLoop: { kp: 0.03, ki: 0.3 },
    speedFilter: 1.5e-3,
    alignment: { kind: "aligned" as const },
  },
  encoder: { lines: 1024, sense: 1 as const },
  order: "UVW" as const,
};
const sound = recordingFromTrace(simulate(bench, torqueTrial({ current: 1.2 }), { logRate: 500 }), bench);
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
