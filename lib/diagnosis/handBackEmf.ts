import { largest } from "../numeric/series/largest.js";
import { speedFromPosition } from "../numeric/series/speedFromPosition.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { column } from "../run/trialSignals.js";
import { degrees, short } from "./observe.js";
import type { Evidence } from "./types.js";

/** Commutation mismatch and offset error by the back-EMF of a turn by hand. */
export interface HandBackEmf {
  readonly mismatch: number;
  readonly error: number;
  /** Electrical rad; absent where the mismatch is not none. */
  readonly offset?: number;
}

/**
 * Commutation mismatch (with its sign) from the back-EMF of a turn by hand while current control holds zero current: in
 * the drive's own coordinates the vector of the voltages stands still when n = 0 and turns n times a shaft turn
 * otherwise (theory, section 1).
 */
export function handBackEmf(run: Run, trial: Trial, angle: Float64Array): HandBackEmf | undefined {
  const vd = column(run, "voltageD", trial);
  const vq = column(run, "voltageQ", trial);
  if (!vd || !vq) return undefined;
  const { speed } = speedFromPosition(run.time.subarray(trial.from, trial.to), angle);
  const top = largest(speed);
  const size = vd.map((v, i) => Math.hypot(v, vq[i]));
  const most = largest(size);
  if (!(top > 0) || !(most > 0)) return undefined;
  // Only where the shaft turns well: there the voltage must follow the speed, or it is no back-EMF.
  const used: number[] = [];
  const stride = Math.max(1, Math.floor(angle.length / 600));
  for (let i = 0; i < angle.length; i += stride) if (Math.abs(speed[i]) > 0.4 * top) used.push(i);
  if (used.length < 30) return undefined;
  const travel = Math.abs(angle[used[used.length - 1]] - angle[used[0]]);
  if (travel < 1) return undefined;
  let xy = 0;
  let xx = 0;
  let yy = 0;
  for (const i of used) {
    xy += size[i] * Math.abs(speed[i]);
    xx += speed[i] ** 2;
    yy += size[i] ** 2;
  }
  if (xy / Math.sqrt(xx * yy) < 0.9) return undefined;
  // Of all mismatches, the one whose turning back leaves the vectors most alike.
  const alike = (n: number): { length: number; phase: number } => {
    let re = 0;
    let im = 0;
    let sum = 0;
    for (const i of used) {
      // v = j*w*lam*exp(-j*eps): divided by j*sign(w).
      const sign = Math.sign(speed[i]);
      const a = Math.atan2(-vd[i] * sign, vq[i] * sign) - n * (angle[i] - angle[used[0]]);
      re += size[i] * Math.cos(a);
      im += size[i] * Math.sin(a);
      sum += size[i];
    }
    return { length: Math.hypot(re, im) / sum, phase: Math.atan2(im, re) };
  };
  let best = { n: 0, ...alike(0) };
  const step = Math.min(0.25, 1 / travel);
  for (let n = -60; n <= 60; n += step) {
    const found = alike(n);
    if (found.length > best.length + 1e-9) best = { n, ...found };
  }
  for (let k = 0, fine = step / 2; k < 12; k += 1, fine /= 2)
    for (const n of [best.n - fine, best.n + fine]) {
      const found = alike(n);
      if (found.length > best.length) best = { n, ...found };
    }
  if (best.length < 0.8) return undefined;
  const error = Math.max(
    0.03,
    (3 * Math.sqrt(2 * (1 - best.length) + 1e-4)) / (travel * Math.sqrt(used.length / 20)),
  );
  return {
    mismatch: best.n,
    error,
    ...(Math.abs(best.n) < 3 * error ? { offset: -alike(0).phase } : {}),
  };
}

/** What the back-EMF shows, as evidence and in words; `pairs` are the pole pairs set, where known. */
export function describeBackEmf(
  { mismatch, error, offset }: HandBackEmf,
  pairs: number | undefined,
): { readonly evidence: Evidence; readonly said: string } {
  const still = Math.abs(mismatch) < 3 * error;
  const evidence = {
    quantity: "turns of the back-EMF vector in the drive's coordinates, a shaft turn",
    value: mismatch,
    unit: "1",
    limit: 3 * error,
    limitSource: "three standard errors of the fit",
    meaning: still
      ? "it stands still: the drive's angle turns with the magnets"
      : "it turns: leads, pole pairs or line count do not fit the encoder",
  };
  if (still) {
    const angle =
      offset === undefined
        ? ""
        : `, and the offset error is about ${short(degrees(offset))} electrical degrees`;
    return {
      evidence,
      said: `The back-EMF stands still in the drive's coordinates: lead sense, pole pairs and line count fit the encoder${angle}.`,
    };
  }
  const twice =
    pairs !== undefined && Math.abs(Math.abs(mismatch) - 2 * pairs) < Math.max(0.3, 3 * error)
      ? `, which is twice the ${pairs} pole pairs set: two leads, or A and B, are exchanged`
      : ": pole pairs or line count are wrong, or leads are exchanged";
  return {
    evidence,
    said: `The back-EMF turns ${short(Math.abs(mismatch))} times a shaft turn in the drive's coordinates${twice}.`,
  };
}
