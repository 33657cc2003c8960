import { voltageLimit } from "../../motor/voltageLimit.js";
import { studentQuantile } from "../../numeric/distributions/studentQuantile.js";
import type { Run } from "../../run/run.js";
import type { Book } from "../book.js";
import { meanEstimate } from "../meanEstimate.js";
import type { SteadyPoint } from "../mechanical/steadyPoints.js";
import { addBackEmf } from "./electrical.js";
import { unseenFlux, voltageErrors } from "./voltageLimit.js";

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
  const plateaus = new Plateaus(run, largestCurrent, book);
  const psis = plateaus.fluxes(points);
  if (psis.length === 0) return;
  const offset = book.get("offsetError");
  const aligned = offset === undefined || Math.abs(Math.sin((offset.value * Math.PI) / 180)) < 0.17;
  if (!alreadyFound && aligned) addMean(plateaus, psis, book);
  compareDirections(psis, book);
}

/** Flux per shaft speed of one plateau, N m/A, with the sense in which it turned. */
interface Flux {
  readonly value: number;
  readonly low: number;
  readonly high: number;
  readonly sense: number;
  readonly samples: number;
}

interface Interval {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** What of a recording says how voltage divides on a plateau. */
class Plateaus {
  readonly bus: Float64Array | undefined;
  readonly pairs: number | undefined;
  /** How the resistance is known. */
  readonly words: string;
  readonly modulationWords: string;
  private readonly stated: number | undefined;
  /** Phase voltage at the limit over the bus voltage. */
  private readonly share: number;
  private readonly resistance: Interval | undefined;
  private readonly currentD: Float64Array | undefined;
  /** Inductance times pole pairs, H; 0 where it is not known. */
  private readonly inductance: number;

  constructor(
    run: Run,
    private readonly largestCurrent: number,
    book: Book,
  ) {
    const { machine, drive } = run.recording;
    this.bus = run.channel("voltageBus")?.values;
    this.stated = drive.busVoltage;
    const modulation = drive.modulation ?? "space-vector";
    this.share = voltageLimit(1, modulation);
    this.modulationWords = `${modulation} modulation ${drive.modulation === undefined ? "assumed" : "as stated"}`;
    const known = book.get("resistance");
    const fact = machine.resistance;
    this.resistance = known ?? (fact === undefined ? undefined : { value: fact, low: fact, high: fact });
    this.words =
      known !== undefined
        ? "R from the voltages"
        : fact !== undefined
          ? "R as stated"
          : "R unknown, interval covers 0 to its largest possible value";
    this.currentD = run.channel("currentD")?.values;
    this.pairs = machine.polePairs ?? drive.polePairs;
    this.inductance = (book.get("inductanceQ")?.value ?? machine.inductanceQ ?? 0) * (this.pairs ?? 0);
  }

  fluxes(points: readonly SteadyPoint[]): Flux[] {
    if (this.bus === undefined && this.stated === undefined) return [];
    return points.flatMap((point) => this.fluxAt(point) ?? []);
  }

  private fluxAt(point: SteadyPoint): Flux | undefined {
    const { bus, share, currentD, inductance: L } = this;
    const m = bus === undefined ? null : meanEstimate(bus.subarray(point.from, point.to));
    const voltage = (m?.mean ?? this.stated!) * share;
    if (!(voltage > 0)) return undefined;
    const R = this.resistance ?? this.possibleResistance(voltage);
    const i = Math.abs(point.input);
    const w = Math.abs(point.speed);
    // The current on the d axis, when logged, and the cross-coupling, when the inductance is known.
    const id = currentD === undefined ? 0 : meanEstimate(currentD.subarray(point.from, point.to)).mean;
    const across = R.value * id - w * L * i * Math.sign(point.speed) * Math.sign(point.input);
    const along = Math.sqrt(Math.max(0, voltage * voltage - across * across));
    const psi = (along - R.value * i) / w - L * id;
    if (!(psi > 0)) return undefined;
    const critical = studentQuantile(0.975, point.degreesOfFreedom);
    const random =
      critical *
      Math.hypot(
        ((m?.standardError ?? 0) * share) / w,
        (R.value * point.inputError) / w,
        (psi * point.speedError) / w,
      );
    const unseen = this.unseenFlux(R.value, i, id);
    const error = voltageErrors[bus === undefined ? "stated" : "logged"];
    const given = (1.96 * (currentD === undefined ? Math.hypot(error, unseenFlux) : error) * voltage) / w;
    const below = Math.hypot(random, unseen, given, ((R.high - R.value) * i) / w);
    const above = Math.hypot(random, unseen, given, ((R.value - R.low) * i) / w);
    const sense = Math.sign(point.speed);
    return { value: psi, low: psi - below, high: psi + above, sense, samples: point.samples };
  }

  /** From none to what would have used up all the voltage at the largest current. */
  private possibleResistance(voltage: number): Interval {
    const most = this.largestCurrent > 0 ? voltage / this.largestCurrent : 0;
    return { value: most / 4, low: 0, high: most };
  }

  /**
   * What may be hidden in the flux: a d current that is not logged may be up to half the quadrature current at the
   * voltage limit; an inductance that is not known, L/R = 1 ms.
   */
  private unseenFlux(resistance: number, i: number, id: number): number {
    const L = this.inductance;
    const reactance = L > 0 ? L : (this.pairs ?? 4) * resistance * 1e-3;
    if (this.currentD === undefined) return reactance * 0.5 * i;
    return L > 0 ? 0 : reactance * Math.abs(id);
  }
}

/** Adds the mean of the plateaus. The resistance is common to all, so the intervals do not shrink by averaging. */
function addMean(plateaus: Plateaus, psis: readonly Flux[], book: Book): void {
  const mean = (of: (p: Flux) => number): number => psis.reduce((s, p) => s + of(p), 0) / psis.length;
  addBackEmf(
    book,
    { value: mean((p) => p.value), low: mean((p) => p.low), high: mean((p) => p.high) },
    {
      method: `voltage-limited plateau, ${plateaus.modulationWords}, ${plateaus.words}`,
      samples: psis.reduce((s, p) => s + p.samples, 0),
      channels: [
        plateaus.bus === undefined ? "stated bus voltage" : "voltageBus",
        "current",
        "position or speed",
      ],
    },
    "magnets taken as aligned",
    plateaus.pairs,
  );
}

/** Says where the two directions differ: part of the current then lies on the magnet axis. */
function compareDirections(psis: readonly Flux[], book: Book): void {
  const up = psis.filter((p) => p.sense > 0).map((p) => p.value);
  const down = psis.filter((p) => p.sense < 0).map((p) => p.value);
  if (up.length === 0 || down.length === 0) return;
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
