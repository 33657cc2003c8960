import { readFileSync } from "node:fs";
import { join } from "node:path";

/** A problem of the NIST Statistical Reference Datasets, as its file states it. */
export interface NistProblem {
  readonly name: string;
  readonly model: (x: readonly number[], b: ArrayLike<number>) => number;
  readonly y: Float64Array;
  readonly x: readonly (readonly number[])[];
  readonly starts: readonly [number[], number[]];
  readonly certified: number[];
  readonly certifiedErrors: number[];
  readonly sumOfSquares: number;
  readonly difficulty: string;
}

const { exp, cos, sin, atan, log, PI } = Math;
type Model = NistProblem["model"];

const rational = (top: number, bottom: number): Model => {
  return ([x], b) => {
    let numerator = 0;
    for (let k = top; k >= 0; k--) numerator = numerator * x + b[k];
    let denominator = 0;
    for (let k = bottom; k >= 1; k--) denominator = (denominator + b[top + k]) * x;
    return numerator / (1 + denominator);
  };
};
const misra: Model = ([x], b) => b[0] * (1 - exp(-b[1] * x));
const chwirut: Model = ([x], b) => exp(-b[0] * x) / (b[1] + b[2] * x);
const gauss: Model = ([x], b) =>
  b[0] * exp(-b[1] * x) +
  b[2] * exp(-((x - b[3]) ** 2) / b[4] ** 2) +
  b[5] * exp(-((x - b[6]) ** 2) / b[7] ** 2);
const lanczos: Model = ([x], b) => b[0] * exp(-b[1] * x) + b[2] * exp(-b[3] * x) + b[4] * exp(-b[5] * x);

/** The 27 models as the files print them. */
const models: Readonly<Record<string, Model>> = {
  Bennett5: ([x], b) => b[0] * (b[1] + x) ** (-1 / b[2]),
  BoxBOD: misra,
  Chwirut1: chwirut,
  Chwirut2: chwirut,
  DanWood: ([x], b) => b[0] * x ** b[1],
  ENSO: ([x], b) =>
    b[0] +
    b[1] * cos((2 * PI * x) / 12) +
    b[2] * sin((2 * PI * x) / 12) +
    b[4] * cos((2 * PI * x) / b[3]) +
    b[5] * sin((2 * PI * x) / b[3]) +
    b[7] * cos((2 * PI * x) / b[6]) +
    b[8] * sin((2 * PI * x) / b[6]),
  Eckerle4: ([x], b) => (b[0] / b[1]) * exp(-0.5 * ((x - b[2]) / b[1]) ** 2),
  Gauss1: gauss,
  Gauss2: gauss,
  Gauss3: gauss,
  Hahn1: rational(3, 3),
  Kirby2: rational(2, 2),
  Lanczos1: lanczos,
  Lanczos2: lanczos,
  Lanczos3: lanczos,
  MGH09: ([x], b) => (b[0] * (x * x + x * b[1])) / (x * x + x * b[2] + b[3]),
  MGH10: ([x], b) => b[0] * exp(b[1] / (x + b[2])),
  MGH17: ([x], b) => b[0] + b[1] * exp(-x * b[3]) + b[2] * exp(-x * b[4]),
  Misra1a: misra,
  Misra1b: ([x], b) => b[0] * (1 - (1 + (b[1] * x) / 2) ** -2),
  Misra1c: ([x], b) => b[0] * (1 - (1 + 2 * b[1] * x) ** -0.5),
  Misra1d: ([x], b) => b[0] * b[1] * x * (1 + b[1] * x) ** -1,
  Nelson: ([x1, x2], b) => b[0] - b[1] * x1 * exp(-b[2] * x2),
  Rat42: ([x], b) => b[0] / (1 + exp(b[1] - b[2] * x)),
  Rat43: ([x], b) => b[0] / (1 + exp(b[1] - b[2] * x)) ** (1 / b[3]),
  Roszman1: ([x], b) => b[0] - b[1] * x - atan(b[2] / (x - b[3])) / PI,
  Thurber: rational(3, 3),
};

export const nistNames: readonly string[] = Object.keys(models);

/** Reads one of the files and pairs it with its model. */
export function nistProblem(name: string): NistProblem {
  const lines = readFileSync(join(import.meta.dirname, `${name}.dat`), "utf8").split(/\r?\n/);
  const range = (label: string): [number, number] => {
    const line = lines.find((text) => text.includes(label))!;
    const [, from, to] = /lines\s+(\d+)\s+to\s+(\d+)/.exec(line)!;
    return [Number(from) - 1, Number(to)];
  };
  const starts: [number[], number[]] = [[], []];
  const certified: number[] = [];
  const certifiedErrors: number[] = [];
  for (const line of lines.slice(...range("Starting Values"))) {
    const numbers = line.split("=")[1].trim().split(/\s+/).map(Number);
    starts[0].push(numbers[0]);
    starts[1].push(numbers[1]);
    certified.push(numbers[2]);
    certifiedErrors.push(numbers[3]);
  }
  const data = lines
    .slice(...range("Data  "))
    .filter((line) => line.trim() !== "")
    .map((line) => line.trim().split(/\s+/).map(Number));
  const difficulty = /(Lower|Average|Higher) Level/.exec(lines.join("\n"))?.[1] ?? "";
  // Nelson states its model for the logarithm of the response.
  const y = Float64Array.from(data, (row) => (name === "Nelson" ? log(row[0]) : row[0]));
  const sum = lines.find((line) => line.startsWith("Residual Sum of Squares"))!;
  return {
    name,
    model: models[name],
    y,
    x: data.map((row) => row.slice(1)),
    starts,
    certified,
    certifiedErrors,
    sumOfSquares: Number(sum.split(":")[1]),
    difficulty,
  };
}

/** Log relative error: how many significant digits of `got` agree with `certified`, at most 11 (what the files
 * print). */
export function digits(got: number, certified: number): number {
  if (!Number.isFinite(got)) return 0;
  const error = certified === 0 ? Math.abs(got) : Math.abs((got - certified) / certified);
  return Math.max(0, Math.min(11, error === 0 ? 11 : -Math.log10(error)));
}
