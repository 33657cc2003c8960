import type { Constants } from "../identify/index.js";
import type { Bench, Segment } from "../motor/bench.js";
import type { SpeedGains } from "../motor/speedGains.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { simulate, voltageLimit } from "../simulation/simulate.js";
import type { LoopOfRun } from "./fromRun/loopFromRun.js";
import { fixLoop, type SpeedLoop } from "./models/speedLoop.js";
import { stepFigures } from "./models/stepPrediction.js";

/** One step of the speed reference as the bench simulator runs it. */
export interface BenchStep {
  /** Speed reference before and after, rad/s. */
  readonly from: number;
  readonly to: number;
  /** 10 % to 90 % of the step, s; absent when 90 % was not reached. */
  readonly rise?: number;
  /** Share of the step. */
  readonly overshoot: number;
  /** To within 2 % of the step, s; absent when the run ended outside. */
  readonly settling?: number;
  /** A. */
  readonly peakCurrent: number;
  /** RMS movement of the current command about its mean over the last quarter of the run, A: chatter by counts or an
   * unstable loop. */
  readonly ripple: number;
  /** Share of the time to settle in which the current command stood at its limit. */
  readonly currentLimitShare: number;
  /** The same of the voltage; absent where the bus voltage or the torque constant is not known. */
  readonly voltageLimitShare?: number;
}

/** What the real loop does with proposed gains. */
export interface BenchCheck {
  readonly steps: readonly BenchStep[];
  /** Every step was reached, settled and did not overshoot by much more than expected. */
  readonly passed: boolean;
  readonly text: string;
}

/** A bench to check gains on, and what had to be taken for granted to build it. */
export interface CheckBench {
  /** Runs gains (SI) on the bench and holds the overshoot against the one expected, as a share of the step. */
  readonly check: (gains: Required<SpeedGains>, expectedOvershoot: number) => BenchCheck;
  /** The steps that are run, rad/s. */
  readonly steps: readonly { readonly from: number; readonly to: number }[];
  /** Whether the steps are the recorded ones. */
  readonly recorded: boolean;
  readonly assumed: readonly string[];
}

/** Most steps run for one proposal, and longest run of one, s. */
const mostSteps = 3;
const longest = 6;

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
  const assumed: string[] = [];
  const fixed = fixLoop({ ...loop, gains: { kp: 1, ki: 1 } });
  const { trials } = run;
  const { machine, drive } = run.recording;
  const { ratiosOnly } = put;
  const polePairs = Math.max(1, Math.round(machine.polePairs ?? drive.polePairs ?? 4));
  const torqueConstant = fixed.torqueConstant;
  const fluxLinkage = torqueConstant / (1.5 * polePairs);
  const steps = recordedSteps(trials, otherStep);
  const fastest = Math.max(...steps.map((s) => Math.max(Math.abs(s.from), Math.abs(s.to))));
  const currentLimit = Number.isFinite(fixed.currentLimit) ? fixed.currentLimit : undefined;
  if (currentLimit === undefined) assumed.push("the current limit is not known: none is set");
  // A current that would turn the inertia to the fastest reference in 10 ms stands for no limit.
  const limit =
    currentLimit ?? (100 * fastest * fixed.inertia) / Math.max(Math.abs(fixed.torquePerAmpere), 1e-12);

  const known = (value: number | undefined): number | undefined =>
    value !== undefined && value > 0 && Number.isFinite(value) ? value : undefined;
  let resistance = known(constants.electrical.resistance?.value) ?? known(machine.resistance);
  let inductance = known(
    constants.electrical.inductanceQ?.value ?? machine.inductanceQ ?? machine.inductanceD,
  );
  const busKnown = known(drive.busVoltage) ?? logged(run);
  let busVoltage = busKnown;
  if (ratiosOnly) {
    busVoltage = undefined;
    assumed.push(
      "the torque constant is not known, so neither is the back-EMF: the voltage limit is not checked",
    );
  } else if (busVoltage === undefined)
    assumed.push("the bus voltage is not known: the voltage limit is not checked; state it as busVoltage");
  const modulation = drive.modulation ?? "space-vector";
  if (busVoltage !== undefined && drive.modulation === undefined)
    assumed.push("the modulation is not known: space-vector is taken for the voltage limit");
  const emf = fastest * polePairs * fluxLinkage;
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
  const voltageChecked = busVoltage !== undefined;
  busVoltage ??= Math.sqrt(3) * (4 * emf + 20 * resistance * limit);

  const sampleTime = fixed.sampleTime > 0 ? fixed.sampleTime : 5e-4;
  // The current loop runs several times within a sample of the speed loop, at least 20 times a period of its own
  // bandwidth.
  const wanted = Number.isFinite(fixed.currentBandwidth) ? fixed.currentBandwidth : 3000;
  const speedDivider = Math.max(1, Math.ceil(sampleTime / Math.min(1e-4, 0.2 / wanted)));
  const samplePeriod = sampleTime / speedDivider;
  if (!Number.isFinite(fixed.currentBandwidth))
    assumed.push("the current loop's bandwidth is not known: 3000 rad/s is taken");
  const ownDelay = samplePeriod;
  const late = Math.max(0, fixed.computationDelay - ownDelay);
  const differencing = fixed.difference ? 0 : sampleTime / 2;
  const filter = Number.isFinite(fixed.speedFilter) ? 1 / fixed.speedFilter : 0;
  const speedFilter = Math.max(0, filter - differencing) + late;
  const lines = fixed.countsPerTurn === undefined ? 25000 : Math.max(1, Math.round(fixed.countsPerTurn / 4));
  if (fixed.countsPerTurn === undefined)
    assumed.push("the encoder's lines are not known: 25000 are taken, so that counts play no part");
  const gain = Math.min(1, Math.abs(fixed.torqueGain));
  const bench = (gains: SpeedGains): Bench => ({
    motor: {
      polePairs,
      resistance: resistance as number,
      inductanceD: inductance as number,
      inductanceQ: inductance as number,
      fluxLinkage,
      inertia: fixed.inertia,
      coulombFriction: fixed.coulomb,
      staticFriction: fixed.static,
      viscousFriction: fixed.viscous,
    },
    drive: {
      busVoltage: busVoltage as number,
      modulation,
      currentLimit: limit,
      samplePeriod,
      currentBandwidth: wanted,
      polePairs,
      encoderLines: lines,
      speedLoop: { kp: gains.kp, ki: gains.ki },
      speedDivider,
      speedFilter,
      alignment: gain < 1 ? { kind: "disturbed", by: Math.acos(gain) } : { kind: "aligned" },
    },
    encoder: { lines, sense: 1 },
    order: "UVW",
  });

  // Gains that help are asked for again when their proposal is made.
  const runs = new Map<string, readonly BenchStep[]>();
  const check = (gains: Required<SpeedGains>, expectedOvershoot: number): BenchCheck => {
    const key = `${gains.kp},${gains.ki},${gains.referenceWeight}`;
    const ran = runs.get(key) ?? steps.map((step) => runStep(bench(gains), gains, step, voltageChecked));
    runs.set(key, ran);
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
  };
  return { check, steps, recorded: trials.some((t) => t.kind === "speed" && t.steps.length > 0), assumed };
}

/** Median of the logged bus voltage, V. */
function logged(run: Run): number | undefined {
  const data = run.channel("voltageBus")?.values.filter((v) => Number.isFinite(v));
  if (data === undefined || data.length === 0) return undefined;
  const middle = data.sort()[data.length >> 1];
  return middle > 0 ? middle : undefined;
}

/** The steps of the speed reference that the recording holds, the largest first; those alike count once. */
function recordedSteps(trials: readonly Trial[], otherStep: number): { from: number; to: number }[] {
  const found: { from: number; to: number }[] = [];
  for (const trial of trials) {
    if (trial.kind !== "speed" || trial.command !== "speedCommand") continue;
    for (const { from, to } of trial.steps) {
      const size = Math.abs(to - from);
      if (!(size > 0)) continue;
      const alike = (a: { from: number; to: number }): boolean =>
        Math.abs(a.from - from) < 0.02 * size && Math.abs(a.to - to) < 0.02 * size;
      if (!found.some(alike)) found.push({ from, to });
    }
  }
  if (found.length === 0) return [{ from: 0, to: otherStep }];
  return found.sort((a, b) => Math.abs(b.to - b.from) - Math.abs(a.to - a.from)).slice(0, mostSteps);
}

/** Runs one step on the bench. The reference weight is a lag of the reference (kp*(b*r - w) + ki*integral(r - w) is a
 * plain PI behind (b*Ti*s + 1)/(Ti*s + 1)). */
function runStep(
  bench: Bench,
  gains: Required<SpeedGains>,
  { from, to }: { readonly from: number; readonly to: number },
  voltageChecked: boolean,
): BenchStep {
  const { motor, drive } = bench;
  const kt = 1.5 * motor.polePairs * motor.fluxLinkage;
  const size = Math.abs(to - from);
  const integralTime = gains.ki > 0 ? gains.kp / gains.ki : 0;
  const crossover = (kt * gains.kp) / motor.inertia;
  const runUp =
    (motor.inertia * size) /
    Math.max(0.3 * kt * drive.currentLimit, kt * drive.currentLimit - motor.coulombFriction);
  const settle = Math.min(longest, Math.max(0.05, 8 * integralTime + 30 / crossover + 3 * runUp));
  const program: Segment[] = [];
  if (from !== 0) program.push({ kind: "speed", from, duration: settle });
  else program.push({ kind: "speed", from: 0, duration: 2 * drive.samplePeriod * (drive.speedDivider ?? 1) });
  const start = program[0].duration;
  const b = gains.referenceWeight;
  if (b < 1 && integralTime > 0) {
    const at = (t: number): number => to + (from - to) * (1 - b) * Math.exp(-t / integralTime);
    const pieces = 40;
    const reach = Math.min(6 * integralTime, 0.8 * settle);
    for (let k = 0; k < pieces; k++) {
      const [t0, t1] = [(k / pieces) ** 2 * reach, ((k + 1) / pieces) ** 2 * reach];
      // A piece shorter than a sample would not be run at all.
      if (Math.round((start + t1) / drive.samplePeriod) <= Math.round((start + t0) / drive.samplePeriod))
        continue;
      program.push({ kind: "speed", from: at(t0), to: at(t1), duration: t1 - t0 });
    }
    program.push({ kind: "speed", from: to, duration: settle - reach });
  } else program.push({ kind: "speed", from: to, duration: settle });
  const trace = simulate(bench, program, { logRate: Math.min(1 / drive.samplePeriod, 10_000) });
  let first = 0;
  while (first < trace.time.length && trace.time[first] < start - 1e-9) first++;
  const time = trace.time.slice(first);
  // As a change from the old reference, along the step.
  const value = trace.truth.speed.slice(first);
  const along = Math.sign(to - from);
  for (let k = 0; k < time.length; k++) {
    time[k] -= start;
    value[k] = (value[k] - from) * along;
  }
  const command = trace.currentCommand.subarray(first);
  const figures = stepFigures(time, value, size, trace.current.subarray(first), command);
  const until = figures.settling ?? Number.POSITIVE_INFINITY;
  const available = voltageLimit(drive.busVoltage, drive.modulation);
  let rows = 0;
  let atCurrent = 0;
  let atVoltage = 0;
  for (let k = 0; k < time.length && time[k] <= until; k++) {
    rows++;
    if (Math.abs(trace.currentCommand[first + k]) >= 0.999 * drive.currentLimit) atCurrent++;
    if (Math.hypot(trace.voltageD[first + k], trace.voltageQ[first + k]) >= 0.999 * available) atVoltage++;
  }
  return {
    from,
    to,
    ...figures,
    ripple: deviationOf(command.subarray(Math.floor(0.75 * time.length))),
    currentLimitShare: rows > 0 ? atCurrent / rows : 0,
    ...(voltageChecked ? { voltageLimitShare: rows > 0 ? atVoltage / rows : 0 } : {}),
  };
}

/** RMS deviation from the mean. */
function deviationOf(values: Float64Array): number {
  const count = Math.max(1, values.length);
  let sum = 0;
  for (let k = 0; k < values.length; k++) sum += values[k];
  const mean = sum / count;
  let squares = 0;
  for (let k = 0; k < values.length; k++) squares += (values[k] - mean) ** 2;
  return Math.sqrt(squares / count);
}

const short = (x: number): string => String(Number(x.toPrecision(3)));
