import { largest } from "../numeric/series/largest.js";
import { noiseLevel } from "../numeric/series/noiseLevel.js";
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

/** What commands a shaft, the outermost first. */
const commands: readonly ChannelRole[] = ["speedCommand", ...commandedEfforts];

/**
 * A speed is one of sizes where it never goes below zero by more than `below` of its largest value although its command
 * has both signs, each by `asked` of its largest value and for `rows` rows at least, and it bounces off zero: under one
 * sign of the command it falls from above `fast` of its largest value to under `slow` and comes back to above `back`,
 * which is as many times its noise (judgement).
 */
const bounced = { below: 0.05, asked: 0.2, rows: 10, fast: 0.25, slow: 0.07, back: 0.12, noises: 6 };

/**
 * Whether the speed was logged without its sign, and no position beside it: a command that turned the shaft round would
 * take the speed through zero, and no steady torque slows a shaft down to zero and speeds it up the same way again.
 */
export function speedWithoutSign({ channels }: Recording): boolean {
  const speed = channels.speed?.data;
  const command = commands.map((role) => channels[role]?.data).find((data) => data !== undefined);
  if (speed === undefined || command === undefined || channels.position !== undefined) return false;
  const [top, most] = [largest(speed), largest(command)];
  const [low, high] = [-bounced.below * top, bounced.asked * most];
  if (!(top > 0) || !(most > 0) || speed.some((v) => v < low)) return false;
  const asked = (sign: number): number => command.reduce((sum, v) => sum + (v * sign > high ? 1 : 0), 0);
  if (asked(1) < bounced.rows || asked(-1) < bounced.rows) return false;
  const back = Math.max(bounced.back * top, bounced.noises * noiseLevel(speed));
  return bounces(speed, command, top, { least: high, back });
}

function bounces(
  speed: Float64Array,
  command: Float64Array,
  top: number,
  { least, back }: { readonly least: number; readonly back: number },
): boolean {
  let side = 0;
  let was = false;
  let fell = false;
  let before = 0;
  for (let i = 0; i < speed.length; i += 1) {
    const now = Math.abs(command[i]) > least ? Math.sign(command[i]) : 0;
    if (now !== side) {
      // Before the first reversal nothing can bounce off a sign that was lost.
      if (now !== 0 && now === -before) [was, fell] = [speed[i] > bounced.fast * top, false];
      else [was, fell] = [false, false];
      if (now !== 0) before = now;
      side = now;
    }
    if (side === 0 || !was) continue;
    if (speed[i] < bounced.slow * top) fell = true;
    if (fell && speed[i] > back) return true;
  }
  return false;
}

/** The finding for a speed that was logged without its sign. */
export function speedUnsignedFinding({ path, channels }: Recording): Finding {
  const name = channels.speed?.name ?? "speed";
  return {
    severity: "error",
    code: "speed-unsigned",
    message: `"${name}" never goes below zero, and where its command is reversed it falls to zero and rises again: it is a size without its sign`,
    meaning:
      "whether the shaft turned with its command or against it cannot be seen; log the speed with its sign, or the position",
    file: path,
    column: name,
  };
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
