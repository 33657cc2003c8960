import { add, type Complex, complex, divide, magnitude, multiply, scale } from "./complex.js";
import { evaluatePolynomial, type Polynomial, trimPolynomial } from "./polynomial.js";

/**
 * Roots of a polynomial with real coefficients, by Aberth's simultaneous iteration from starting points on the circles
 * that the Newton polygon of the coefficients gives (so that roots many decades apart start near their size). Lines and
 * quadratics are solved in closed form. Real roots come back with an imaginary part of exactly zero, the others in
 * exact conjugate pairs, all sorted by real part, largest first.
 *
 * Source: O. Aberth, Iteration methods for finding all zeros of a polynomial simultaneously, Mathematics of Computation
 * 27 (1973); D. A. Bini, Numerical computation of polynomial zeros by means of Aberth's method, Numerical Algorithms 13
 * (1996), for the starting points.
 *
 * @throws RangeError when a coefficient is not finite or all of them are zero
 * @example
 * polynomialRoots([1, 3, 2]); // => [{ re: -1, im: 0 }, { re: -2, im: 0 }]
 */
export function polynomialRoots(coefficients: Polynomial): Complex[] {
  if (coefficients.some((c) => !Number.isFinite(c)))
    throw new RangeError(`a polynomial needs finite coefficients, found [${coefficients.join(", ")}]`);
  const trimmed = trimPolynomial(coefficients);
  if (trimmed[0] === 0) throw new RangeError("the zero polynomial has no definite roots");
  let degree = trimmed.length - 1;
  const zeros: Complex[] = [];
  while (degree > 0 && trimmed[degree] === 0) {
    zeros.push(complex(0));
    degree--;
  }
  const p = trimmed.slice(0, degree + 1);
  return [...zeros, ...nonzeroRoots(p)].sort((a, b) => b.re - a.re || b.im - a.im);
}

function nonzeroRoots(p: Polynomial): Complex[] {
  if (p.length === 1) return [];
  if (p.length === 2) return [complex(-p[1] / p[0])];
  if (p.length === 3) return quadraticRoots(p[0], p[1], p[2]);
  return pairUp(aberth(p), p);
}

/** Roots of a*s^2 + b*s + c without cancellation. */
function quadraticRoots(a: number, b: number, c: number): Complex[] {
  const half = -b / (2 * a);
  const square = half * half - c / a;
  if (square < 0) {
    const im = Math.sqrt(-square);
    return [complex(half, im), complex(half, -im)];
  }
  const large = half + (half >= 0 ? 1 : -1) * Math.sqrt(square);
  return large === 0 ? [complex(0), complex(0)] : [complex(large), complex(c / a / large)];
}

function aberth(p: Polynomial): Complex[] {
  const n = p.length - 1;
  const reversed = [...p].reverse();
  const slope = p.slice(0, n).map((c, k) => c * (n - k));
  const slopeReversed = reversed.slice(0, n).map((c, k) => c * (n - k));
  const roots = startingPoints(p);
  const settled = new Array<boolean>(n).fill(false);
  for (let round = 0; round < 200 && settled.includes(false); round++) {
    for (let k = 0; k < n; k++) {
      if (settled[k]) continue;
      const z = roots[k];
      // Newton's correction p/p'; outside the unit circle through the reversed polynomial, which does not overflow.
      let newton: Complex;
      if (magnitude(z) <= 1) {
        newton = divide(evaluatePolynomial(p, z), evaluatePolynomial(slope, z));
      } else {
        const w = divide(complex(1), z);
        const ratio = divide(evaluatePolynomial(slopeReversed, w), evaluatePolynomial(reversed, w));
        // p'/p = w*(n - w*q'/q)
        newton = divide(complex(1), multiply(w, add(complex(n), scale(multiply(w, ratio), -1))));
      }
      if (!Number.isFinite(newton.re) || !Number.isFinite(newton.im)) {
        settled[k] = true; // p(z) vanished exactly, or the slope did: nothing left to correct
        continue;
      }
      let repulsion = complex(0);
      for (let j = 0; j < n; j++) {
        if (j === k) continue;
        const gap = add(z, scale(roots[j], -1));
        if (gap.re !== 0 || gap.im !== 0) repulsion = add(repulsion, divide(complex(1), gap));
      }
      const step = divide(newton, add(complex(1), scale(multiply(newton, repulsion), -1)));
      if (!Number.isFinite(step.re) || !Number.isFinite(step.im)) {
        settled[k] = true;
        continue;
      }
      roots[k] = add(z, scale(step, -1));
      if (magnitude(step) <= 4e-16 * magnitude(roots[k])) settled[k] = true;
    }
  }
  return roots;
}

/** Starting points on the circles whose radii are the slopes of the upper hull of (k, log|a_k|). */
function startingPoints(p: Polynomial): Complex[] {
  const n = p.length - 1;
  const ascending = [...p].reverse();
  const hull: number[] = [];
  for (let k = 0; k <= n; k++) {
    if (ascending[k] === 0) continue;
    while (hull.length >= 2) {
      const [i, j] = [hull[hull.length - 2], hull[hull.length - 1]];
      const log = (m: number): number => Math.log(Math.abs(ascending[m]));
      if ((log(j) - log(i)) * (k - i) > (log(k) - log(i)) * (j - i)) break;
      hull.pop();
    }
    hull.push(k);
  }
  const points: Complex[] = [];
  for (let h = 1; h < hull.length; h++) {
    const [i, j] = [hull[h - 1], hull[h]];
    const count = j - i;
    const radius = Math.exp((Math.log(Math.abs(ascending[i])) - Math.log(Math.abs(ascending[j]))) / count);
    for (let k = 0; k < count; k++) {
      const phi = (2 * Math.PI * k) / count + (2 * Math.PI * h) / n + 0.7;
      points.push(complex(radius * Math.cos(phi), radius * Math.sin(phi)));
    }
  }
  return points;
}

/** Makes nearly real roots real and the rest exact conjugate pairs. */
function pairUp(roots: readonly Complex[], p: Polynomial): Complex[] {
  const paired: Complex[] = [];
  const rest = [...roots].sort((a, b) => Math.abs(b.im) - Math.abs(a.im));
  while (rest.length > 0) {
    const root = rest.shift()!;
    let partner = -1;
    let least = Number.POSITIVE_INFINITY;
    rest.forEach((other, k) => {
      const distance = Math.hypot(other.re - root.re, other.im + root.im);
      if (distance < least) {
        least = distance;
        partner = k;
      }
    });
    if (Math.abs(root.im) <= 1e-10 * magnitude(root) || partner === -1) {
      paired.push(complex(polishReal(p, root.re)));
    } else if (
      least <= Math.max(1e-3 * magnitude(root), 2 * Math.abs(root.im)) &&
      least < Math.abs(root.im) * 2
    ) {
      const other = rest.splice(partner, 1)[0];
      const re = (root.re + other.re) / 2;
      const im = (Math.abs(root.im) + Math.abs(other.im)) / 2;
      paired.push(complex(re, im), complex(re, -im));
    } else {
      paired.push(complex(polishReal(p, root.re)));
    }
  }
  return paired;
}

/** Newton steps on the real axis, kept only while they shrink the value. */
function polishReal(p: Polynomial, start: number): number {
  let x = start;
  for (let k = 0; k < 3; k++) {
    let value = 0;
    let slope = 0;
    for (const c of p) {
      slope = slope * x + value;
      value = value * x + c;
    }
    const next = x - value / slope;
    if (!Number.isFinite(next) || Math.abs(next - x) > 1e-6 * Math.abs(x)) break;
    const after = Math.abs(p.reduce((sum, c) => sum * next + c, 0));
    if (after >= Math.abs(value)) break;
    x = next;
  }
  return x;
}
