import { pick } from "../../numeric/series/pick.js";
import type { TrialColumns } from "./trialColumns.js";

/**
 * The first row of every tread of the command, rows in which it stands still for more than a sample time kept once a
 * sample time.
 */
export function oneRowATread(columns: TrialColumns, sampleTime: number | undefined): TrialColumns {
  if (sampleTime === undefined || sampleTime < 1.2 * columns.interval) return columns;
  const { time, command, reference } = columns;
  const rows: number[] = [];
  let last = Number.NEGATIVE_INFINITY;
  let asked = Number.NEGATIVE_INFINITY;
  for (let k = 1; k < time.length; k++) {
    if (reference[k] !== reference[k - 1]) asked = time[k];
    const moved = command[k] !== command[k - 1];
    // A new reference is logged at once and answered at the loop's next run: until then the row says nothing.
    const answered = time[k] - asked > 1.5 * sampleTime;
    if (moved || (answered && time[k] - last > 1.5 * sampleTime)) {
      rows.push(k);
      last = time[k];
    }
  }
  if (rows.length < 16) return columns;
  // The loop runs at whole sample times, whenever the log caught it.
  const runs = pick(time, rows);
  for (let j = 1; j < rows.length; j++) {
    const away = time[rows[j]] - runs[j - 1];
    const whole = Math.max(1, Math.round(away / sampleTime)) * sampleTime;
    // A little of the difference is followed, so that an error of the sample time does not add up.
    runs[j] = runs[j - 1] + whole + 0.1 * (away - whole);
  }
  return {
    time: runs,
    reference: pick(reference, rows),
    speed: pick(columns.speed, rows),
    command: pick(command, rows),
    current: pick(columns.current, rows),
    ...(columns.turned === undefined ? {} : { turned: pick(columns.turned, rows) }),
    interval: sampleTime,
  };
}
