import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { type ChannelRole, siUnits } from "../../lib/recording/types.js";
import { makeRig } from "../judge/rigBench.js";
import type { HumanCase } from "./humanCases.js";

/** More rows than this are thinned out, so that a case is read in a second or two. */
const mostRows = 3000;

/** Writes one trial of a rig of the judging bench (loads, loops and shapes of all kinds) as CSV, the same for the same
 * seed. */
export function writeRigCase(home: string, seed: number): HumanCase {
  const { recording } = makeRig(seed);
  const folder = join(home, `rig ${seed}`);
  mkdirSync(folder, { recursive: true });
  const step = Math.ceil(recording.time.length / mostRows);
  const roles = Object.keys(recording.channels) as ChannelRole[];
  const lines = [`time [s],${roles.map((role) => `${role} [${siUnits[role]}]`).join(",")}`];
  for (let i = 0; i < recording.time.length; i += step)
    lines.push(
      [recording.time, ...roles.map((role) => recording.channels[role]?.data ?? [])]
        .map((column) => String(Number(column[i].toPrecision(6))))
        .join(","),
    );
  const file = join(folder, "trial.csv");
  writeFileSync(file, `${lines.join("\n")}\n`);
  return {
    folder,
    files: [file],
    names: [home, folder, file, "trial.csv", ...roles.map((role) => `${role} [`)],
  };
}
