/** A torque trial of a drive roller, in closed form, that every test file of this folder holds: 240 rows at 1 kHz. */
export const lines = 1024;
export const rows = 240;

export interface Scenario {
  readonly time: Float64Array;
  readonly command: Float64Array;
  readonly current: Float64Array;
  /** rad/s */
  readonly speed: Float64Array;
  /** counts after quadrature */
  readonly counts: Float64Array;
}

/** The trial itself: rest, a step of current, the run-up of a first-order lag, the encoder's counts. */
export function scenario(n = rows, step = 0.001): Scenario {
  const time = Float64Array.from({ length: n }, (_, i) => i * step);
  const on = 0.04;
  const tau = 0.05;
  const top = 80;
  const after = time.map((t) => Math.max(0, t - on));
  return {
    time,
    command: time.map((t) => (t >= on ? 1.5 : 0)),
    current: time.map((t, i) => (t >= on ? 1.5 : 0) + 0.01 * Math.sin(7.3 * i)),
    speed: after.map((t) => top * (1 - Math.exp(-t / tau))),
    counts: after.map((t) =>
      Math.floor(((top * (t - tau * (1 - Math.exp(-t / tau)))) / (2 * Math.PI)) * 4 * lines),
    ),
  };
}
