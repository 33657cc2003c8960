import { readdirSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import { cutTrials, encoderLinesFromGrid, readRecordings } from "../../lib/recording/index.js";
import { sharedFolder } from "../house/shared.js";

// Real torque steps of a coupled two-motor rig (public repository malik-robert/HSM150-data, Data/Identification), which
// are not part of this project.
const folder = sharedFolder("recordings/two-motor-rig");

const map = {
  time: "#1",
  position: "#3",
  speed: "#4",
  torqueCommand: "#5",
  torque: "#6",
  current: "#7",
};

test.skipIf(!folder)(
  "four real torque steps: torque trials, tracking, sense with, steps at 10 s, 2500 lines",
  async () => {
    const files = readdirSync(folder as string).filter((name) => name.endsWith(".mat"));
    expect(files).toHaveLength(4);
    const { recordings } = await readRecordings(
      files.map((name) => join(folder as string, name)),
      { map },
    );
    expect(recordings).toHaveLength(4);
    for (const recording of recordings) {
      const { trials } = cutTrials(recording);
      expect(encoderLinesFromGrid(recording.channels.position)?.lines).toBe(2500);
      expect(trials.some(({ steps }) => steps.some(({ time }) => Math.abs(time - 10) < 0.05))).toBe(true);
      const verdicts = diagnose([{ recording, trials }]).recordings[0].trials;
      expect(verdicts.map(({ kind, verdict, sense }) => [kind, verdict, sense])).toEqual([
        ["torque", "tracking", "with"],
      ]);
    }
  },
);
