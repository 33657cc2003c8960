/** What the residuals of a first-order speed are made of, and the filter that makes them white. */

/** Rows of residuals, and what may have disturbed the speed at them. */
export interface NoisyRows {
  /** s, rising. */
  readonly time: Float64Array;
  /** Variance of the speed's jump at each row for a timing error of the usual size, (rad/s)^2. */
  readonly jumps: Float64Array;
  /** Time constant by which a disturbed speed returns, s. */
  readonly tau: number;
}

/**
 * A speed off its model by a disturbance that acts all the time (of standing variance `slow`), by jumps where the input
 * or the friction changed at another moment than the rows say (`timing` times the usual variance), and by `white`
 * noise of every reading: of the speed itself, or of the position whose differences are the speed.
 */
export interface SpeedNoise {
  readonly reading: "speed" | "position";
  /** (rad/s)^2, or rad^2. */
  readonly white: number;
  /** (rad/s)^2. */
  readonly slow: number;
  readonly timing: number;
}

/** Makes residuals of that noise white and of variance one; a linear operation that takes a column likewise. */
export interface Whitening {
  readonly of: (rows: Float64Array) => Float64Array;
  /** Sum of the logarithms of what each row is divided by, squared. */
  readonly logarithm: number;
}

/**
 * The innovations of a Kalman filter whose state is what the speed and the position are off by: least squares on what
 * it gives of response and columns is generalised least squares under that noise (Harvey, Forecasting, Structural Time
 * Series Models and the Kalman Filter, 1989, section 3.4.2: from memory).
 *
 * @example
 * const rows = { time: Float64Array.of(0, 1), jumps: new Float64Array(2), tau: 1 };
 * whitening(rows, { reading: "speed", white: 4, slow: 0, timing: 0 }).of(Float64Array.of(2, 4)); // => [1, 2]
 */
export function whitening({ time, jumps, tau }: NoisyRows, noise: SpeedNoise): Whitening {
  const n = time.length;
  const onPosition = noise.reading === "position";
  const [keep, turn, toSpeed, toPosition, scale] = Array.from({ length: 5 }, () => new Float64Array(n));
  // Covariance of speed and position before the first row.
  let ss = noise.slow;
  let sp = 0;
  let pp = onPosition ? noise.white : 0;
  let logarithm = 0;
  for (let i = 0; i < n; i++) {
    const dt = intervalAt(time, i);
    const a = i === 0 ? 1 : Math.exp(-dt / tau);
    const b = i === 0 ? 0 : tau * (1 - a);
    const moved = i === 0 ? 0 : noise.slow * (1 - a * a) + noise.timing * jumps[i];
    pp += 2 * b * sp + b * b * ss + (moved * dt * dt) / 3;
    sp = a * sp + a * b * ss + (moved * dt) / 2;
    ss = a * a * ss + moved;
    const seen = (onPosition ? pp : ss) + noise.white;
    keep[i] = a;
    turn[i] = b;
    const k = (onPosition ? sp : ss) / seen;
    const l = (onPosition ? pp : sp) / seen;
    toSpeed[i] = k;
    toPosition[i] = l;
    // A position is a sum of speeds times intervals: the change of units belongs to the likelihood.
    const unit = onPosition ? dt : 1;
    scale[i] = unit / Math.sqrt(seen);
    logarithm += Math.log(seen / (unit * unit));
    ss -= k * k * seen;
    sp -= k * l * seen;
    pp -= l * l * seen;
  }
  return {
    logarithm,
    of: (rows) => {
      const out = new Float64Array(n);
      let x = 0;
      let p = 0;
      let sum = 0;
      for (let i = 0; i < n; i++) {
        p += turn[i] * x;
        x *= keep[i];
        const dt = onPosition ? intervalAt(time, i) : 1;
        sum += rows[i] * dt;
        const off = onPosition ? sum - p : rows[i] - x;
        x += toSpeed[i] * off;
        p += toPosition[i] * off;
        out[i] = (off * scale[i]) / dt;
      }
      return out;
    },
  };
}

function intervalAt(time: Float64Array, i: number): number {
  return i === 0 ? time[1] - time[0] : time[i] - time[i - 1];
}

/** Minus twice the logarithm of the likelihood of residuals under a noise, a constant apart. */
function surprise(rows: NoisyRows, noise: SpeedNoise, residuals: Float64Array): number {
  const { of, logarithm } = whitening(rows, noise);
  let sum = logarithm;
  for (const e of of(residuals)) sum += e * e;
  return sum;
}

/** Factors by which each part is tried larger and smaller, one after the other; near a noise that is known the last. */
const ladder = [100, 10, 3, 1.5];
/** Parts of the variance below which a part counts as absent. */
const least = 1e-8;

/**
 * The noise under which residuals are likeliest, by steps along each of its parts.
 *
 * @param near where the search starts, for residuals of which it was told before
 */
export function likeliestNoise(rows: NoisyRows, residuals: Float64Array, near?: SpeedNoise): SpeedNoise {
  const n = residuals.length;
  let size = 0;
  for (const r of residuals) size += (r * r) / n;
  const dt = (rows.time[n - 1] - rows.time[0]) / (n - 1);
  const starts: SpeedNoise[] =
    near === undefined
      ? [
          { reading: "speed", white: size / 2, slow: size / 2, timing: 0.01 },
          { reading: "position", white: (size * dt * dt) / 4, slow: size / 2, timing: 0.01 },
        ]
      : [near];
  let best = starts[0];
  let lowest = Number.POSITIVE_INFINITY;
  for (const start of starts) {
    const floor = {
      white: least * size * (start.reading === "position" ? dt * dt : 1),
      slow: least * size,
      timing: 1e-6,
    };
    const [noise, cost] = stepped(
      rows,
      residuals,
      start,
      floor,
      near === undefined ? ladder : ladder.slice(2),
    );
    if (cost < lowest) [best, lowest] = [noise, cost];
  }
  return best;
}

/** From this probability on other noise beside the changes need not be sought (judgement). */
const likely = 0.2;

/**
 * Probability that input and friction change anywhere between two rows and not at the rows, where the noise that is
 * likeliest and the likeliest one of such changes are compared; one in two before the log is looked at (judgement).
 *
 * @param noise the likeliest, of these residuals
 */
export function changesBetweenRows(rows: NoisyRows, residuals: Float64Array, noise: SpeedNoise): number {
  const known = surprise(rows, noise, residuals);
  const odds = (other: number): number => 1 / (1 + Math.exp(Math.min(500, (other - known) / 2)));
  const between: SpeedNoise = { ...noise, timing: 1 };
  const atFirst = odds(surprise(rows, between, residuals));
  if (atFirst > likely) return atFirst;
  const floor = { white: least * noise.white, slow: least * noise.slow, timing: 1 };
  return odds(stepped(rows, residuals, between, floor, ladder.slice(2))[1]);
}

const parts = ["white", "slow", "timing"] as const;
/** A change lies between two rows, or a few rows off where a speed is logged late. */
const most = {
  white: Number.POSITIVE_INFINITY,
  slow: Number.POSITIVE_INFINITY,
  timing: 10,
};

function stepped(
  rows: NoisyRows,
  residuals: Float64Array,
  start: SpeedNoise,
  floor: Readonly<Record<(typeof parts)[number], number>>,
  factors: readonly number[],
): readonly [SpeedNoise, number] {
  let noise = start;
  let cost = surprise(rows, noise, residuals);
  for (const factor of factors)
    for (let moved = true, round = 0; moved && round < 6; round++) {
      moved = false;
      for (const part of parts)
        for (const by of [factor, 1 / factor]) {
          const tried = { ...noise, [part]: Math.min(most[part], Math.max(floor[part], noise[part] * by)) };
          const here = tried[part] === noise[part] ? cost : surprise(rows, tried, residuals);
          if (!(here < cost - 1e-3)) continue;
          [noise, cost, moved] = [tried, here, true];
          break;
        }
    }
  return [noise, cost];
}
