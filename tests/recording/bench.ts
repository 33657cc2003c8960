import type { Bench, Segment } from "../../lib/motor/index.js";
import { type Recording, recordingFromTrace } from "../../lib/recording/index.js";
import { simulate } from "../../lib/simulation/index.js";

/** A drive roller in good order. */
export const goodBench: Bench = {
  motor: {
    polePairs: 4,
    resistance: 0.9,
    inductanceD: 1.1e-3,
    inductanceQ: 1.1e-3,
    fluxLinkage: 0.0155,
    inertia: 1.4e-4,
    coulombFriction: 0.025,
    viscousFriction: 8e-5,
    staticFriction: 0.032,
  },
  drive: {
    busVoltage: 48,
    modulation: "space-vector",
    currentLimit: 3,
    samplePeriod: 1e-4,
    currentBandwidth: 2500,
    polePairs: 4,
    encoderLines: 1024,
    speedLoop: { kp: 0.03, ki: 0.3 },
    speedDivider: 5,
    speedFilter: 1.5e-3,
    alignment: { kind: "aligned" },
  },
  encoder: { lines: 1024, sense: 1 },
  order: "UVW",
};

/** A run of the good bench, one row a millisecond. */
export function goodRun(program: readonly Segment[], bench: Bench = goodBench): Recording {
  const trace = simulate(bench, program, { seed: 7, currentNoise: 0.02 });
  return recordingFromTrace(trace, bench, {
    path: "bench run",
    machine: { polePairs: 4 },
    encoder: { lines: bench.encoder.lines },
  });
}
