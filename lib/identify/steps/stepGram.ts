import { cholesky } from "../../numeric/linear/cholesky.js";
import { width } from "./gramLayout.js";
import { columnsOf, type PreparedStep } from "./preparedStep.js";

/** Room for the sums of one column. */
const sumsOf = new Float64Array(6);

/** Sums of products of one column with 1, t and z, with one or two others, and with itself, into `sumsOf`. */
function columnSums(
  { t, z, w }: PreparedStep,
  x: Float64Array,
  other: Float64Array,
  third: Float64Array,
): void {
  const m = t.length;
  let s1 = 0;
  let st = 0;
  let sz = 0;
  let so = 0;
  let s3 = 0;
  let sx = 0;
  if (w) {
    for (let i = 0; i < m; i++) {
      const v = x[i];
      const u = w[i] * v;
      s1 += u;
      st += u * t[i];
      sz += u * z[i];
      so += u * other[i];
      s3 += u * third[i];
      sx += u * v;
    }
  } else {
    for (let i = 0; i < m; i++) {
      const v = x[i];
      s1 += v;
      st += v * t[i];
      sz += v * z[i];
      so += v * other[i];
      s3 += v * third[i];
      sx += v * v;
    }
  }
  sumsOf[0] = s1;
  sumsOf[1] = st;
  sumsOf[2] = sz;
  sumsOf[3] = so;
  sumsOf[4] = s3;
  sumsOf[5] = sx;
}

/** Sums of products of 1, t and the data among themselves: they are the record's own. */
export function writeRecordSums({ sums }: PreparedStep, gram: Float64Array): void {
  gram[0] = sums[0];
  gram[1] = sums[1];
  gram[width + 1] = sums[2];
  gram[5] = sums[3];
  gram[width + 5] = sums[4];
  gram[5 * width + 5] = sums[5];
}

/** Products of the shape columns with each other, with 1, t and z. */
export function fillGram(s: PreparedStep, two: boolean, gram: Float64Array): void {
  const { g, da, db } = columnsOf(s);
  columnSums(s, g, da, db);
  gram[2] = sumsOf[0];
  gram[width + 2] = sumsOf[1];
  gram[2 * width + 5] = sumsOf[2];
  gram[2 * width + 3] = sumsOf[3];
  gram[2 * width + 4] = sumsOf[4];
  gram[2 * width + 2] = sumsOf[5];
  columnSums(s, da, db, db);
  gram[3] = sumsOf[0];
  gram[width + 3] = sumsOf[1];
  gram[3 * width + 5] = sumsOf[2];
  gram[3 * width + 4] = sumsOf[3];
  gram[3 * width + 3] = sumsOf[5];
  if (!two) return;
  columnSums(s, db, db, db);
  gram[4] = sumsOf[0];
  gram[width + 4] = sumsOf[1];
  gram[4 * width + 5] = sumsOf[2];
  gram[4 * width + 4] = sumsOf[5];
}

const packed = new Float64Array(width * width);

/**
 * Cholesky factor of the Gram matrix over the columns in use (others skipped); false where a column depends on those
 * before it. The last diagonal entry holds the sum of squares left by all columns, not its root.
 */
export function factorGram(gram: Float64Array, use: readonly number[], r: Float64Array): boolean {
  const n = use.length - 1;
  for (let j = 0; j < n; j++) for (let i = 0; i <= j; i++) packed[j * n + i] = gram[use[i] * width + use[j]];
  if (!cholesky(packed, n)) return false;
  let left = gram[5 * width + 5];
  for (let j = 0; j < n; j++) {
    const row = j * n;
    const cj = use[j];
    const pivot = packed[row + j];
    if (!(pivot * pivot > 1e-13 * gram[cj * width + cj])) return false;
    let sum = gram[cj * width + 5];
    for (let k = 0; k < j; k++) {
      r[use[k] * width + cj] = packed[row + k];
      sum -= packed[row + k] * r[use[k] * width + 5];
    }
    r[cj * width + cj] = pivot;
    const share = sum / pivot;
    r[cj * width + 5] = share;
    left -= share * share;
  }
  r[5 * width + 5] = Math.max(0, left);
  return true;
}
