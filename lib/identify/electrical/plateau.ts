import { studentQuantile } from "../../numeric/distributions/studentQuantile.js";
import type { Run } from "../../run/run.js";
import type { Book } from "../book.js";
import { meanEstimate } from "../meanEstimate.js";
import type { SteadyPoint } from "../mechanical/steadyPoints.js";
import { addBackEmf } from "./electrical.js";
import { unseenFlux, voltageErrors } from "./voltageLimited.js";

/**
 * Back-EMF from voltage-limited plateaus of a torque trial: with no voltage left, the vector R*i + w*psi is as long as
 * the bus allows, which is
 * Vdc/sqrt(3) (phase peak) with space-vector or third-harmonic modulation and Vdc/2 with plain sine. The modulation is
 * not
 * in the log: it is taken from the stated facts, or assumed to be space-vector, and said.
 *
 * Resistance comes from an estimate or a stated fact; without either it is only known to lie between zero and what
 * would have used up all the voltage at the largest
 * current reached; the interval covers that whole range, and a quarter of it is taken as the best value.
 *
 * @param alreadyFound the whole voltage-limited stretch gave a better answer: plateaus are only compared with each
 *   other
 */
export function backEmfFromPlateaus(
  run: Run,
  points: readonly SteadyPoint[],
  largestCurrent: number,
  alreadyFound: boolean,
  book: Book,
): void {
  if (points.length === 0) return;
  const { recording } = run;
  const bus = run.channel("voltageBus");
  const stated = recording.drive.busVoltage;
  if (bus === undefined && stated === undefined) return;
  const modulation = recording.drive.modulation ?? "space-vector";
  const share = modulation === "space-vector" ? 1 / Math.sqrt(3) : 0.5;
  const offset = book.get("offsetError");
  const aligned = offset === undefined || Math.abs(Math.sin((offset.value * Math.PI) / 180)) < 0.17;
  const known = book.get("resistance");
  const fact = recording.machine.resistance;
  const psis: { value: number; low: number; high: number; sense: number }[] = [];
  let samples = 0;
  for (const point of points) {
    const m = bus === undefined ? null : meanEstimate(bus.values.subarray(point.from, point.to));
    const voltage = (m?.mean ?? stated!) * share;
    if (!(voltage > 0)) continue;
    const most = largestCurrent > 0 ? voltage / largestCurrent : 0;
    const R =
      known !== undefined
        ? known
        : fact !== undefined
          ? { value: fact, low: fact, high: fact }
          : { value: most / 4, low: 0, high: most };
    const i = Math.abs(point.input);
    const w = Math.abs(point.speed);
    // The current on the d axis, when logged, and the cross-coupling, when the inductance is known.
    const d = run.channel("currentD");
    const p = recording.machine.polePairs ?? recording.drive.polePairs;
    const L = (book.get("inductanceQ")?.value ?? recording.machine.inductanceQ ?? 0) * (p ?? 0);
    const id = d === undefined ? 0 : meanEstimate(d.values.subarray(point.from, point.to)).mean;
    const across = R.value * id - w * L * i * Math.sign(point.speed) * Math.sign(point.input);
    const along = Math.sqrt(Math.max(0, voltage * voltage - across * across));
    const psi = (along - R.value * i) / w - L * id;
    const critical = studentQuantile(0.975, point.degreesOfFreedom);
    const random =
      critical *
      Math.hypot(
        ((m?.standardError ?? 0) * share) / w,
        (R.value * point.inputError) / w,
        (psi * point.speedError) / w,
      );
    // A d current that is not logged may be up to half the quadrature current at the voltage limit; an inductance that
    // is not known, L/R = 1 ms.
    const reactance = L > 0 ? L : (p ?? 4) * R.value * 1e-3;
    const unseen = d === undefined ? reactance * 0.5 * i : L > 0 ? 0 : reactance * Math.abs(id);
    const error = voltageErrors[bus === undefined ? "stated" : "logged"];
    const given = (1.96 * (d === undefined ? Math.hypot(error, unseenFlux) : error) * voltage) / w;
    const below = Math.hypot(random, unseen, given, ((R.high - R.value) * i) / w);
    const above = Math.hypot(random, unseen, given, ((R.value - R.low) * i) / w);
    if (psi > 0) {
      psis.push({ value: psi, low: psi - below, high: psi + above, sense: Math.sign(point.speed) });
      samples += point.samples;
    }
  }
  if (psis.length === 0) return;
  const mean = (of: (p: (typeof psis)[number]) => number): number =>
    psis.reduce((s, p) => s + of(p), 0) / psis.length;
  const value = mean((p) => p.value);
  // The resistance is common to all plateaus, so the intervals do not shrink by averaging.
  const low = mean((q) => q.low);
  const high = mean((q) => q.high);
  const words =
    known !== undefined
      ? "R from the voltages"
      : fact !== undefined
        ? "R as stated"
        : "R unknown, interval covers 0 to its largest possible value";
  if (!alreadyFound && aligned)
    addBackEmf(
      book,
      { value, low, high },
      {
        method: `voltage-limited plateau, ${recording.drive.modulation === undefined ? `${modulation} modulation assumed` : `${modulation} modulation as stated`}, ${words}`,
        samples,
        channels: [bus === undefined ? "stated bus voltage" : "voltageBus", "current", "position or speed"],
      },
      "magnets taken as aligned",
      recording.machine.polePairs ?? recording.drive.polePairs,
    );
  const up = psis.filter((p) => p.sense > 0).map((p) => p.value);
  const down = psis.filter((p) => p.sense < 0).map((p) => p.value);
  if (up.length > 0 && down.length > 0) {
    const a = up.reduce((s, x) => s + x, 0) / up.length;
    const b = down.reduce((s, x) => s + x, 0) / down.length;
    const ratio = b / a;
    if (Math.abs(ratio - 1) > 0.03)
      book.find(
        "warning",
        "plateaus-differ",
        `The plateau of one direction is ${Math.round(100 * Math.abs(ratio - 1))} % faster than that of the other.`,
        {
          value: ratio,
          unit: "1",
          meaning:
            "part of the current lies on the magnet axis: the offset of commutation is off, and kv from the plateaus carries it",
        },
      );
  }
}
