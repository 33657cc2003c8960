import { expect, test } from "vitest";
import { cutTrials, encoderLinesFromGrid, readRecordings } from "../../lib/recording/index.js";
import { sharedFolder } from "../house/shared.js";

/**
 * Four real torque-step recordings of a coupled two-motor rig (public repository malik-robert/HSM150-data, recorded
 * 2022-03-09). They are not part of this repository; `sharedFolder` says where they are looked for. Columns and units
 * are those its README states.
 */
const rig = sharedFolder("recordings/two-motor-rig") ?? "";
const options = {
  map: {
    time: "#1",
    position: "#3",
    speed: "#4",
    torqueCommand: "#5",
    torque: "#6",
    current: "#7",
  },
  unit: { time: "s", position: "rad", speed: "rad/s", torqueCommand: "N.m", torque: "N.m", current: "A" },
};
const expected: Readonly<Record<string, readonly [number, number]>> = {
  "torque_step_neg_0.04_1.mat": [-0.03, -0.04],
  "torque_step_neg_0.045_2.mat": [-0.03, -0.045],
  "torque_step_pos_0.06_1.mat": [0.05, 0.06],
  "torque_step_pos_0.065_3.mat": [0.05, 0.065],
};

test.skipIf(rig === "")(
  "the four real recordings are torque trials, stepped at 10 s, on a grid of 2500 lines",
  async () => {
    const { recordings, problems } = await readRecordings([rig], options);
    expect(problems).toEqual([]);
    expect(recordings.length).toBe(4);
    for (const recording of recordings) {
      const name = recording.path.split("/").at(-1) ?? "";
      const { trials, leftOver } = cutTrials(recording);
      expect(leftOver).toEqual([]);
      expect(trials.map((t) => t.kind)).toEqual(["torque"]);
      expect(trials[0].command).toBe("torqueCommand");
      const [before, after] = expected[name];
      expect(trials[0].steps).toEqual([{ at: 10_000, time: 10, from: before, to: after }]);
      expect(encoderLinesFromGrid(recording.channels.position)?.lines).toBe(2500);
    }
  },
);

test.skipIf(rig === "")(
  "without a mapping a matrix is taken as far as its numbers tell, and the rest is asked",
  async () => {
    const { recordings, problems } = await readRecordings([`${rig}/torque_step_pos_0.06_1.mat`]);
    expect(problems).toEqual([]);
    const [{ understanding, channels, findings }] = recordings;
    // Time, position and speed by the physics of the README's columns; torque and current stay open.
    expect(
      understanding
        ?.filter((c) => c.probability > 0.8 && c.role !== undefined)
        .map((c) => [c.column, c.role, c.unit]),
    ).toEqual([
      ["data:1", "time", "s"],
      ["data:3", "position", "rad"],
      ["data:4", "speed", "rad/s"],
    ]);
    expect(Object.keys(channels).sort()).toEqual(["position", "speed"]);
    expect(findings.find((f) => f.code === "columns-doubtful")?.meaning).toContain("--map");
  },
);
