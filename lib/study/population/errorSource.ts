import { normal, studentT } from "../../numeric/distributions/distributions.js";
import type { SeededRandom } from "../../numeric/distributions/seededRandom.js";

/**
 * Tails from which sound fleets are drawn: Student's t with these degrees of freedom, at a deviation of one. `prior`:
 * how far each is believed before the data are seen; with few values the tails cannot be seen, and this is what counts.
 */
export const tailFamilies = [
  { degrees: Number.POSITIVE_INFINITY, prior: 0.4 },
  { degrees: 8, prior: 0.2 },
  { degrees: 5, prior: 0.25 },
  { degrees: 3.5, prior: 0.15 },
  { degrees: 2.5, prior: 0.05 },
] as const;

/** Sizes of errors: those exceeded with chances from 1 down in equal steps, and, for the last of these steps, the
 * logarithms of those whose chances fall by the same factor. */
interface Sizes {
  readonly body: Float64Array;
  readonly tail: Float64Array;
}

const steps = 1024;
/** Steps at the end that are read from the tail. */
const last = 16;
/** The tail's steps in the logarithm of the chance, and how many there are. */
const fall = 0.1;
const falls = 200;

const known = new Map<number, Sizes>();

function sizesOf(family: number): Sizes {
  const found = known.get(family);
  if (found !== undefined) return found;
  const { degrees } = tailFamilies[family];
  const exceeded = (chance: number) =>
    degrees === Number.POSITIVE_INFINITY
      ? -normal.quantile(chance / 2)
      : -studentT.quantile(chance / 2, degrees) * Math.sqrt((degrees - 2) / degrees);
  const sizes = {
    body: Float64Array.from({ length: steps - last + 1 }, (_, i) => exceeded(1 - i / steps)),
    tail: Float64Array.from({ length: falls + 1 }, (_, i) =>
      Math.log(exceeded((last / steps) * Math.exp(-fall * i))),
    ),
  };
  known.set(family, sizes);
  return sizes;
}

/**
 * A source of errors of deviation one with the tails of a family, which fills a series: a uniform number names the sign
 * and the chance with which the size is exceeded, the size is read between tabled ones (to within 2e-4 of it), which
 * takes a tenth of the time of a power and a logarithm.
 */
export function errorSource(family: number, random: SeededRandom): (errors: Float64Array) => void {
  const { body, tail } = sizesOf(family);
  return (errors) => {
    for (let e = 0; e < errors.length; e++) {
      const u = 2 * random.uniform();
      // 0 or 1: the sign, without a branch that no processor could foresee.
      const side = u | 0;
      const at = (u - side) * steps;
      const i = at | 0;
      let size: number;
      if (i < steps - last) size = body[i] + (at - i) * (body[i + 1] - body[i]);
      else {
        const far = Math.min(falls - 1e-9, Math.log(last / (steps - at)) / fall);
        const k = far | 0;
        size = Math.exp(tail[k] + (far - k) * (tail[k + 1] - tail[k]));
      }
      errors[e] = (side + side - 1) * size;
    }
  };
}
