import { width } from "./gramLayout.js";
import { columnsOf, type PreparedStep } from "./preparedStep.js";
import { factorGram, fillGram, writeRecordSums } from "./stepGram.js";
import { momentGram } from "./stepMoments.js";
import { fillShape, type StepShape, shapeParameters } from "./stepShapes.js";

/** Numbers of the columns of the Gram matrix that a model uses. */
function columnsUsed(drift: boolean, two: boolean, held: number | undefined): number[] {
  const use: number[] = [];
  if (held === undefined) use.push(0);
  if (drift) use.push(1);
  use.push(2, 3);
  if (two) use.push(4);
  use.push(5);
  return use;
}

/**
 * One model of a step response by its shape parameters alone: at every point the linear ones (initial value, slope,
 * amplitude) are eliminated exactly, by the Cholesky factor of the Gram matrix of the columns.
 */
export class StepModel {
  /** Columns of the Gram matrix in use, the data last. */
  readonly use: readonly number[];
  private readonly linear: readonly number[];
  /** Fitted parameters in all. */
  readonly parameters: number;
  private readonly degrees: number;
  /** Whether there are two shape parameters. */
  readonly two: boolean;
  private readonly gram = new Float64Array(width * width);

  /** @param held scaled initial value held fixed (else fitted) */
  constructor(
    readonly record: PreparedStep,
    readonly shape: StepShape,
    drift: boolean,
    private readonly held: number | undefined,
  ) {
    this.two = shapeParameters[shape] === 2;
    this.use = columnsUsed(drift, this.two, held);
    this.linear = this.use.filter((c) => c < 3);
    this.parameters = this.use.length - 1;
    this.degrees = Math.max(1, record.count - this.parameters);
  }

  /** Writes the factor at a point; false where the columns depend on each other. */
  factorAt(a: number, b: number, into: Float64Array): boolean {
    const { record: s, shape, gram } = this;
    if (!(s.uniform && momentGram(s.uniform, shape, a, b, gram))) {
      fillShape(shape, a, b, s, columnsOf(s));
      fillGram(s, this.two, gram);
    }
    writeRecordSums(s, gram);
    if (this.held !== undefined) this.holdInitial(this.held);
    return factorGram(gram, this.use, into);
  }

  /** The data less a held initial value in place of the data. */
  private holdInitial(held: number): void {
    const { gram } = this;
    const z0 = gram[5];
    gram[2 * width + 5] -= held * gram[2];
    gram[3 * width + 5] -= held * gram[3];
    gram[4 * width + 5] -= held * gram[4];
    gram[1 * width + 5] -= held * gram[1];
    gram[5 * width + 5] += held * held * gram[0] - 2 * held * z0;
  }

  /** Initial value, slope and amplitude that belong to a factor. */
  coefficients(factor: Float64Array): Float64Array {
    const { linear } = this;
    const c = new Float64Array(3);
    for (let i = linear.length - 1; i >= 0; i--) {
      const ci = linear[i];
      let sum = factor[ci * width + 5];
      for (let j = i + 1; j < linear.length; j++) sum -= factor[ci * width + linear[j]] * c[linear[j]];
      c[ci] = sum / factor[ci * width + ci];
    }
    return c;
  }

  /** Residual sum of squares: what the shape derivatives could still remove is part of it. */
  squares(factor: Float64Array): number {
    return factor[35] + factor[3 * width + 5] ** 2 + (this.two ? factor[4 * width + 5] ** 2 : 0);
  }

  /** How far the minimum is, in standard errors, by the parts of the residual along the shape derivatives. */
  distance(e1: number, e2: number, squares: number): number {
    return Math.sqrt((e1 * e1 + e2 * e2) / (this.two ? 2 : 1) / (squares / this.degrees));
  }
}
