import { complex, divide, magnitude, multiply, unit } from "../../numeric/systems/complex.js";
import { presentShare, sampledResponse } from "./sampledLoop.js";
import type { FixedLoop } from "./speedLoop.js";

/**
 * How measurement noise reaches the current command of a sampled loop at a steady speed: RMS of the command per RMS of
 * white noise on the sampled speed (A per rad/s), by the mean of the squared response around the unit circle; and, with
 * the encoder's counts known, the RMS ripple (A) of a speed taken from counts, whose rounding is taken as white with
 * RMS of one count over sqrt(12).
 *
 * Source of the rounding model: B. Widrow's model of quantisation noise; it holds while the shaft passes many counts,
 * not at standstill (see `limitCycles`).
 *
 * @throws RangeError when the loop has no sample time
 * @example
 * noiseGain(fixLoop(loop)); // => { gain: 0.204, rippleFromCounts: 0.504 }
 */
export function noiseGain(loop: FixedLoop): { readonly gain: number; readonly rippleFromCounts?: number } {
  if (!(loop.sampleTime > 0)) throw new RangeError("noiseGain needs a sampled loop");
  const ts = loop.sampleTime;
  const open = sampledResponse(loop);
  const a = Number.isFinite(loop.speedFilter) ? Math.exp(-loop.speedFilter * ts) : 0;
  const h = presentShare[loop.integration];
  const points = 2048;
  let white = 0;
  let counted = 0;
  for (let k = 0; k < points; k++) {
    const omega = ((k + 0.5) / points) * (Math.PI / ts);
    const back = unit(-omega * ts);
    const z = unit(omega * ts);
    const sum = divide(complex(ts), complex(z.re - 1, z.im));
    const controller = complex(loop.kp + loop.ki * (sum.re + h * ts), loop.ki * sum.im);
    const filter = divide(complex(1 - a), complex(1 - a * back.re, -a * back.im));
    const l = open(omega);
    const square = magnitude(divide(multiply(controller, filter), complex(1 + l.re, l.im))) ** 2;
    white += square;
    counted += square * ((1 - back.re) ** 2 + back.im ** 2);
  }
  const gain = Math.sqrt(white / points);
  if (loop.countsPerTurn === undefined) return { gain };
  const count = (2 * Math.PI) / loop.countsPerTurn;
  return { gain, rippleFromCounts: (Math.sqrt(counted / points) * count) / ts / Math.sqrt(12) };
}
