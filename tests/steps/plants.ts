/**
 * Plants stepped in time by the classical Runge-Kutta method of fourth order, with an encoder, noise and a clock that
 * is not even. Written for these tests alone: nothing of `lib` is in it.
 */

/** A plant of a few states under one input. */
export interface Plant {
  readonly states: number;
  /** Time derivative of the states. */
  readonly slope: (x: readonly number[], u: number) => readonly number[];
  /** What is logged of the states. */
  readonly output: (x: readonly number[]) => number;
  /** The states after a step, where something ends there (a shaft that friction has stopped). */
  readonly after?: (before: readonly number[], x: number[], u: number) => number[];
}

/** How a plant is logged. */
export interface Logging {
  readonly seed: number;
  /** Median interval of the rows, s, and how far each lies off it at most, over the interval. */
  readonly interval: number;
  readonly jitter: number;
  readonly rows: number;
  /** Time of the step of the input, s, and the input before and after. */
  readonly stepTime: number;
  readonly from: number;
  readonly to: number;
  /** Standard deviation of noise, and the step of quantisation, in units of the output. */
  readonly noise: number;
  readonly quantum: number;
  readonly start?: readonly number[];
}

/** Uniform numbers in 0 to 1 (Park and Miller's generator, 1988, with the multiplier 48271). */
export function parkMiller(seed: number): () => number {
  let state = (seed % 2147483646) + 1;
  for (let k = 0; k < 5; k++) state = (state * 48271) % 2147483647;
  return () => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
}

/** Standard normal numbers (Box and Muller, 1958). */
export function normals(uniform: () => number): () => number {
  return () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
}

/** One step of the classical Runge-Kutta method. */
export function rungeKutta(plant: Plant, x: readonly number[], u: number, h: number): number[] {
  const moved = (k: readonly number[], by: number): number[] => x.map((v, i) => v + by * k[i]);
  const a = plant.slope(x, u);
  const b = plant.slope(moved(a, h / 2), u);
  const c = plant.slope(moved(b, h / 2), u);
  const d = plant.slope(moved(c, h), u);
  const next = x.map((v, i) => v + (h / 6) * (a[i] + 2 * b[i] + 2 * c[i] + d[i]));
  return plant.after?.(x, next, u) ?? next;
}

/** Times and values of a log: times are as the clock had them, to a microsecond. */
export function logPlant(plant: Plant, log: Logging): { time: Float64Array; values: Float64Array } {
  const uniform = parkMiller(log.seed);
  const normal = normals(uniform);
  const time = new Float64Array(log.rows);
  const values = new Float64Array(log.rows);
  let x: number[] = [...(log.start ?? new Array<number>(plant.states).fill(0))];
  let now = 0;
  for (let k = 0; k < log.rows; k++) {
    const at = log.interval * (k + log.jitter * (2 * uniform() - 1) * (k === 0 ? 0 : 1));
    for (const [end, u] of [
      [Math.min(at, Math.max(now, log.stepTime)), log.from],
      [at, log.to],
    ]) {
      const steps = Math.ceil((end - now) / (log.interval / 5));
      for (let s = 0; s < steps; s++) x = rungeKutta(plant, x, u, (end - now) / steps);
      if (steps > 0) now = end;
    }
    time[k] = Math.round(at * 1e6) / 1e6;
    const y = plant.output(x) + log.noise * normal();
    values[k] = log.quantum > 0 ? log.quantum * Math.round(y / log.quantum) : y;
  }
  return { time, values };
}

/** A shaft that friction stops stays where its input cannot overcome it. */
function stopped(torque: (x: readonly number[], u: number) => number, coulomb: number): Plant["after"] {
  return (before, x, u) => {
    if (before[0] * x[0] >= 0 || Math.abs(torque(x, u)) > coulomb) return x;
    return [0, ...x.slice(1)];
  };
}

/** J*dw/dt = K*u - B*w - Tc*sign(w). */
export function shaft(inertia: number, gain: number, viscous: number, coulomb: number): Plant {
  return {
    states: 1,
    slope: ([w], u) => {
      const drive = gain * u - viscous * w;
      if (w === 0 && Math.abs(drive) <= coulomb) return [0];
      return [(drive - coulomb * (w === 0 ? Math.sign(drive) : Math.sign(w))) / inertia];
    },
    output: ([w]) => w,
    after: stopped((_, u) => gain * u, coulomb),
  };
}

/** J*dw/dt = K*i through a current that follows its command by a lag. */
export function shaftWithLag(inertia: number, gain: number, lag: number): Plant {
  return {
    states: 2,
    slope: ([, i], u) => [(gain * i) / inertia, (u - i) / lag],
    output: ([w]) => w,
  };
}

/** A DC motor on a voltage, with its inductance. */
export function dcMotor(R: number, L: number, K: number, J: number, B: number): Plant {
  return {
    states: 2,
    slope: ([w, i], u) => [(K * i - B * w) / J, (u - R * i - K * w) / L],
    output: ([w]) => w,
  };
}

/** A speed loop: i = kp*(b*r - w) + ki*integral(r - w). */
export function speedLoop(J: number, K: number, B: number, kp: number, ki: number, b: number): Plant {
  return {
    states: 2,
    slope: ([w, sum], r) => [(K * (kp * (b * r - w) + sum) - B * w) / J, ki * (r - w)],
    output: ([w]) => w,
  };
}

/** A position loop whose speed is its gain times the error up to a limit. */
export function positionLoop(gain: number, limit: number): Plant {
  return {
    states: 1,
    slope: ([q], r) => [Math.max(-limit, Math.min(limit, gain * (r - q)))],
    output: ([q]) => q,
  };
}
