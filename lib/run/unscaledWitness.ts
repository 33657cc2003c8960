import { range } from "../numeric/series/range.js";
import { weightedMedian } from "../numeric/series/weightedMedian.js";
import type { Channel, Finding, Recording } from "../recording/types.js";
import { RunChannel } from "./channels.js";
import { witnessFindings } from "./health.js";
import { shaftOf } from "./shaft.js";

/** Parts of a log over which counts are held against the integral of the speed. */
const parts = 200;
/** Counts for one radian where the counts never moved: an encoder of six counts a turn, as few as there are. */
const fewest = 1;

/**
 * Findings about a position whose scale nobody stated (counts without lines) that stands still or is missing while the
 * speed column turns: what the speed says beside it gives the scale that this needs, from wherever the position moves.
 * None where there is no such position.
 */
export function unscaledWitness(recording: Recording, speed: RunChannel | undefined): Finding[] {
  const bare = recording.unscaled?.position;
  if (bare === undefined || speed === undefined || recording.channels.position !== undefined) return [];
  const scale = countsPerRadian(recording.time, bare.data, speed.values) ?? fewest;
  const position: Channel = {
    ...bare,
    data: bare.data.map((v) => v / scale),
    ...(bare.sourceUnit === "{count}" ? { resolution: 1 / Math.abs(scale) } : {}),
  };
  const shaft = shaftOf(recording.time, new RunChannel(position), speed);
  return witnessFindings({ ...recording, channels: { ...recording.channels, position } }, shaft);
}

/** The middle of the ratios of way to turning, each with the weight of its turning, where both are there. */
function countsPerRadian(time: Float64Array, way: Float64Array, speed: Float64Array): number | undefined {
  const size = Math.max(5, Math.floor(time.length / parts));
  const [ratios, weights]: [number[], number[]] = [[], []];
  for (let a = 0; a + size < time.length; a += size) {
    let turned = 0;
    for (let i = a + 1; i <= a + size; i += 1)
      turned += ((speed[i] + speed[i - 1]) / 2) * (time[i] - time[i - 1]);
    const moved = way[a + size] - way[a];
    if (moved === 0 || turned === 0) continue;
    ratios.push(moved / turned);
    weights.push(Number.isFinite(moved / turned) ? Math.abs(turned) : 0);
  }
  const middle = weightedMedian(ratios, weights);
  return Number.isNaN(middle) ? undefined : middle;
}

/** Steps of a position that no noise of it makes (judgement). */
const steps = 40;

/**
 * The finding for a speed column that keeps one value while a position whose scale nobody stated goes some way: what
 * moved is then in no unit, and the speed tells nothing of it.
 */
export function frozenSpeed({ channels, unscaled, path }: Recording): Finding[] {
  const bare = unscaled?.position;
  const { speed, position } = channels;
  if (bare === undefined || speed === undefined || position !== undefined) return [];
  const step = bare.resolution ?? (bare.sourceUnit === "{count}" ? 1 : Number.NaN);
  const one = speed.data.some((v) => v - v === 0) && !(range(speed.data) > 0);
  if (!one || !(range(bare.data) > steps * step)) return [];
  return [
    {
      severity: "error",
      code: "speed-frozen",
      message: `"${speed.name}" keeps one value while "${bare.name}" moves`,
      value: range(bare.data),
      unit: "1",
      meaning: `state the scale of "${bare.name}" (the encoder's lines): the motion is taken from it then`,
      file: path,
      column: speed.name,
    },
  ];
}
