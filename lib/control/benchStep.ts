import type { Bench, Segment } from "../motor/bench.js";
import type { SpeedGains } from "../motor/speedGains.js";
import { voltageLimit } from "../motor/voltageLimit.js";
import type { Trial } from "../recording/types.js";
import { innerStep, simulate } from "../simulation/simulate.js";
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

/** Most steps run for one proposal, and longest run of one, s. */
const mostSteps = 3;
const longest = 6;

/** Most inner steps of the simulation that one run may take. */
const mostInnerSteps = 5e6;

/** The steps of the speed reference that the recording holds, the largest first; those alike count once, and those to
 * or from more than `fastest`, rad/s, do not. */
export function recordedSteps(
  trials: readonly Trial[],
  fastest = Number.POSITIVE_INFINITY,
): { from: number; to: number }[] {
  const found: { from: number; to: number }[] = [];
  for (const trial of trials) {
    if (trial.kind !== "speed" || trial.command !== "speedCommand") continue;
    for (const { from, to } of trial.steps) {
      const size = Math.abs(to - from);
      if (!(size > 0) || Math.abs(from) > fastest || Math.abs(to) > fastest) continue;
      const alike = (a: { from: number; to: number }): boolean =>
        Math.abs(a.from - from) < 0.02 * size && Math.abs(a.to - to) < 0.02 * size;
      if (!found.some(alike)) found.push({ from, to });
    }
  }
  return found.sort((a, b) => Math.abs(b.to - b.from) - Math.abs(a.to - a.from)).slice(0, mostSteps);
}

/** Time that a step is given to settle, s. */
function settleTime(
  { motor, drive }: Bench,
  gains: Required<SpeedGains>,
  { from, to }: { readonly from: number; readonly to: number },
): number {
  const kt = 1.5 * motor.polePairs * motor.fluxLinkage;
  const integralTime = gains.ki > 0 ? gains.kp / gains.ki : 0;
  const crossover = (kt * gains.kp) / motor.inertia;
  const runUp =
    (motor.inertia * Math.abs(to - from)) /
    Math.max(0.3 * kt * drive.currentLimit, kt * drive.currentLimit - motor.coulombFriction);
  return Math.min(longest, Math.max(0.05, 8 * integralTime + 30 / crossover + 3 * runUp));
}

/** Whether a step takes more of the simulation than one check is worth: a winding or a current loop of microseconds, an
 * electrical speed of many kilohertz. */
export function tooLongToRun(
  bench: Bench,
  gains: Required<SpeedGains>,
  step: { readonly from: number; readonly to: number },
): boolean {
  const time = (step.from === 0 ? 1 : 2) * settleTime(bench, gains, step);
  return !(time / innerStep(bench) <= mostInnerSteps);
}

/** Runs one step on the bench. The reference weight is a lag of the reference (kp*(b*r - w) + ki*integral(r - w) is a
 * plain PI behind (b*Ti*s + 1)/(Ti*s + 1)). */
export function runStep(
  bench: Bench,
  gains: Required<SpeedGains>,
  { from, to }: { readonly from: number; readonly to: number },
  voltageChecked: boolean,
): BenchStep {
  const { drive } = bench;
  const size = Math.abs(to - from);
  const integralTime = gains.ki > 0 ? gains.kp / gains.ki : 0;
  const settle = settleTime(bench, gains, { from, to });
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
