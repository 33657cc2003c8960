import { type CauseCode, offsetCauses } from "./tables/causes.js";
import { offsetDistributions } from "./tables/offsets.js";

/** Offset errors considered, electrical rad: -178 to 180 deg in steps of 2 deg. */
export const offsetGrid: Float64Array = Float64Array.from(
  { length: 180 },
  (_, k) => ((k * 2 - 178) * Math.PI) / 180,
);

/** An angle brought within half a turn of zero, degrees. */
const wrapped = (angle: number): number => angle - 360 * Math.round(angle / 360);

function densityOf(code: CauseCode, degrees: number): number {
  const shape = offsetDistributions[code];
  if (!shape) return 0;
  if ("steps" in shape) return shape.steps.find(({ below }) => Math.abs(degrees) < below)?.density ?? 0;
  return shape.centres.reduce(
    (sum, centre) => sum + Math.exp(-0.5 * (wrapped(degrees - centre) / shape.sigma) ** 2),
    0,
  );
}

const priors: ReadonlyMap<CauseCode, Float64Array> = new Map(
  [...offsetCauses].map((code) => {
    const values = offsetGrid.map((angle) => densityOf(code, (angle * 180) / Math.PI));
    const sum = values.reduce((a, b) => a + b, 0);
    return [code, values.map((v) => v / sum)];
  }),
);

/** Distribution of the offset error under a cause with n = 0, adding up to one over `offsetGrid`; undefined for other
 * causes. */
export function offsetPrior(code: CauseCode): Float64Array | undefined {
  return priors.get(code);
}

/** Likelihood of a cause with n = 0: that of each offset error, averaged over where the cause puts it. */
export function averaged(prior: Float64Array, likelihood: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < prior.length; k += 1) sum += prior[k] * likelihood[k];
  return sum;
}

/**
 * Multiplies the likelihood of each offset by what a finding says of it. A quantity beyond all numbers (a damaged log)
 * says nothing, for every offset alike.
 */
export function multiply(offsets: Float64Array, like: (k: number) => number): void {
  const said = offsets.map((before, k) => before * like(k));
  if (said.every(Number.isFinite) && said.some((value) => value > 0)) offsets.set(said);
}
