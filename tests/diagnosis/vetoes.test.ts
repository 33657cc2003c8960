import { describe, expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import { observe } from "../../lib/diagnosis/observe.js";
import { observeSteps } from "../../lib/diagnosis/observeSteps.js";
import { currentShift } from "../../lib/recording/checks/shiftedChannels.js";
import { cutTrials, type Recording, recordingFromTrace } from "../../lib/recording/index.js";
import { runOf } from "../../lib/run/run.js";
import { simulate, torqueTrial } from "../../lib/simulation/index.js";
import { goodBench } from "../recording/bench.js";
import { recordingOf, trialOf } from "./observed.js";
import { gaussian, seeded } from "./secondBench.js";

const n = 3000;
const time = Float64Array.from({ length: n }, (_, i) => i * 1e-3);
const of = (value: (t: number) => number): Float64Array => time.map(value);

describe("a current that comes later than its command", () => {
  const asked = of((t) => (t < 0.2 ? 0 : t < 1.2 ? 4 : t < 2.2 ? -4 : 0));
  const shift = (current: Float64Array, speed: Float64Array) =>
    currentShift(recordingOf(time, { currentCommand: asked, current, speed }));

  test("by a fifth of a second throughout: its rows are of other moments", () => {
    const late = of((t) => asked[Math.max(0, Math.round((t - 0.2) * 1000))]);
    let w = 0;
    const speed = asked.map((i) => (w += 0.03 * i));
    expect(shift(late, speed)?.seconds).toBeCloseTo(0.2, 1);
  });

  test("that falls where the voltage runs out is at its moments: its rows go with its command elsewhere", () => {
    // Physics: R i = V - Ke w; w = Kt i t / J until the voltage is used up, then w and i settle exponentially.
    let [w, dt] = [0, 1e-3];
    const current = new Float64Array(n);
    const speed = new Float64Array(n);
    for (let k = 0; k < n; k += 1) {
      current[k] = Math.max((-24 - 0.05 * w) / 2, Math.min((24 - 0.05 * w) / 2, asked[k]));
      w += dt * (250 * current[k] - 0.3 * w);
      speed[k] = w;
    }
    expect(Math.min(...current.subarray(1000, 1190))).toBeLessThan(3);
    expect(shift(current, speed)).toBeUndefined();
  });
});

describe("a shaft that stays in one order while another turns", () => {
  const order = (ordering: "UVW" | "VUW", coulombFriction: number, current: number): Recording => {
    const { motor } = goodBench;
    const bench = {
      ...goodBench,
      order: ordering,
      motor: { ...motor, coulombFriction, staticFriction: 1.3 * coulombFriction },
    };
    const trace = simulate(bench, torqueTrial({ current, forward: 0.6, reverse: 0.6 }), {
      logRate: 500,
      currentNoise: 0.01,
      startAngle: 0.4,
    });
    return recordingFromTrace(trace, bench, {
      path: `${ordering}.csv`,
      ordering,
      motor: "spindle",
      drive: { polePairs: bench.drive.polePairs },
    });
  };
  const jam = (list: readonly Recording[]): number => {
    const { recordings } = diagnose(
      list.map((recording) => ({ recording, trials: cutTrials(recording).trials })),
    );
    const crossed = recordings.find(({ ordering }) => ordering === "VUW");
    return crossed?.trials[0].causes.find(({ cause }) => cause === "jam")?.probability ?? Number.NaN;
  };

  // Physics: where friction takes most of the torque, a shaft with swapped phases is held over most of the turn.
  test("is no jam where friction takes most of the torque there is", () => {
    const { polePairs, fluxLinkage } = goodBench.motor;
    const friction = 0.5 * 1.5 * polePairs * fluxLinkage * 1.2;
    const still = recordingStill(order("VUW", friction, 1.2));
    const rubbing = jam([order("UVW", friction, 1.2), still]);
    const easy = jam([order("UVW", 0.02 * friction, 1.2), still]);
    expect(rubbing).toBeLessThan(0.5 * easy);
  });

  /** The same log with a shaft that does not move at all. */
  function recordingStill(recording: Recording): Recording {
    const { position, speed, ...rest } = recording.channels;
    const at = <T extends { readonly data: Float64Array }>(channel: T | undefined): T | undefined =>
      channel && { ...channel, data: channel.data.map(() => channel.data[0]) };
    return {
      ...recording,
      channels: {
        ...rest,
        ...(position ? { position: at(position) } : {}),
        ...(speed ? { speed: at(speed) } : {}),
      },
    };
  }
});

test("a current that flowed before the command and not under it is no trip of a trial that was tried", () => {
  const random = seeded(11);
  const noise = (): number => 0.02 * gaussian(random);
  // Braked to rest from an earlier run by 3 A, then a command that nothing answers.
  const current = of((t) => (t < 0.5 ? -3 : 0) + noise());
  const speed = of((t) => Math.max(0, 50 - 120 * t) + noise());
  const speedCommand = of((t) => (t < 0.6 ? 0 : 50));
  const trial = { ...trialOf("speed"), command: "speedCommand" as const, to: n, end: time[n - 1] };
  const seen = observe(runOf(recordingOf(time, { speedCommand, current, speed })), trial);
  expect(seen.tripped).toBeUndefined();
  expect(["runaway", "reversed", "tracking"]).not.toContain(seen.verdict);

  // The same after a second of following it: that trial is judged up to the trip.
  const followed = observe(
    runOf(
      recordingOf(time, {
        speedCommand: of((t) => (t < 0.2 ? 0 : 50)),
        current: of((t) => (t < 0.2 ? 0 : t < 1.5 ? 2 : 0) + noise()),
        speed: of(
          (t) =>
            (t < 0.2 ? 0 : t < 1.5 ? 50 * (1 - Math.exp((0.2 - t) / 0.05)) : 50 * Math.exp((1.5 - t) / 0.3)) +
            noise(),
        ),
      }),
    ),
    trial,
  );
  expect(followed.tripped).toBeCloseTo(1.5, 1);
  expect(followed.verdict).toBe("tracking");
});

test("a shaft that hunts whole turns to and fro under a held command is less surely blocked than one that stays", () => {
  const speedCommand = of((t) => (t < 0.2 ? 0 : 20));
  const judged = (speed: Float64Array) => {
    const trial = { ...trialOf("speed"), command: "speedCommand" as const, to: n, end: time[n - 1] };
    return observe(runOf(recordingOf(time, { speedCommand, speed })), trial);
  };
  const hunts = judged(of((t) => (t < 0.2 ? 0 : 22 * Math.sin(4 * (t - 0.2)))));
  const stays = judged(of((t) => (t < 0.2 ? 0 : 0.4 * Math.sin(40 * (t - 0.2)) * Math.exp((0.2 - t) / 0.2))));
  expect(stays.verdict).toBe("blocked");
  expect(hunts.verdict === "blocked" ? hunts.confidence : 0).toBeLessThanOrEqual(0.75);
  expect(stays.confidence).toBeGreaterThan(0.9);
  expect(observeSteps(hunts.signals, hunts.holds).text).toMatch(
    /went to and fro and did not settle|neither followed/,
  );
});
