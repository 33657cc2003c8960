import { largest } from "../numeric/series/largest.js";
import { commandedEfforts } from "../recording/columns/roles.js";
import type { ChannelRole, Finding, Recording } from "../recording/types.js";
import type { Shaft } from "./shaft.js";

/** What drives a shaft where no command is logged. */
const measured = ["current", "torque"] as const;

/**
 * A channel is one of sizes where it never goes below zero by more than `below` of its largest value, and the shaft
 * still gathers speed both ways while it stands above
 * `driven` of that: from under `slow` of the top speed to over `fast`, by at least `turns`, each way (common practice, no source).
 */
const sized = { below: 0.05, driven: 0.2, slow: 0.08, fast: 0.2, turns: 1 };

/**
 * Efforts logged without their sign, told by the motion: one torque, voltage or duty of one sign cannot set a free
 * shaft turning both ways. Several turns each way are asked for, since a spring, a rest angle or gravity swing a shaft
 * to and fro.
 */
export function effortsWithoutSign(recording: Recording, shaft: Shaft | undefined): ChannelRole[] {
  if (shaft === undefined) return [];
  const logged = commandedEfforts.filter((role) => recording.channels[role] !== undefined);
  return (logged.length > 0 ? logged : measured).filter((role) => {
    const data = recording.channels[role]?.data;
    if (data === undefined) return false;
    const most = largest(data);
    if (!(most > 0) || data.some((v) => v < -sized.below * most)) return false;
    return gathersBothWays(shaft, data, sized.driven * most);
  });
}

function gathersBothWays({ speed, angle }: Shaft, effort: Float64Array, least: number): boolean {
  const top = largest(speed);
  if (!(top > 0)) return false;
  const done = { up: false, down: false };
  let start = -1;
  for (let i = 0; i < speed.length; i += 1) {
    if (!(effort[i] >= least)) {
      start = -1;
      continue;
    }
    if (Math.abs(speed[i]) < sized.slow * top) start = i;
    if (start < 0 || !(Math.abs(speed[i]) > sized.fast * top)) continue;
    if (!(Math.abs(angle[i] - angle[start]) > 2 * Math.PI * sized.turns)) continue;
    if (speed[i] > 0) done.up = true;
    else done.down = true;
    if (done.up && done.down) return true;
  }
  return false;
}

/** The finding for an effort that was logged without its sign. */
export function withoutSignFinding({ path, channels }: Recording, role: ChannelRole): Finding {
  const name = channels[role]?.name ?? role;
  return {
    severity: "error",
    code: "effort-unsigned",
    message: `"${name}" never goes below zero while the shaft gathers speed both ways under it: it is a size without its sign`,
    meaning: "whether the shaft turned with it or against it cannot be seen; log it with its sign",
    file: path,
    column: name,
  };
}
