import type { Bench, BenchTrace, Segment } from "../motor/bench.js";
import { programTrials } from "../simulation/programs.js";
import type { RandomBench } from "../simulation/randomBench.js";
import { simulate } from "../simulation/simulate.js";
import type { ChannelRole, Recording } from "./types.js";
import { siUnits } from "./types.js";

/**
 * A simulated run as a recording, without a file between: what the drive would have logged, in SI, with its settings
 * stated.
 *
 * @param trace what `simulate` returned
 * @param bench the bench it ran on; only what the drive's settings say is passed on, never the truth
 * @param extra replaces or adds properties, for instance `{ channels }` to leave some out
 * @example
 * const recording = recordingFromTrace(simulate(bench, program), bench, { path: "run 1" });
 */
export function recordingFromTrace(
  trace: BenchTrace,
  bench: Bench,
  extra: Partial<Recording> = {},
): Recording {
  const perCount = (2 * Math.PI) / (4 * bench.drive.encoderLines);
  const columns: Partial<Record<ChannelRole, Float64Array>> = {
    currentCommand: trace.currentCommand,
    current: trace.current,
    currentDCommand: trace.currentDCommand,
    currentD: trace.currentD,
    voltageQ: trace.voltageQ,
    voltageD: trace.voltageD,
    currentU: trace.terminalCurrents[0],
    currentV: trace.terminalCurrents[1],
    currentW: trace.terminalCurrents[2],
    speed: trace.speed,
    position: trace.counts.map((count) => count * perCount),
    voltageBus: trace.busVoltage,
    index: trace.index,
  };
  if (trace.speedCommand.some((value) => !Number.isNaN(value))) columns.speedCommand = trace.speedCommand;
  if (trace.positionCommand.some((value) => !Number.isNaN(value)))
    columns.positionCommand = trace.positionCommand;
  if (trace.sweepAngle.some((value) => !Number.isNaN(value))) columns.sweepAngle = trace.sweepAngle;
  const channels: Recording["channels"] = Object.fromEntries(
    (Object.entries(columns) as [ChannelRole, Float64Array][]).map(([role, data]) => [
      role,
      {
        role,
        name: role,
        sourceUnit: siUnits[role],
        recognisedBy: "simulated",
        data,
        ...(role === "position" ? { resolution: perCount } : {}),
      },
    ]),
  );
  return {
    path: "simulated",
    ordering: bench.order,
    time: trace.time,
    channels,
    machine: { polePairs: bench.drive.polePairs },
    drive: {
      busVoltage: bench.drive.busVoltage,
      modulation: bench.drive.modulation,
      currentLimit: bench.drive.currentLimit,
      polePairs: bench.drive.polePairs,
      encoderLines: bench.drive.encoderLines,
      speedLoop: bench.drive.speedLoop,
      currentBandwidth: bench.drive.currentBandwidth,
    },
    encoder: { lines: bench.drive.encoderLines },
    findings: [],
    ...extra,
  };
}

/**
 * Runs a synthetic bench through a program and gives what its log would hold: the channels that bench logs, with the
 * program's trials declared unless `declare` is false.
 *
 * @example
 * const made = randomBench(17);
 * const { recording, trace } = recordingFromRandomBench(made, made.torqueProgram);
 */
export function recordingFromRandomBench(
  made: RandomBench,
  program: readonly Segment[],
  options: { readonly declare?: boolean; readonly path?: string } = {},
): { recording: Recording; trace: BenchTrace } {
  const trace = simulate(made.bench, program, made.simulation);
  const whole = recordingFromTrace(trace, made.bench, {
    path: options.path ?? "synthetic bench",
    ...(options.declare === false ? {} : { declaredTrials: programTrials(program) }),
  });
  const kept: ReadonlySet<string> = new Set(made.channels);
  const channels = Object.fromEntries(Object.entries(whole.channels).filter(([role]) => kept.has(role)));
  return { recording: { ...whole, channels }, trace };
}
