/**
 * Step-response fits per second, here and with SciPy's curve_fit, on the same data in the same run.
 *
 * Run: npx tsx tests/benchmarks/fitSpeed.ts [responses, 10000 when absent] [rounds, 3 when absent] (needs python3 with
 * SciPy)
 *
 * 10,000 first-order and as many second-order responses of 2,000 samples with noise are written to a file in the
 * temporary folder; both sides read it, fit every response (curve_fit and fitStepShape: one given model, values and
 * covariance), and report processor time per fit and the values found, which are compared. Processor time, not wall
 * time: other work on the machine then weighs on both alike.
 */
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fitStepResponse } from "../../lib/identify/steps/fitStepResponse.js";
import { fitStepShape } from "../../lib/identify/steps/fitStepShape.js";
import { noiseSource } from "../steps/noise.js";
import { type Measurement, median } from "./table.js";

const samples = 2000;

/** Writes one response; the step is at the first sample. Returns the true time constant or natural frequency. */
function record(kind: "first" | "second", index: number, out: Float64Array): number {
  const random = noiseSource((kind === "first" ? 1 : 2) * 1_000_000 + index);
  const amplitude = 5 + 45 * random.uniform();
  const initial = 10 * random.uniform();
  const noise = amplitude * 0.02;
  const T = 0.05 + 0.35 * random.uniform();
  const omega = 12 + 28 * random.uniform();
  const zeta = 0.2 + 0.6 * random.uniform();
  const root = Math.sqrt(1 - zeta * zeta);
  for (let i = 0; i < samples; i++) {
    const t = i * 0.001;
    const g =
      kind === "first"
        ? 1 - Math.exp(-t / T)
        : 1 -
          Math.exp(-zeta * omega * t) *
            (Math.cos(root * omega * t) + (zeta / root) * Math.sin(root * omega * t));
    out[i] = initial + amplitude * g + noise * random.normal();
  }
  return kind === "first" ? T : omega;
}

interface Side {
  /** Processor seconds per fit. */
  readonly seconds: number;
  /** Value of the first shape parameter of every fit. */
  readonly values: Float64Array;
}

/** Fits per processor second on both sides, as ratios to SciPy's curve_fit with its own derivatives. */
export function fitSpeed(responses = 10_000, rounds = 3): Measurement[] {
  const folder = mkdtempSync(join(tmpdir(), "fit-speed-"));
  const measured: Measurement[] = [];
  try {
    const time = Float64Array.from({ length: samples }, (_, i) => i * 0.001);
    for (const kind of ["first", "second"] as const) {
      const all = new Float64Array(responses * samples);
      const truths = new Float64Array(responses);
      for (let k = 0; k < responses; k++)
        truths[k] = record(kind, k, all.subarray(k * samples, (k + 1) * samples));
      writeFileSync(join(folder, `${kind}.f64`), all);
      const ours = (options: Parameters<typeof fitStepResponse>[2]): Side => {
        const values = new Float64Array(responses);
        const before = process.cpuUsage();
        for (let k = 0; k < responses; k++) {
          const fit = fitStepResponse(time, all.subarray(k * samples, (k + 1) * samples), options);
          values[k] = (kind === "first" ? fit.timeConstant : fit.naturalFrequency)?.value ?? Number.NaN;
        }
        const spent = process.cpuUsage(before);
        return { seconds: (spent.user + spent.system) / 1e6 / responses, values };
      };
      const lean = (): Side => {
        const values = new Float64Array(responses);
        const shape = kind === "first" ? "first-order" : "second-order";
        const before = process.cpuUsage();
        for (let k = 0; k < responses; k++) {
          const fit = fitStepShape(time, all.subarray(k * samples, (k + 1) * samples), shape);
          values[k] = fit?.values[kind === "first" ? 2 : 3] ?? Number.NaN;
        }
        const spent = process.cpuUsage(before);
        return { seconds: (spent.user + spent.system) / 1e6 / responses, values };
      };
      const theirs = (derivative: "numeric" | "analytic"): Side => {
        const answer = join(folder, "answer.f64");
        execFileSync(
          "python3",
          [
            join(import.meta.dirname, "fitSpeed.py"),
            join(folder, `${kind}.f64`),
            kind,
            derivative,
            String(samples),
            answer,
          ],
          {
            stdio: ["ignore", "inherit", "inherit"],
            env: {
              ...process.env,
              PATH: `/usr/bin:${process.env.PATH}`,
              OMP_NUM_THREADS: "1",
              OPENBLAS_NUM_THREADS: "1",
            },
          },
        );
        const bytes = readFileSync(answer);
        const numbers = new Float64Array(
          bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength),
        );
        return { seconds: numbers[0], values: numbers.slice(1) };
      };
      const runs = {
        "fitStepShape (values and covariance)": lean,
        "fitStepResponse (all models, diagnostics, band)": () => ours({}),
        "SciPy curve_fit, numeric derivatives": () => theirs("numeric"),
        "SciPy curve_fit, analytic derivatives": () => theirs("analytic"),
      };
      const results = new Map<string, Side>();
      const seconds = new Map<string, number[]>();
      for (let round = 0; round < rounds; round++)
        for (const [name, run] of Object.entries(runs)) {
          const side = run();
          results.set(name, side);
          seconds.set(name, [...(seconds.get(name) ?? []), side.seconds]);
        }
      const reference = median(seconds.get("SciPy curve_fit, numeric derivatives") ?? []);
      for (const name of Object.keys(runs)) {
        if (name.includes("numeric")) continue;
        const each = median(seconds.get(name) ?? []);
        measured.push({
          what: `fits of a ${kind}-order step of ${samples} samples: ${name} against curve_fit with numeric derivatives`,
          value: reference / each,
          unit: "times as many a processor second",
          target: name.startsWith("fitStepShape") ? "at least 5" : undefined,
          detail: `${(1 / each).toFixed(0)} against ${(1 / reference).toFixed(0)} fits/s, ${responses} responses`,
        });
      }
      // Both sides find the same minimum, save where one ends elsewhere.
      const a = results.get("fitStepShape (values and covariance)")?.values ?? [];
      for (const derivative of ["numeric", "analytic"]) {
        const b = results.get(`SciPy curve_fit, ${derivative} derivatives`)?.values ?? [];
        let agree = 0;
        let oursOff = 0;
        let theirsOff = 0;
        for (let k = 0; k < responses; k++) {
          const truth = truths[k];
          if (Math.abs(a[k] / b[k] - 1) < 1e-4) agree++;
          if (!(Math.abs(a[k] / truth - 1) < 0.1)) oursOff++;
          if (!(Math.abs(b[k] / truth - 1) < 0.1)) theirsOff++;
        }
        if (process.argv[1]?.endsWith("fitSpeed.ts"))
          console.log(
            `  agree to 1e-4 with ${derivative} curve_fit: ${agree} of ${responses}; off the truth by more than a tenth: ours ${oursOff}, theirs ${theirsOff}`,
          );
      }
    }
    return measured;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

if (process.argv[1]?.endsWith("fitSpeed.ts"))
  for (const m of fitSpeed(Number(process.argv[2] ?? 10_000), Number(process.argv[3] ?? 3)))
    console.log(`${m.what}: ${m.value.toFixed(2)} (${m.detail})`);
