import { largest } from "../../numeric/series/largest.js";
import { range } from "../../numeric/series/range.js";
import type { Finding, Recording } from "../types.js";
import { shown } from "./common.js";

/**
 * Command, current and motion must agree in sign where the shaft gains speed: where it loses speed, friction, a
 * propeller or a weight may do that against the current. A shaft that starts against its current is no set-up mistake
 * of the log by itself (a negative torque gain does the same), so it is told as a warning with both readings.
 */
export function signConsistency(recording: Recording): Finding[] {
  const { channels, time } = recording;
  const current = channels.current ?? channels.currentCommand ?? channels.torque ?? channels.torqueCommand;
  const speed = channels.speed;
  const position = channels.position;
  if (current === undefined || (speed === undefined && position === undefined)) return [];
  const n = time.length;
  const top = largest(current.data);
  if (!(top > 0)) return [];
  // Correlation of current with the change of speed over a reach in which speed changes visibly.
  const reach = Math.max(2, Math.round(n / 500));
  let with_ = 0;
  let all = 0;
  let used = 0;
  const motion = (i: number): number => {
    if (speed !== undefined) return speed.data[i + reach] - speed.data[i - reach];
    const p = position?.data as Float64Array;
    return p[i + reach] - 2 * p[i] + p[i - reach];
  };
  const onward = (i: number): number => {
    if (speed !== undefined) return speed.data[i];
    const p = position?.data as Float64Array;
    return p[i + reach] - p[i - reach];
  };
  let biggest = 0;
  for (let i = reach; i < n - reach; i += reach) biggest = Math.max(biggest, Math.abs(motion(i)) || 0);
  if (!(biggest > 0)) return [];
  const moved = position === undefined ? Number.POSITIVE_INFINITY : range(position.data);
  if (moved < Math.PI) return [];
  for (let i = reach; i < n - reach; i += reach) {
    const c = current.data[i];
    const m = motion(i);
    if (!(Math.abs(c) >= 0.2 * top) || !(Math.abs(m) > 0.2 * biggest) || !(m * onward(i) > 0)) continue;
    used += 1;
    all += Math.abs(c * m);
    with_ += c * m;
  }
  if (used < 4) return [];
  const agreement = with_ / all;
  if (agreement > -0.6) return [];
  return [
    {
      severity: "warning",
      code: "shaft-against-current",
      message: `the shaft accelerates against the ${channels.current !== undefined ? "current" : "command"} (agreement ${shown(agreement)} on a scale from -1 to 1)`,
      value: agreement,
      unit: "1",
      meaning:
        "either the torque gain is negative (a speed loop would run away) or a sign in the log is reversed: a hand turn without current settles which",
      file: recording.path,
      column: current.name,
    },
  ];
}
