import type { LoopSimulation } from "./loopSimulation.js";
import { SampledController } from "./sampledController.js";
import { SimulatedDrive } from "./simulatedDrive.js";
import { SimulatedShaft } from "./simulatedShaft.js";
import { type FixedLoop, fixLoop, type SpeedLoop, smallTimeConstant, totalDelay } from "./speedLoop.js";

/** What is asked of the loop. */
export interface LoopProgram {
  /** s. */
  readonly duration: number;
  /** Speed reference, rad/s (position reference, rad, when the loop has a position gain), at each sample's time. */
  readonly reference: (time: number) => number;
  /** Load torque against positive rotation, N m. */
  readonly load?: (time: number) => number;
}

/** Samples of a simulated run, one per sample of the controller. */
export interface LoopTrace {
  readonly time: Float64Array;
  readonly reference: Float64Array;
  /** True speed of the shaft, rad/s. */
  readonly speed: Float64Array;
  /** Speed as the controller sees it: quantised, differenced, filtered. */
  readonly measured: Float64Array;
  /** rad. */
  readonly position: Float64Array;
  /** Quadrature current, A. */
  readonly current: Float64Array;
  /** Current command after the limit, A. */
  readonly command: Float64Array;
  /** Samples at which the command stood at the current limit. */
  readonly limited: number;
  /** Sample time used: the loop's own, or a fine one for a continuous loop. */
  readonly sampleTime: number;
}

/** A continuous loop as a finely sampled one with the same total delay; a sampled loop unchanged. */
export function finelySampled(loop: FixedLoop): FixedLoop {
  if (loop.sampleTime > 0) return loop;
  const k = Math.abs(loop.torquePerAmpere);
  const fastest = Math.max(
    (k * loop.kp) / loop.inertia,
    Math.sqrt((k * Math.abs(loop.ki)) / loop.inertia),
    loop.positionGain ?? 0,
    loop.viscous / loop.inertia,
  );
  const lag = smallTimeConstant(loop);
  // The hold's half sample comes out of the delay; without a delay to take it from, the samples must be finer.
  let sampleTime = fastest > 0 ? (totalDelay(loop) > 0 ? 0.01 : 0.003) / fastest : 1e-3;
  if (lag > 0) sampleTime = Math.min(sampleTime, lag / 8);
  const delay = totalDelay(loop);
  return {
    ...loop,
    sampleTime,
    computationDelay: Math.max(0, delay - sampleTime / 2),
    integration: "trapezoid",
  };
}

/**
 * Runs the loop sample by sample: controller, delay, current loop, shaft with friction, encoder. Between samples
 * current and speed move by their exact solutions over short steps, with friction's sign and sticking followed at each.
 *
 * @throws RangeError when the duration is not a positive finite number or needs more than two million samples
 * @example
 * const { time, speed } = simulateLoop(loop, { duration: 0.2, reference: () => 50 });
 */
export function simulateLoop(
  loop: SpeedLoop | FixedLoop,
  program: LoopProgram,
  options: LoopSimulation = {},
): LoopTrace {
  const p = finelySampled("plant" in loop ? fixLoop(loop) : loop);
  const ts = p.sampleTime;
  const count = samplesOf(program, ts);
  const trace = {
    time: new Float64Array(count),
    reference: new Float64Array(count),
    speed: new Float64Array(count),
    measured: new Float64Array(count),
    position: new Float64Array(count),
    current: new Float64Array(count),
    command: new Float64Array(count),
  };
  const shaft = new SimulatedShaft(p, options);
  const drive = new SimulatedDrive(p, shaft, options, program.load);
  const controller = new SampledController(p, shaft, options);
  const timing = delayOf(p);
  const past = new Array<number>(timing.whole + 2).fill(drive.current);
  for (let k = 0; k < count; k++) {
    const now = k * ts;
    const reference = program.reference(now);
    const command = controller.sample(reference, shaft.position, shaft.speed);
    past.unshift(command);
    past.pop();
    trace.time[k] = now;
    trace.reference[k] = reference;
    trace.speed[k] = shaft.speed;
    trace.measured[k] = controller.filtered;
    trace.position[k] = shaft.position;
    trace.current[k] = drive.current;
    trace.command[k] = command;
    const { whole, rest, late, soon } = timing;
    if (late > 0) drive.run(past[whole + 1], rest * ts, late, now);
    drive.run(past[whole], (1 - rest) * ts, soon, now + rest * ts);
  }
  return { ...trace, limited: controller.limited, sampleTime: ts };
}

/** Samples that a program takes. */
function samplesOf({ duration }: LoopProgram, ts: number): number {
  if (!(duration > 0) || !Number.isFinite(duration))
    throw new RangeError(`simulateLoop: duration must be above 0, found ${duration}`);
  const count = Math.floor(duration / ts + 1e-9) + 1;
  if (count > 2_000_000)
    throw new RangeError(`simulateLoop: ${count} samples of ${ts} s asked for, at most 2000000 are run`);
  return count;
}

/**
 * The delay of the command in whole samples and the rest of one, and the short steps within a sample before and after
 * the command changes.
 */
interface Delay {
  readonly whole: number;
  readonly rest: number;
  readonly late: number;
  readonly soon: number;
}

function delayOf({ computationDelay, sampleTime: ts, currentBandwidth }: FixedLoop): Delay {
  let whole = Math.floor(computationDelay / ts + 1e-9);
  let rest = computationDelay / ts - whole;
  if (rest < 1e-9) rest = 0;
  if (rest > 1 - 1e-9) {
    whole++;
    rest = 0;
  }
  const fineStep = Math.min(ts / 4, Number.isFinite(currentBandwidth) ? 0.25 / currentBandwidth : ts);
  const late = rest === 0 ? 0 : Math.max(1, Math.min(64, Math.ceil((rest * ts) / fineStep)));
  const soon = Math.max(1, Math.min(64, Math.ceil(((1 - rest) * ts) / fineStep)));
  return { whole, rest, late, soon };
}
