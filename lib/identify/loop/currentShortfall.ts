import type { Trial } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import { atLimit, missingColumns, trialColumns } from "./trialColumns.js";

/**
 * How far the current stays below its command while the shaft changes speed: `perSpeed*(w - v)`, with `v` the speed
 * through a first-order lag of bandwidth `corner`.
 *
 * A current controller without back-EMF feed-forward follows the rising back-EMF by its integral part alone. With gains
 * kp = wc*L, ki = wc*R the current then lacks flux*p*s/(L*s^2 + (R + wc*L)*s + wc*R) per unit of speed, below the
 * current loop's bandwidth flux*p/(R + wc*L) * s/(s + corner) with corner = wc*R/(R + wc*L): the shaft looks heavier by
 * Kt*perSpeed/corner until the integral has caught up.
 */
export interface CurrentShortfall {
  /** A per rad/s. */
  readonly perSpeed: number;
  /** rad/s. */
  readonly corner: number;
  /** Share of the shortfall's movement in the log that this explains. */
  readonly explained: number;
  readonly rows: number;
}

/**
 * Reads the shortfall from a speed trial with current and command logged: least squares of command minus current on the
 * speed through a high-pass, over a grid of corners, both averaged over 3 ms (a command that chatters by single counts
 * is followed by no current). Rows at the current limit and just after a jump of the command are left out.
 *
 * @param sign of the torque gain: the back-EMF on the drive's axis has its sign
 * @returns `undefined` where the log does not carry it: nothing logged, no movement, or less than a quarter of the
 * difference explained
 * @example
 * const shortfall = currentShortfall(run, trial, torqueSign(run) ?? 1);
 * shortfall?.perSpeed; // A per rad/s
 */
export function currentShortfall(run: Run, trial: Trial, sign: 1 | -1): CurrentShortfall | undefined {
  if (!run.channel("current") || missingColumns(run).length > 0) return undefined;
  const columns = trialColumns(run, trial);
  if (columns === undefined) return undefined;
  const { time, speed, command, current, interval } = columns;
  const n = time.length;
  const { rows: limited } = atLimit(columns, run.recording.drive.currentLimit);
  let largest = 0;
  for (const u of command) largest = Math.max(largest, Math.abs(u));
  const settle = Math.max(3, Math.ceil(3e-3 / interval));
  let since = settle;
  const use = new Uint8Array(n);
  let used = 0;
  for (let k = 1; k < n; k++) {
    since = limited[k] || Math.abs(command[k] - command[k - 1]) > 0.1 * largest ? 0 : since + 1;
    if (since >= settle && Number.isFinite(current[k])) {
      use[k] = 1;
      used++;
    }
  }
  if (used < 40) return undefined;
  const block = Math.max(1, Math.ceil(3e-3 / interval));
  const lacking = (k: number): number => (command[k] + command[k - 1]) / 2 - current[k];
  const span = time[n - 1] - time[0];
  const [slowest, fastest] = [2 / span, 0.5 / interval];
  let best: CurrentShortfall | undefined;
  for (let j = 0; j < 24 && fastest > slowest; j++) {
    const corner = slowest * (fastest / slowest) ** (j / 23);
    let lag = speed[0];
    let count = 0;
    let sx = 0;
    let sy = 0;
    let sxx = 0;
    let sxy = 0;
    let syy = 0;
    let rows = 0;
    let blockX = 0;
    let blockY = 0;
    for (let k = 1; k < n; k++) {
      lag += -Math.expm1(-corner * (time[k] - time[k - 1])) * (speed[k - 1] - lag);
      if (use[k] === 0) {
        rows = 0;
        blockX = 0;
        blockY = 0;
        continue;
      }
      blockX += speed[k] - lag;
      blockY += lacking(k);
      if (++rows < block) continue;
      const [x, y] = [blockX / rows, blockY / rows];
      rows = 0;
      blockX = 0;
      blockY = 0;
      count++;
      sx += x;
      sy += y;
      sxx += x * x;
      sxy += x * y;
      syy += y * y;
    }
    const [vx, vy, vxy] = [sxx - (sx * sx) / count, syy - (sy * sy) / count, sxy - (sx * sy) / count];
    if (count < 20 || vxy * sign <= 0 || !(vx > 0) || !(vy > 0)) continue;
    const explained = vxy ** 2 / (vx * vy);
    if (best === undefined || explained > best.explained)
      best = { perSpeed: vxy / vx, corner, explained, rows: count * block };
  }
  // A reversed loop shows little of it before its current saturates.
  return best !== undefined && best.explained > (sign > 0 ? 0.25 : 0.6) ? best : undefined;
}
