import { describe, expect, test } from "vitest";
import { estimateConstants } from "../../lib/identify/index.js";
import { jointMotion } from "../../lib/identify/mechanical/jointMotion.js";
import type { ChannelRole, Recording, Trial } from "../../lib/recording/types.js";
import { type JointTruth, runJoint } from "./jointBench.js";

const joint: JointTruth = {
  inertia: 0.08,
  coulomb: 0.15,
  viscous: 0.05,
  gravity: 1.2,
  hangs: 0,
  torqueNoise: 0.03,
  disturbance: 0.005,
  disturbanceTime: 0.05,
  counts: 4096,
  late: 0.4,
};
const holds = (e: { low: number; high: number } | undefined, truth: number): void => {
  expect(e).toBeDefined();
  expect(e!.low).toBeLessThanOrEqual(truth);
  expect(e!.high).toBeGreaterThanOrEqual(truth);
};

function recorded(log: ReturnType<typeof runJoint>, effort: ChannelRole, scale = 1): [Recording, Trial[]] {
  const channel = (role: ChannelRole, data: Float64Array) => ({
    role,
    name: role,
    sourceUnit: "1",
    recognisedBy: "test",
    data,
  });
  const recording: Recording = {
    path: "made",
    time: log.time,
    channels: {
      position: channel("position", log.angle),
      [effort]: channel(
        effort,
        log.effort.map((v) => v * scale),
      ),
    },
    machine: {},
    drive: {},
    encoder: {},
    findings: [],
  };
  const last = log.time.length - 1;
  return [
    recording,
    [{ kind: "motion", from: 0, to: last + 1, start: 0, end: log.time[last], steps: [], source: "declared" }],
  ];
}

describe("a joint that never makes a turn", () => {
  test("inertia, friction and gravity from torque and position", () => {
    const { mechanical } = estimateConstants(...recorded(runJoint(joint, 8, 21), "torque"));
    holds(mechanical.inertia, 0.08);
    holds(mechanical.coulombFriction, 0.15);
    holds(mechanical.viscousFriction, 0.05);
    holds(mechanical.gravityTorque, 1.2);
    expect(mechanical.inertia!.high / mechanical.inertia!.low).toBeLessThan(1.1);
    expect(mechanical.coulombFriction!.high / mechanical.coulombFriction!.low).toBeLessThan(2);
  });

  test("over the torque constant where only a current was logged, and without gravity where it takes none", () => {
    const log = runJoint({ ...joint, gravity: 0 }, 8, 22);
    const { ratios, mechanical } = estimateConstants(...recorded(log, "current", 1 / 0.5));
    holds(ratios.inertiaOverTorqueConstant, 0.16);
    holds(ratios.coulombOverTorqueConstant, 0.3);
    holds(ratios.viscousOverTorqueConstant, 0.1);
    expect(ratios.gravityOverTorqueConstant).toBeUndefined();
    expect(mechanical.inertia).toBeUndefined();
  });

  test("a torque that was only asked for is taken for the torque, and each constant says so", () => {
    const log = runJoint(joint, 8, 21);
    const asked = estimateConstants(...recorded(log, "torqueCommand")).mechanical;
    const measured = estimateConstants(...recorded(log, "torque")).mechanical;
    holds(asked.inertia, 0.08);
    expect(asked.inertia?.convention).toBe("the torque command is taken for the torque");
    expect(measured.inertia?.convention).toBeUndefined();
  });

  test("an effort logged later than its row moves no inertia (closed form of two waves)", () => {
    const [inertia, viscous, waves] = [
      0.1,
      0.02,
      [
        [0.4, 4],
        [0.15, 11],
      ],
    ];
    const sum = (of: (size: number, w: number) => number): number =>
      waves.reduce((all, [size, w]) => all + of(size, w), 0);
    const time = Float64Array.from({ length: 2000 }, (_, k) => 4e-3 * k);
    const angle = time.map((t) => sum((size, w) => size * Math.sin(w * t)));
    const speed = time.map((t) => sum((size, w) => size * w * Math.cos(w * t)));
    const found = (late: number): number => {
      const effort = time.map((t) =>
        sum(
          (size, w) =>
            viscous * size * w * Math.cos(w * (t + late)) - inertia * size * w * w * Math.sin(w * (t + late)),
        ),
      );
      const motion = jointMotion({ time, angle, speed, effort, resolution: 0 });
      if ("missing" in motion) throw new Error(motion.missing);
      return motion.inertia.value;
    };
    // The square of 11 rad/s times 4 ms, halved, would be a thousandth.
    for (const late of [-4e-3, 4e-3]) expect(Math.abs(found(late) / found(0) - 1)).toBeLessThan(1e-4);
    expect(Math.abs(found(0) / inertia - 1)).toBeLessThan(2e-4);
  });

  test("a short motion widens the intervals instead of missing the truth", () => {
    const width = (seconds: number): number => {
      const log = runJoint(joint, seconds, 23);
      const fit = jointMotion({ ...log, resolution: (2 * Math.PI) / joint.counts });
      if ("missing" in fit) throw new Error(fit.missing);
      holds(fit.coulomb, 0.15);
      holds(fit.viscous, 0.05);
      return fit.coulomb.high - fit.coulomb.low;
    };
    expect(width(3)).toBeGreaterThan(1.4 * width(16));
  });

  test("friction that is not there is an upper limit, never a negative number", () => {
    let limits = 0;
    for (let seed = 30; seed < 40; seed++) {
      const log = runJoint({ ...joint, viscous: 0, coulomb: 0.02 }, 3, seed);
      const { viscousFriction } = estimateConstants(...recorded(log, "torque")).mechanical;
      if (viscousFriction === undefined) continue;
      expect(viscousFriction.low).toBeGreaterThanOrEqual(0);
      expect(viscousFriction.value).toBeGreaterThanOrEqual(0);
      if (viscousFriction.limit === "upper") {
        limits++;
        expect(viscousFriction.value).toBe(0);
        expect(viscousFriction.high).toBeGreaterThan(0);
      }
    }
    expect(limits).toBeGreaterThan(1);
  });

  test("an effort that follows another joint, a joint at rest, and too short a log are refused with the reason", () => {
    const log = runJoint(joint, 8, 24);
    const other = log.time.map((t) => 3 * Math.sin(11 * t));
    const refusal = (r: ReturnType<typeof jointMotion>): string => ("missing" in r ? r.missing : "");
    expect(refusal(jointMotion({ ...log, effort: other, resolution: 0 }))).toContain("this joint alone");
    const still = log.angle.map(() => 0.3);
    expect(
      refusal(jointMotion({ ...log, angle: still, speed: still.map(() => 0), resolution: 0 })),
    ).toContain("moves");
    const cut = (x: Float64Array): Float64Array => x.slice(0, 60);
    const short = {
      time: cut(log.time),
      angle: cut(log.angle),
      speed: cut(log.speed),
      effort: cut(log.effort),
    };
    expect(refusal(jointMotion({ ...short, resolution: 0 }))).not.toBe("");
  });
});
