import { add, type Complex, complex, divide, multiply, scale, unit } from "../../numeric/systems/complex.js";
import { padeDelay } from "../../numeric/systems/pade.js";
import {
  addPolynomials,
  multiplyPolynomials,
  type Polynomial,
  trimPolynomial,
} from "../../numeric/systems/polynomial.js";
import { polynomialRoots } from "../../numeric/systems/roots.js";
import { type FixedLoop, smallTimeConstant, totalDelay } from "./speedLoop.js";

/**
 * The loop as a continuous one. Plant K/(J*s+B), current loop 1/(1+s/wc), speed filter 1/(1+s/wf), PI controller,
 * and the delay of computation, hold (half a sample) and differencing (half a sample).
 */

/** Open-loop response at the current command, delay exact. With a position loop both paths are in it. */
export function continuousResponse(loop: FixedLoop, omega: number): Complex {
  const s = complex(0, omega);
  const actuator = divide(
    scale(unit(-omega * (loop.computationDelay + loop.sampleTime / 2)), loop.torquePerAmpere),
    multiply(complex(loop.viscous, loop.inertia * omega), complex(1, omega / loop.currentBandwidth)),
  );
  const integral = divide(complex(loop.ki), s);
  let measured = divide(add(complex(loop.kp), integral), complex(1, omega / loop.speedFilter));
  if (loop.difference) measured = multiply(measured, unit((-omega * loop.sampleTime) / 2));
  if (loop.positionGain !== undefined) {
    const reference = add(complex(loop.kp * loop.referenceWeight), integral);
    measured = add(measured, divide(scale(reference, loop.positionGain), s));
  }
  return multiply(actuator, measured);
}

/** Response from the speed reference to the speed, with the speed loop closed. */
function continuousReferenceResponse(loop: FixedLoop, omega: number): Complex {
  const inner = { ...loop, positionGain: undefined };
  const l = continuousResponse(inner, omega);
  const s = complex(0, omega);
  const forward = divide(
    scale(unit(-omega * (loop.computationDelay + loop.sampleTime / 2)), loop.torquePerAmpere),
    multiply(complex(loop.viscous, loop.inertia * omega), complex(1, omega / loop.currentBandwidth)),
  );
  const reference = add(complex(loop.kp * loop.referenceWeight), divide(complex(loop.ki), s));
  return divide(multiply(forward, reference), complex(1 + l.re, l.im));
}

/** Open-loop response of the position loop, cut at the speed reference. */
export function continuousPositionResponse(loop: FixedLoop, omega: number): Complex {
  return multiply(
    continuousReferenceResponse(loop, omega),
    divide(complex(loop.positionGain ?? 0), complex(0, omega)),
  );
}

/** Characteristic polynomial, the delay by a Padé approximation of the given order. */
function continuousCharacteristic(loop: FixedLoop, padeOrder: number): Polynomial {
  const lag = (bandwidth: number): Polynomial => (Number.isFinite(bandwidth) ? [1 / bandwidth, 1] : [1]);
  const plant = [loop.inertia, loop.viscous];
  if (loop.positionGain === undefined) {
    const delay = padeDelay(totalDelay(loop), padeOrder);
    return trimPolynomial(
      addPolynomials(
        multiplyPolynomials(
          plant,
          lag(loop.currentBandwidth),
          lag(loop.speedFilter),
          loop.ki === 0 ? [1] : [1, 0],
          delay.denominator,
        ),
        multiplyPolynomials(
          [loop.torquePerAmpere],
          loop.ki === 0 ? [loop.kp] : [loop.kp, loop.ki],
          delay.numerator,
        ),
      ),
    );
  }
  // Two paths back: through the filter and the differencing, and through the position.
  const common = padeDelay(loop.computationDelay + loop.sampleTime / 2, padeOrder);
  const own = padeDelay(loop.difference ? loop.sampleTime / 2 : 0, 2);
  const left = multiplyPolynomials(
    plant,
    lag(loop.currentBandwidth),
    lag(loop.speedFilter),
    [1, 0, 0],
    common.denominator,
    own.denominator,
  );
  const speedPath = multiplyPolynomials([loop.kp, loop.ki], [1, 0], own.numerator);
  const positionPath = multiplyPolynomials(
    [loop.referenceWeight * loop.kp, loop.ki],
    [loop.positionGain],
    lag(loop.speedFilter),
    own.denominator,
  );
  const right = multiplyPolynomials(
    [loop.torquePerAmpere],
    common.numerator,
    addPolynomials(speedPath, positionPath),
  );
  return trimPolynomial(addPolynomials(left, right));
}

/** Closed-loop poles, rad/s, the delay by a Padé approximation. */
export function continuousPoles(loop: FixedLoop, padeOrder: number): Complex[] {
  return polynomialRoots(continuousCharacteristic(loop, padeOrder));
}

/** Below this a loop does nothing, rad/s: numbers smaller still have no squares, and some no hundredth part. */
const leastFrequency = 1e-100;

/** Frequencies, rad/s, that hold everything of interest in the loop. */
export function frequencyRange(loop: FixedLoop): { readonly from: number; readonly to: number } {
  const k = Math.abs(loop.torquePerAmpere);
  const proportional = (k * loop.kp) / loop.inertia;
  const integral = Math.sqrt((k * Math.abs(loop.ki)) / loop.inertia);
  const marks = [
    proportional,
    integral,
    loop.kp === 0 ? 0 : Math.abs(loop.ki / loop.kp),
    loop.positionGain ?? 0,
    loop.viscous / loop.inertia,
  ].filter((w) => w > leastFrequency && Number.isFinite(w));
  const lag = smallTimeConstant(loop);
  const slowest = marks.length > 0 ? Math.min(...marks) : lag > 0 ? 1e-3 / lag : 1e-3;
  const fastest = Math.max(proportional, integral, slowest, loop.positionGain ?? 0);
  const limit = lag > 0 ? Math.min(30 / lag, fastest * 1e5) : 0;
  const reach = Math.max(fastest * 30, limit);
  const to = loop.sampleTime > 0 ? Math.min(reach, Math.PI / loop.sampleTime) : reach;
  return { from: Math.max(Math.min(slowest, to) / 100, to * 1e-10), to };
}
