import type { RecordingLoop } from "../control/loopDocument.js";
import type { Estimate } from "../units/estimate.js";
import { numberText } from "../units/forPeople.js";

/** A row of the table of speed loops: what it is, and the value in words. */
export interface LoopRow {
  readonly name: string;
  readonly value: string;
  readonly interval: string;
}

/** What the speed loop of one recording does, as the command `loop` says it: stability, margins, tolerated offset
 * error. Empty where no loop could be put together. */
export function loopRows({ loop, report }: Pick<RecordingLoop, "loop" | "report">): LoopRow[] {
  if (!loop || !report) return [];
  const rows: LoopRow[] = [];
  const add = (name: string, estimate: Estimate | undefined, unit: string, factor = 1): void => {
    if (!estimate) return;
    const [low, high] = [estimate.low * factor, estimate.high * factor];
    const interval =
      low === high ? "" : `${numberText(low)} to ${Number.isFinite(high) ? numberText(high) : "no limit"}`;
    rows.push({
      name,
      value: `${numberText(estimate.value * factor)}${unit === "" ? "" : ` ${unit}`}`,
      interval,
    });
  };
  rows.push({ name: "loop", value: report.stable ? "stable" : "not stable", interval: "" });
  rows.push({
    name: "gains",
    value: `kp ${numberText(loop.gains.kp)} A per rad/s, ki ${numberText(loop.gains.ki)} A/rad`,
    interval: "",
  });
  if (report.runaway) add("grows by e every", report.runaway.growthTime, "ms", 1000);
  const { margins } = report;
  if (margins) {
    if (!margins.gainMargin)
      rows.push({ name: "gain margin", value: "no limit in this model", interval: "" });
    add("gain margin", margins.gainMargin, "times");
    add("phase margin", margins.phaseMargin, "deg");
    add("delay margin", margins.delayMargin, "ms", 1000);
    add("crossover", margins.crossover, "rad/s");
    add("peak of the sensitivity", margins.sensitivityPeak, "");
  }
  return rows;
}
