/** How the variances of motors lie about a common one: `degrees` of it and its `variance`. */
export interface Moderation {
  readonly degrees: number;
  readonly variance: number;
}

/** Degrees of freedom that a common variance may be worth. */
const worths = [5, 6, 8, 10, 13, 18, 30, 60, 200];

/**
 * A common variance, and how many degrees of freedom it is worth beside a motor's own (Smyth, G. K. (2004), Statistical
 * Applications in Genetics and Molecular Biology 3(1), article 3, with moments in place of its fit by logarithms, which
 * a variance of one degree upsets).
 */
export function moderation(squares: readonly number[], degrees: readonly number[]): Moderation {
  const all = degrees.reduce((a, b) => a + b, 0);
  const variance = squares.reduce((a, b) => a + b, 0) / all;
  // Variance of the motors' variances beyond what their degrees of freedom and the tails make.
  let [seen, expected] = [0, 0];
  squares.forEach((s, m) => {
    seen += degrees[m] * (s / degrees[m] / variance - 1) ** 2;
    expected += 2;
  });
  const excess = (seen - 1.5 * expected) / all;
  const worth = excess > 0 ? 2 / excess + 4 : 200;
  // On a coarse scale, so that what is drawn for one fleet serves for others like it.
  const near = worths.reduce((a, b) =>
    Math.abs(Math.log(b / worth)) < Math.abs(Math.log(a / worth)) ? b : a,
  );
  return { degrees: near, variance };
}

/** Variance of one run of a motor: of its own squares and the common one. */
export function moderated(prior: Moderation, squares: number, degrees: number): number {
  return (prior.degrees * prior.variance + squares) / (prior.degrees + degrees);
}
