import { type Complex, complex, divide, multiply, unit } from "./complex.js";
import { padeDelay } from "./pade.js";
import {
  addPolynomials,
  evaluatePolynomial,
  multiplyPolynomials,
  type Polynomial,
  trimPolynomial,
} from "./polynomial.js";
import { polynomialRoots } from "./roots.js";
import { discretise, type StateSpace } from "./stateSpace.js";

/** numerator(s)/denominator(s) * exp(-s*delay). */
export interface TransferFunction {
  readonly numerator: Polynomial;
  readonly denominator: Polynomial;
  /** s; 0 when absent. */
  readonly delay?: number;
}

/**
 * Product of transfer functions, coefficients with the highest power of s first; delays (s) add.
 *
 * @example
 * series({ numerator: [2], denominator: [1, 0] }, { numerator: [1], denominator: [0.1, 1], delay: 0.01 });
 * // => { numerator: [2], denominator: [0.1, 1, 0], delay: 0.01 }
 */
export function series(...parts: readonly TransferFunction[]): TransferFunction {
  return {
    numerator: multiplyPolynomials(...parts.map((p) => p.numerator)),
    denominator: multiplyPolynomials(...parts.map((p) => p.denominator)),
    delay: parts.reduce((sum, p) => sum + (p.delay ?? 0), 0),
  };
}

/**
 * Value of a transfer function at s = j*omega (rad/s), with the delay exact.
 *
 * @example
 * frequencyResponse({ numerator: [1], denominator: [1, 1] }, 1); // => { re: 0.500, im: -0.500 }
 */
export function frequencyResponse(system: TransferFunction, omega: number): Complex {
  const s = complex(0, omega);
  const rational = divide(evaluatePolynomial(system.numerator, s), evaluatePolynomial(system.denominator, s));
  return system.delay ? multiply(rational, unit(-omega * system.delay)) : rational;
}

/** The same with its delay replaced by a Padé approximation of the given order. */
function withoutDelay(system: TransferFunction, padeOrder: number): TransferFunction {
  if (!system.delay) return system;
  const { numerator, denominator } = padeDelay(system.delay, padeOrder);
  return {
    numerator: multiplyPolynomials(system.numerator, numerator),
    denominator: multiplyPolynomials(system.denominator, denominator),
  };
}

/** Characteristic polynomial of the unit negative feedback loop around an open loop. */
export function characteristicPolynomial(open: TransferFunction, padeOrder = 4): Polynomial {
  const rational = withoutDelay(open, padeOrder);
  return trimPolynomial(addPolynomials(rational.numerator, rational.denominator));
}

/**
 * Poles of the unit negative feedback loop; a delay enters by its Padé approximation of order `padeOrder` (4).
 *
 * @example
 * closedLoopPoles({ numerator: [1], denominator: [1, 0] }); // => [{ re: -1, im: 0 }]
 */
export function closedLoopPoles(open: TransferFunction, padeOrder = 4): Complex[] {
  return polynomialRoots(characteristicPolynomial(open, padeOrder));
}

/**
 * The unit negative feedback loop L/(1+L) of an open loop without delay, or with the delay approximated.
 *
 * @example
 * feedback({ numerator: [1], denominator: [1, 0] }); // => { numerator: [1], denominator: [1, 1] }
 */
export function feedback(open: TransferFunction, padeOrder = 4): TransferFunction {
  const rational = withoutDelay(open, padeOrder);
  return {
    numerator: rational.numerator,
    denominator: addPolynomials(rational.numerator, rational.denominator),
  };
}

/**
 * State-space form (controllable canonical, time scaled so that the coefficients stay near one) of a proper transfer
 * function without delay.
 *
 * @throws RangeError when the numerator's degree is above the denominator's
 */
function stateSpace(system: TransferFunction): StateSpace & { readonly timeScale: number } {
  const denominator = trimPolynomial(system.denominator);
  const numerator = trimPolynomial(system.numerator);
  const n = denominator.length - 1;
  if (numerator.length - 1 > n)
    throw new RangeError(
      `a transfer function of degree ${numerator.length - 1} over ${n} is not proper and has no state-space form`,
    );
  // s = scale * p makes the denominator's constant term comparable with its leading one.
  const last = denominator.findLast((c) => c !== 0) ?? 1;
  const lastIndex = denominator.lastIndexOf(last);
  const scale = lastIndex === 0 ? 1 : Math.abs(last / denominator[0]) ** (1 / lastIndex);
  const den = denominator.map((c, k) => (c / denominator[0]) * scale ** -k);
  const num = numerator.map((c, k) => (c / denominator[0]) * scale ** -(k + n + 1 - numerator.length));
  const padded = [...new Array<number>(n + 1 - num.length).fill(0), ...num];
  const direct = padded[0];
  const a = Array.from({ length: n }, (_, row) =>
    Array.from({ length: n }, (_, column) => (row === 0 ? -den[column + 1] : column === row - 1 ? 1 : 0)),
  );
  const b = Array.from({ length: n }, (_, row) => (row === 0 ? 1 : 0));
  const c = Array.from({ length: n }, (_, k) => padded[k + 1] - den[k + 1] * direct);
  return { a, b, c, d: direct, timeScale: scale };
}

/**
 * Step response of a proper transfer function without delay at equally spaced times 0, step, 2*step, ...: exact at the
 * samples (matrix exponential), whatever the spacing.
 *
 * @param step s between two samples
 * @param count samples wanted
 * @example
 * stepResponse({ numerator: [1], denominator: [1, 1] }, 1, 3); // => [0, 0.632, 0.865]
 */
export function stepResponse(system: TransferFunction, step: number, count: number): Float64Array {
  const { a, b, c, d, timeScale } = stateSpace(system);
  const n = b.length;
  const { phi, gamma } = discretise(a, b, step * timeScale);
  const out = new Float64Array(count);
  let x = new Float64Array(n);
  for (let k = 0; k < count; k++) {
    let y = d;
    for (let j = 0; j < n; j++) y += c[j] * x[j];
    out[k] = y;
    const next = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      let sum = gamma[i];
      for (let j = 0; j < n; j++) sum += phi[i][j] * x[j];
      next[i] = sum;
    }
    x = next;
  }
  return out;
}
