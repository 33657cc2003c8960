import { median } from "../../numeric/series/median.js";
import type { Channel, Finding, Recording } from "../types.js";
import { shown } from "./common.js";

/** Positions at which the index pulse rises, with the direction of the shaft there. */
function indexEdges(
  recording: Recording,
): { readonly at: number; readonly position: number; readonly up: boolean }[] {
  const index = recording.channels.index?.data;
  const position = recording.channels.position?.data;
  if (index === undefined || position === undefined) return [];
  const out: { at: number; position: number; up: boolean }[] = [];
  for (let i = 1; i < index.length; i += 1) {
    if (!(index[i] > 0.5 && index[i - 1] <= 0.5)) continue;
    const move = position[Math.min(i + 1, position.length - 1)] - position[Math.max(0, i - 2)];
    if (move !== 0 && position[i] - position[i] === 0) {
      // The pulse rose somewhere between the two samples: the middle is off by half a movement at most.
      out.push({ at: i, position: 0.5 * (position[i] + position[i - 1]), up: move > 0 });
    }
  }
  return out;
}

/** Counted way between index pulses that were passed in one direction. */
interface Spacing {
  readonly gaps: readonly number[];
  /** How far each is blurred by sampling. */
  readonly reach: readonly number[];
}

function spacingOf(recording: Recording, position: Channel): Spacing {
  const edges = indexEdges(recording);
  const gaps: number[] = [];
  const reach: number[] = [];
  for (let k = 1; k < edges.length; k += 1) {
    if (edges[k].up !== edges[k - 1].up) continue;
    const gap = Math.abs(edges[k].position - edges[k - 1].position);
    if (gap < 1e-9) continue;
    gaps.push(gap);
    const move = (j: number): number => Math.abs(position.data[edges[j].at] - position.data[edges[j].at - 1]);
    reach.push(0.5 * (move(k) + move(k - 1)) + (position.resolution ?? 0));
  }
  return { gaps, reach };
}

/** Whether index pulses confirm the scale of the position. */
export function indexConfirms(recording: Recording): boolean {
  const { position } = recording.channels;
  if (position === undefined || recording.channels.index === undefined) return false;
  return spacingOf(recording, position).gaps.length >= 2 && indexSpacing(recording).length === 0;
}

/** Index pulses must come every whole turn of counted position: another spacing is a wrong line count, a drifting one
 * lost counts. */
export function indexSpacing(recording: Recording): Finding[] {
  const position = recording.channels.position;
  if (position === undefined) return [];
  const turn = 2 * Math.PI;
  const { gaps, reach } = spacingOf(recording, position);
  if (gaps.length < 2) return [];
  const usual = median(gaps);
  const blur = median(reach);
  const ratio = usual / turn;
  const out: Finding[] = [];
  if (Math.abs(ratio - 1) > Math.max(0.005, (2 * blur) / turn)) {
    const lines = recording.encoder.lines;
    const right = lines === undefined ? undefined : lines * ratio;
    out.push({
      severity: "error",
      code: "index-spacing",
      message: `index pulses come every ${shown(ratio)} turns of the counted position`,
      value: ratio,
      unit: "1",
      meaning: `the line count is off by that factor${right === undefined ? "" : ` (${Math.round(right)} lines would fit, ${lines} are stated)`}, or the position scaling is`,
      file: recording.path,
      column: position.name,
    });
    return out;
  }
  const step = position.resolution ?? 0;
  // Lost counts: a spacing off by more than the blur of sampling, or one that sums up over many turns.
  const bad = gaps.filter((g, k) => Math.abs(g - Math.round(g / turn) * turn) > 3 * reach[k]);
  let drift = 0;
  let steps = 0;
  for (let k = 0; k < gaps.length; k += 1) {
    drift += gaps[k] - Math.round(gaps[k] / turn) * turn;
    steps += 1;
  }
  const counted = step > 0 ? drift / step : Number.NaN;
  if (bad.length > 0 || Math.abs(drift) > 3 * blur + 2 * step) {
    out.push({
      severity: "warning",
      code: "missed-counts",
      message: `over ${steps} turns between index pulses the position drifted by ${shown(step > 0 ? counted : drift)} ${step > 0 ? "counts" : "rad"}; ${bad.length} spacings are off`,
      value: step > 0 ? counted : drift,
      unit: step > 0 ? "{count}" : "rad",
      meaning:
        "counts are lost or added (disturbed encoder lines, too fast a signal): the commutation angle wanders with every turn",
      file: recording.path,
      column: position.name,
    });
  }
  return out;
}
