import type { Finding, Recording } from "../types.js";
import { shown } from "./common.js";

/** Share of the time the current command stands at the drive's stated limit. */
export function currentLimit(recording: Recording): Finding[] {
  const limit = recording.drive.currentLimit;
  const command = recording.channels.currentCommand ?? recording.channels.current;
  if (limit === undefined || command === undefined) return [];
  let at = 0;
  let over = 0;
  for (let i = 0; i < command.data.length; i += 1) {
    const size = Math.abs(command.data[i]);
    if (size > 0.98 * limit) at += 1;
    if (size > 1.1 * limit) over += 1;
  }
  const share = at / command.data.length;
  if (over > 0.01 * command.data.length) {
    return [
      {
        severity: "warning",
        code: "current-over-limit",
        message: `the current exceeds the stated limit of ${shown(limit)} A in ${shown((100 * over) / command.data.length)} % of the samples`,
        value: over / command.data.length,
        unit: "1",
        meaning: "the stated limit or the scale of the current is wrong (RMS against peak?)",
        file: recording.path,
        column: command.name,
      },
    ];
  }
  if (share < 0.02) return [];
  return [
    {
      severity: "note",
      code: "current-at-limit",
      message: `the current is at its limit of ${shown(limit)} A for ${shown(100 * share)} % of the log`,
      value: share,
      unit: "1",
      meaning: "there the loop is saturated: what happens is set by the limit, not by the gains",
      file: recording.path,
      column: command.name,
    },
  ];
}
