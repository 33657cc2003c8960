import type { Constants } from "../identify/index.js";
import type { Bench } from "../motor/bench.js";
import type { SpeedGains } from "../motor/speedGains.js";
import { voltageLimit } from "../motor/voltageLimit.js";
import { upperMedian } from "../numeric/series/median.js";
import type { Run } from "../run/run.js";
import { type BenchStep, recordedSteps, runStep, tooLongToRun } from "./benchStep.js";
import type { LoopOfRun } from "./fromRun/loopFromRun.js";
import { type FixedLoop, fixLoop, type SpeedLoop } from "./models/speedLoop.js";

/** What the real loop does with proposed gains. */
export interface BenchCheck {
  readonly steps: readonly BenchStep[];
  /** Every step was reached, settled and did not overshoot by much more than expected. */
  readonly passed: boolean;
  readonly text: string;
}

/** A bench to check gains on, and what had to be taken for granted to build it. */
export interface CheckBench {
  /** Runs gains (SI) on the bench and holds the overshoot against the one expected, as a share of the step. Undefined
   * where the simulation would take too long, which is then one of the assumptions. */
  readonly check: (gains: Required<SpeedGains>, expectedOvershoot: number) => BenchCheck | undefined;
  /** The steps that are run, rad/s. */
  readonly steps: readonly { readonly from: number; readonly to: number }[];
  /** Whether the steps are the recorded ones. */
  readonly recorded: boolean;
  readonly assumed: readonly string[];
}

/** Highest electrical frequency of a step that is run, rad/s: 10 kHz, beyond any drive's (common practice, no
 * source). */
const fastestFrequency = 2 * Math.PI * 10_000;

/** What is said of a bench that is too fine to be run. */
const tooFine =
  "not all gains were run on the bench simulator: its time constants are too short beside the step";

/** Share of the current limit that the command may move by, RMS, when all has settled (common practice, no source). */
const bearableChatter = 0.2;

/**
 * Builds a bench for checking gains from what a recording gave: machine with winding, back-EMF and friction, the drive
 * with its current controller, current limit and bus, the encoder with its counts, the speed loop sampled and one
 * period late. The steps are those of the recorded speed trials, the largest ones where there are many; without any,
 * one of `otherStep`.
 *
 * @param otherStep size of the step where none was recorded, rad/s
 * @example
 * const put = loopFromRun(run);
 * const plant = put.loop ?? put.plantOnly;
 * const made = plant && benchForCheck(run, constants, put, plant, 50);
 * made?.recorded; // => true (the steps are those of the recording)
 */
export function benchForCheck(
  run: Run,
  constants: Constants,
  put: LoopOfRun,
  loop: Omit<SpeedLoop, "gains">,
  otherStep: number,
): CheckBench {
  const { trials } = run;
  const fixed = fixLoop({ ...loop, gains: { kp: 1, ki: 1 } });
  const assumed: string[] = [];
  const { machine, drive } = run.recording;
  const polePairs = Math.max(1, Math.round(machine.polePairs ?? drive.polePairs ?? 4));
  const told = recordedSteps(trials, fastestFrequency / polePairs);
  const recorded = told.length > 0;
  const steps = recorded ? told : [{ from: 0, to: otherStep }];
  if (!recorded && recordedSteps(trials).length > 0)
    assumed.push(
      `the recorded steps of the speed reference are beyond what a drive can turn: one of ${short(otherStep)} rad/s is taken`,
    );
  const fastest = Math.max(...steps.map((s) => Math.max(Math.abs(s.from), Math.abs(s.to))));
  const fluxLinkage = fixed.torqueConstant / (1.5 * polePairs);
  const limit = currentLimitOf(fixed, fastest, assumed);
  const emf = fastest * polePairs * fluxLinkage;
  const electrics = electricsOf(run, constants, put.ratiosOnly, { emf, limit }, assumed);
  const { voltageChecked, resistance, inductance } = electrics;
  const timing = timingOf(fixed, assumed);
  const lines = linesOf(fixed, assumed);
  const gain = Math.min(1, Math.abs(fixed.torqueGain));
  const bench = (gains: SpeedGains): Bench => ({
    motor: {
      polePairs,
      resistance,
      inductanceD: inductance,
      inductanceQ: inductance,
      fluxLinkage,
      inertia: fixed.inertia,
      coulombFriction: fixed.coulomb,
      staticFriction: fixed.static,
      viscousFriction: fixed.viscous,
    },
    drive: {
      busVoltage: electrics.busVoltage,
      modulation: electrics.modulation,
      currentLimit: limit,
      polePairs,
      encoderLines: lines,
      speedLoop: { kp: gains.kp, ki: gains.ki },
      ...timing,
      alignment: gain < 1 ? { kind: "disturbed", by: Math.acos(gain) } : { kind: "aligned" },
    },
    encoder: { lines, sense: 1 },
    order: "UVW",
  });

  // Gains that help are asked for again when their proposal is made.
  const runs = new Map<string, readonly BenchStep[]>();
  const check: CheckBench["check"] = (gains, expectedOvershoot) => {
    const key = `${gains.kp},${gains.ki},${gains.referenceWeight}`;
    const made = bench(gains);
    if (steps.some((step) => tooLongToRun(made, gains, step))) {
      if (!assumed.includes(tooFine)) assumed.push(tooFine);
      return undefined;
    }
    const ran = runs.get(key) ?? steps.map((step) => runStep(made, gains, step, voltageChecked));
    runs.set(key, ran);
    return judged(ran, limit, expectedOvershoot);
  };
  return { check, steps, recorded, assumed };
}

/** The current limit, A; without one a current that would turn the inertia to the fastest reference in 10 ms. */
function currentLimitOf(fixed: FixedLoop, fastest: number, assumed: string[]): number {
  if (Number.isFinite(fixed.currentLimit)) return fixed.currentLimit;
  assumed.push("the current limit is not known: none is set");
  return (100 * fastest * fixed.inertia) / Math.max(Math.abs(fixed.torquePerAmpere), 1e-12);
}

/** Winding and bus of the bench; `voltageChecked` says whether the bus is that of the recording. */
interface Electrics {
  readonly resistance: number;
  readonly inductance: number;
  readonly busVoltage: number;
  readonly modulation: NonNullable<Bench["drive"]["modulation"]>;
  readonly voltageChecked: boolean;
}

/** @param largest back-EMF at the fastest reference, V, and current limit, A */
function electricsOf(
  run: Run,
  constants: Constants,
  ratiosOnly: boolean,
  { emf, limit }: { readonly emf: number; readonly limit: number },
  assumed: string[],
): Electrics {
  const { machine, drive } = run.recording;
  const known = (value: number | undefined): number | undefined =>
    value !== undefined && value > 0 && Number.isFinite(value) ? value : undefined;
  let resistance = known(constants.electrical.resistance?.value) ?? known(machine.resistance);
  let inductance = known(
    constants.electrical.inductanceQ?.value ?? machine.inductanceQ ?? machine.inductanceD,
  );
  const busVoltage = ratiosOnly ? undefined : (known(drive.busVoltage) ?? logged(run));
  if (ratiosOnly)
    assumed.push(
      "the torque constant is not known, so neither is the back-EMF: the voltage limit is not checked",
    );
  else if (busVoltage === undefined)
    assumed.push("the bus voltage is not known: the voltage limit is not checked; state it as busVoltage");
  const modulation = drive.modulation ?? "space-vector";
  if (busVoltage !== undefined && drive.modulation === undefined)
    assumed.push("the modulation is not known: space-vector is taken for the voltage limit");
  if (resistance === undefined || ratiosOnly) {
    resistance =
      (0.1 * Math.max(emf, busVoltage === undefined ? 0 : voltageLimit(busVoltage, modulation))) / limit;
    if (!ratiosOnly && busVoltage !== undefined)
      assumed.push("the phase resistance is not known: a tenth of the voltage at the current limit is taken");
  }
  if (inductance === undefined || ratiosOnly) {
    inductance = 2e-3 * resistance;
    if (!ratiosOnly)
      assumed.push("the inductance is not known: an electrical time constant of 2 ms is taken");
  }
  return {
    resistance,
    inductance,
    busVoltage: busVoltage ?? Math.sqrt(3) * (4 * emf + 20 * resistance * limit),
    modulation,
    voltageChecked: busVoltage !== undefined,
  };
}

/** Sampling and filters of the drive. */
function timingOf(
  fixed: FixedLoop,
  assumed: string[],
): Pick<Bench["drive"], "samplePeriod" | "currentBandwidth" | "speedDivider" | "speedFilter"> {
  const sampleTime = fixed.sampleTime > 0 ? fixed.sampleTime : 5e-4;
  // The current loop runs several times within a sample of the speed loop, at least 20 times a period of its own
  // bandwidth.
  const currentBandwidth = Number.isFinite(fixed.currentBandwidth) ? fixed.currentBandwidth : 3000;
  const speedDivider = Math.max(1, Math.ceil(sampleTime / Math.min(1e-4, 0.2 / currentBandwidth)));
  const samplePeriod = sampleTime / speedDivider;
  if (!Number.isFinite(fixed.currentBandwidth))
    assumed.push("the current loop's bandwidth is not known: 3000 rad/s is taken");
  // The bench itself is one of its samples late.
  const late = Math.max(0, fixed.computationDelay - samplePeriod);
  const differencing = fixed.difference ? 0 : sampleTime / 2;
  const filter = Number.isFinite(fixed.speedFilter) ? 1 / fixed.speedFilter : 0;
  const speedFilter = Math.max(0, filter - differencing) + late;
  return { samplePeriod, currentBandwidth, speedDivider, speedFilter };
}

function linesOf({ countsPerTurn }: FixedLoop, assumed: string[]): number {
  if (countsPerTurn !== undefined) return Math.max(1, Math.round(countsPerTurn / 4));
  assumed.push("the encoder's lines are not known: 25000 are taken, so that counts play no part");
  return 25000;
}

/** What is wrong with the steps that were run, and which limits they touched. */
function judged(ran: readonly BenchStep[], limit: number, expectedOvershoot: number): BenchCheck {
  const wrong: string[] = [];
  const marks: string[] = [];
  for (const s of ran) {
    const name = `${short(s.from)} to ${short(s.to)} rad/s`;
    if (s.rise === undefined) wrong.push(`the step ${name} is not reached`);
    else if (s.settling === undefined) wrong.push(`the step ${name} does not settle to 2 %`);
    else if (s.ripple > bearableChatter * limit)
      wrong.push(`the current chatters by ${short(s.ripple)} A RMS after the step ${name}`);
    else if (s.overshoot > Math.max(0.15, expectedOvershoot + 0.1))
      wrong.push(`the step ${name} overshoots by ${(100 * s.overshoot).toFixed(0)} %`);
    if ((s.voltageLimitShare ?? 0) > 0.01) marks.push(`the voltage limit on the step ${name}`);
    if (s.currentLimitShare > 0.01) marks.push(`the current limit on the step ${name}`);
  }
  const touched = marks.length > 0 ? `touches ${marks.join(" and ")}` : "";
  return {
    steps: ran,
    passed: wrong.length === 0,
    text:
      wrong.length > 0
        ? [wrong.join("; "), touched].filter((t) => t !== "").join("; ")
        : touched || "settles without touching a limit",
  };
}

/** Median of the logged bus voltage, V. */
function logged(run: Run): number | undefined {
  const middle = upperMedian(run.channel("voltageBus")?.values ?? []);
  return middle > 0 ? middle : undefined;
}

const short = (x: number): string => String(Number(x.toPrecision(3)));
