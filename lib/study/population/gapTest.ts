/** A value whose gap to the values inside it is too wide to be chance. */
export interface Gap {
  /** How many of the outermost values lie beyond the gap. */
  readonly beyond: number;
  /** Chance of such a gap anywhere on either side of a sound sample. */
  readonly p: number;
}

/** The gaps at both ends of a sample. */
export interface GapTest {
  readonly upper: readonly Gap[];
  readonly lower: readonly Gap[];
  /** The value beyond which one more, single value would be called out at a chance `p`, above and below. */
  readonly cut: (p: number) => { readonly upper: number; readonly lower: number };
}

/** Fewest values with which a gap can be judged. */
export const leastForGaps = 8;

/** A gap is compared with those that follow it further in, in samples of the sizes listed. */
interface Window {
  readonly neighbours: number;
  /** Exponent of the chance of a ratio of gaps. */
  readonly power: number;
  /** Part of the chance of a false alarm that this comparison may use up. */
  readonly part: number;
  readonly sizes: readonly number[];
  /** How much wider the outermost gap times its rank is than those that follow it; and the same for gaps further in. */
  readonly first: readonly number[];
  readonly later: readonly number[];
}

/**
 * Compared with two gaps, the ratio has Fisher's F with 2 and 4 degrees of freedom, and its chance hardly depends on
 * the tails (0.7 times as stated for normal values, 1.3 times for Student's t with 5 degrees of freedom), but little is
 * seen.
 */
const narrow: Window = {
  neighbours: 3,
  power: 2,
  part: 0.77,
  sizes: [8, 9, 10, 12, 15, 20, 30, 40, 60, 100, 300, 700, 2000, 5000],
  first: [0.69, 0.735, 0.762, 0.803, 0.838, 0.886, 0.952, 0.979, 1.006, 1.05, 1.07, 1.13, 1.16, 1.17],
  later: [0.63, 0.685, 0.725, 0.78, 0.823, 0.869, 0.913, 0.939, 0.963, 0.975, 1.02, 1.04, 1.02, 1.055],
};
/**
 * Compared with more gaps more is seen. From 16 values on the chance is that of a tail which falls with the fifth
 * power, as Student's t with 5 degrees of freedom does: lighter tails give next to no false alarms here.
 */
const wide: readonly Window[] = [
  {
    neighbours: 5,
    power: 4,
    part: 0.27,
    sizes: [8, 9, 10, 12, 15],
    first: [0.544, 0.6, 0.643, 0.711, 0.788],
    later: [0.428, 0.48, 0.548, 0.638, 0.716],
  },
  {
    neighbours: 8,
    power: 5,
    part: 0.4,
    sizes: [16, 20, 30, 40],
    first: [0.73, 0.84, 0.97, 1.06],
    later: [0.5, 0.59, 0.69, 0.74],
  },
  {
    neighbours: 12,
    power: 5,
    part: 0.4,
    sizes: [40, 60, 80, 100, 150],
    first: [0.9, 1, 1.07, 1.11, 1.19],
    later: [0.58, 0.65, 0.69, 0.71, 0.75],
  },
  {
    neighbours: 20,
    power: 5,
    part: 0.4,
    sizes: [150, 250, 500, 1000, 2000, 5000],
    first: [1.12, 1.2, 1.27, 1.36, 1.39, 1.45],
    later: [0.67, 0.72, 0.75, 0.78, 0.8, 0.83],
  },
];

/**
 * Asks whether the outermost values of a sample belong to it, without taking their distribution to be normal: the gap
 * between an outermost value and the next is compared with the gaps that follow further in. After Renyi (1953), Acta
 * Mathematica Academiae Scientiarum Hungaricae 4, 191-231, the gaps between the largest values, each times its rank,
 * are about independent and exponential; heavier tails widen them all. Each gap is compared with the next two and, for
 * the rest of the chance, with the next 4 to 19; the factors by which the outermost gap is the wider one were
 * simulated, 40,000 to 600,000 samples of each size.
 *
 * What is held is the chance of any alarm in the whole sample, from the normal distribution to Student's t with 5
 * degrees of freedom. Several outlying values together are found by the gap behind them; up to a tenth of the sample
 * (20 at most) can be.
 *
 * @param values - finite numbers, in any order
 * @returns for each number of outermost values, the chance of the gap behind them; nothing for fewer than 8 values
 * @example
 * const values = [9.7, 9.8, 9.9, 9.95, 10, 10.1, 10.2, 10.3, 16];
 * gapTest(values).upper[0].p < 0.01; // => true
 */
export function gapTest(values: ArrayLike<number>): GapTest {
  if (values.length < leastForGaps)
    return { upper: [], lower: [], cut: () => ({ upper: Infinity, lower: -Infinity }) };
  const up = Float64Array.from(values).sort();
  const down = Float64Array.from(up, (v) => -v).reverse();
  return {
    upper: gapsOf(up),
    lower: gapsOf(down),
    cut: (p) => ({ upper: cutOf(up, p), lower: -cutOf(down, p) }),
  };
}

function windowsFor(n: number): readonly Window[] {
  return [narrow, wide.findLast(({ sizes }) => n >= sizes[0]) as Window];
}

function gapsOf(x: Float64Array): Gap[] {
  const n = x.length;
  // A gap of rounding only is no gap.
  const tiny = 1e-12 * Math.max(Math.abs(x[0]), Math.abs(x[n - 1]));
  return weightsOf(n).map((weight, i): Gap => {
    const first = i === 0;
    const p = windowsFor(n).map((window) => {
      const { gap, others } = spacings(x, i + 1, window.neighbours);
      if (!(gap > tiny)) return 1;
      const ratio = others > tiny ? gap / others : Number.POSITIVE_INFINITY;
      return (1 + ratio / (factorOf(window, n, first) * window.power)) ** -window.power / window.part;
    });
    return { beyond: i + 1, p: Math.min(1, (2 * Math.min(...p)) / weight) };
  });
}

/** Where one more value beyond the outermost would be called out. */
function cutOf(x: Float64Array, p: number): number {
  const n = x.length;
  const reach = windowsFor(n + 1).map((window) => {
    const { neighbours, power } = window;
    let others = 0;
    for (let rank = 2; rank <= neighbours && rank <= n; rank++)
      others += (rank * (x[n + 1 - rank] - x[n - rank])) / (neighbours - 1);
    const chance = (p * weightsOf(n + 1)[0] * window.part) / 2;
    return others * factorOf(window, n + 1, true) * power * (chance ** (-1 / power) - 1);
  });
  return x[n - 1] + Math.min(...reach);
}

/** Parts of the chance given to one, two, ... values beyond the gap: most to one. */
function weightsOf(n: number): number[] {
  const most = Math.max(1, Math.min(20, Math.floor(n / 10)));
  const parts = Array.from({ length: most }, (_, i) => (i + 1) ** -1.5);
  const total = parts.reduce((a, b) => a + b, 0);
  return parts.map((part) => part / total);
}

/** The gap behind the `beyond` largest of sorted values, and the mean of those that follow, each times its rank. */
function spacings(x: Float64Array, beyond: number, neighbours: number): { gap: number; others: number } {
  const n = x.length;
  const times = (rank: number) => rank * (x[n - rank] - x[n - rank - 1]);
  let others = 0;
  let count = 0;
  for (let rank = beyond + 1; rank < beyond + neighbours && rank < n; rank++, count++) others += times(rank);
  return { gap: times(beyond), others: others / count };
}

/** The factor of a window for n values, between the sizes of its table by the logarithm of n. */
function factorOf({ sizes, first, later }: Window, n: number, outermost: boolean): number {
  const table = outermost ? first : later;
  const at = sizes.findIndex((size) => size >= n);
  if (at < 0) return table[table.length - 1];
  if (at === 0) return table[0];
  const share = Math.log(n / sizes[at - 1]) / Math.log(sizes[at] / sizes[at - 1]);
  return table[at - 1] + share * (table[at] - table[at - 1]);
}
