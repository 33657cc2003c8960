import { readFileSync } from "node:fs";
import { join } from "node:path";

/**
 * Residuals of the three Lanczos problems formed in fixed point with 128 binary places and rounded to double at the
 * end.
 *
 * Lanczos1's residuals are 1e-13 of data near 1: in double precision the rounding of the data and of the model alone is
 * a three-hundredth of them, so that no fit on such residuals can know their scatter, and with it the standard errors,
 * to four digits. Formed this way they are exact to double precision, and the same fit shows what it does itself.
 */
const places = 128n;
const one = 1n << places;

/** A double as a fixed-point number, exactly as far as the places reach. */
function fixed(value: number): bigint {
  if (value === 0) return 0n;
  // value = mantissa * 2^exponent with a whole mantissa
  let exponent = Math.floor(Math.log2(Math.abs(value))) - 52;
  let mantissa = value / 2 ** exponent;
  while (!Number.isInteger(mantissa)) {
    exponent--;
    mantissa *= 2;
  }
  const shift = BigInt(exponent) + places;
  return shift >= 0n ? BigInt(mantissa) << shift : BigInt(mantissa) >> -shift;
}

/** A decimal as printed ("2.513400000000E+00") as a fixed-point number. */
function decimal(text: string): bigint {
  const [, sign, whole, fraction, power] = /^([-+]?)(\d+)\.(\d+)E([-+]\d+)$/i.exec(text.trim())!;
  const exponent = Number(power) - fraction.length;
  const digits = BigInt(whole + fraction) << places;
  const scaled = exponent >= 0 ? digits * 10n ** BigInt(exponent) : digits / 10n ** BigInt(-exponent);
  return sign === "-" ? -scaled : scaled;
}

const multiply = (a: bigint, b: bigint): bigint => (a * b) >> places;

/** exp(x) for x in fixed point: halved until small, a power series, squared back. */
function exponential(x: bigint): bigint {
  const halvings = 12n;
  const small = x >> halvings;
  let term = one;
  let sum = one;
  for (let k = 1n; k < 40n; k++) {
    term = multiply(term, small) / k;
    if (term === 0n || term === -1n) break;
    sum += term;
  }
  for (let i = 0n; i < halvings; i++) sum = multiply(sum, sum);
  return sum;
}

/** A fixed-point number as the nearest double. */
function double(x: bigint): number {
  const negative = x < 0n;
  const size = negative ? -x : x;
  if (size === 0n) return 0;
  const extra = size.toString(2).length - 60;
  const value =
    extra > 0
      ? Number(size >> BigInt(extra)) * 2 ** (extra - Number(places))
      : Number(size) * 2 ** -Number(places);
  return negative ? -value : value;
}

/** The residual function of Lanczos1, 2 or 3 with data read as decimals. */
export function extendedLanczos(name: "Lanczos1" | "Lanczos2" | "Lanczos3") {
  const lines = readFileSync(join(import.meta.dirname, `${name}.dat`), "utf8")
    .split(/\r?\n/)
    .slice(60, 84)
    .map((line) => line.trim().split(/\s+/));
  const y = lines.map(([v]) => decimal(v));
  const x = lines.map(([, v]) => decimal(v));
  return {
    count: y.length,
    residuals(p: Float64Array, out: Float64Array): void {
      const b = Array.from(p, (v) => (Number.isFinite(v) && Math.abs(v) < 1e6 ? fixed(v) : undefined));
      if (b.some((v) => v === undefined)) {
        out.fill(Number.NaN);
        return;
      }
      const [b1, b2, b3, b4, b5, b6] = b as bigint[];
      for (let i = 0; i < y.length; i++) {
        // A rate far below zero would overflow any format: not finite.
        if (Math.max(-p[1], -p[3], -p[5]) > 50) out[i] = Number.NaN;
        else
          out[i] = double(
            y[i] -
              multiply(b1, exponential(-multiply(b2, x[i]))) -
              multiply(b3, exponential(-multiply(b4, x[i]))) -
              multiply(b5, exponential(-multiply(b6, x[i]))),
          );
      }
    },
  };
}
