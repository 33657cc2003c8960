/** A column that tells which of several devices a row is of. */
export interface DevicesInTurns {
  /** Place of the column. */
  readonly column: number;
  /** Number of devices. */
  readonly devices: number;
  /** Rows of the first device. */
  readonly rows: readonly number[];
}

const mostDevices = 32;
const mostNumber = 255;
const looked = 2000;
/** The turn is kept so often; a row may be lost. */
const kept = 0.95;

/**
 * Finds rows of several devices logged in turns: a column of whole numbers that goes through the same few values again
 * and again (`1, 2, 1, 2`). A log is then understood by the rows of one device, since what is one below the other
 * belongs to different shafts.
 *
 * @param values columns by place
 */
export function devicesInTurns(values: ReadonlyMap<number, Float64Array>): DevicesInTurns | undefined {
  for (const [column, own] of values) {
    const devices = turnOf(own);
    if (devices === undefined || !mixes(values, column, devices)) continue;
    const rows: number[] = [];
    for (let i = 0; i < own.length; i += 1) if (own[i] === own[0]) rows.push(i);
    return { column, devices, rows };
  }
  return undefined;
}

/** Length of the turn that a column repeats; undefined for any other column. */
export function turnOf(values: Float64Array): number | undefined {
  const n = Math.min(values.length, looked);
  if (n < 12) return undefined;
  const seen = new Set<number>();
  for (let i = 0; i < n && seen.size <= mostDevices; i += 1) {
    if (!Number.isInteger(values[i]) || values[i] < 0 || values[i] > mostNumber) return undefined;
    seen.add(values[i]);
  }
  const size = seen.size;
  if (size < 2 || size > mostDevices || n < 4 * size) return undefined;
  let again = 0;
  let moved = 0;
  for (let i = size; i < n; i += 1) {
    if (values[i] === values[i - size]) again += 1;
    if (values[i] !== values[i - 1]) moved += 1;
  }
  return again > kept * (n - size) && moved > kept * (n - size) ? size : undefined;
}

/**
 * What is of several devices goes to and fro between neighbouring rows and runs on from turn to turn, or shares one
 * moment a turn; beside a counter that begins anew everything runs on from row to row.
 */
function mixes(values: ReadonlyMap<number, Float64Array>, column: number, devices: number): boolean {
  let torn = false;
  for (const [k, v] of values) {
    if (k === column) continue;
    const n = Math.min(v.length, looked);
    let near = 0;
    let far = 0;
    let up = 0;
    let down = 0;
    let still = 0;
    for (let i = devices; i < n; i += 1) {
      const d = v[i] - v[i - 1];
      if (d - d !== 0) continue;
      near += Math.abs(d);
      far += Math.abs(v[i] - v[i - devices]) || 0;
      if (d > 0) up += 1;
      else if (d < 0) down += 1;
      else still += 1;
    }
    const all = up + down + still;
    if (all === 0 || up + down === 0) continue;
    // A clock: one moment for all devices of a turn.
    if (down < 0.02 * all && up > 0) {
      if (Math.abs(still / all - (devices - 1) / devices) < 0.05) return true;
      continue;
    }
    if (near > 1.5 * far) torn = true;
  }
  return torn;
}
