import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";

/** Blocks that the ways are compared over, and the correlation from which on they are of opposite sense (judgement). */
const compared = { blocks: 24, rows: 3, correlation: -0.8 };

/**
 * The position has no scale, so that its size says nothing, but it goes the other way than the logged speed: one of the
 * two is counted the other way round, or is not what it is taken for. The heading of the position; undefined where they
 * agree or nothing can be said.
 */
export function positionOfOtherSense(run: Run, { from, to }: Trial): string | undefined {
  const { channels, unscaled, time } = run.recording;
  const [speed, position] = [channels.speed?.data, unscaled?.position?.data];
  if (speed === undefined || position === undefined || channels.position !== undefined) return undefined;
  const size = Math.floor((to - from) / compared.blocks);
  if (size < compared.rows) return undefined;
  let xy = 0;
  let xx = 0;
  let yy = 0;
  for (let at = from; at + size < to; at += size) {
    let way = 0;
    for (let i = at + 1; i <= at + size; i += 1)
      way += 0.5 * (speed[i] + speed[i - 1]) * (time[i] - time[i - 1]);
    const moved = position[at + size] - position[at];
    if (way - way !== 0 || moved - moved !== 0) continue;
    xy += way * moved;
    xx += way * way;
    yy += moved * moved;
  }
  return xy < compared.correlation * Math.sqrt(xx * yy) ? unscaled?.position?.name : undefined;
}
