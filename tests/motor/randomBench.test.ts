import { describe, expect, test } from "vitest";
import { type BenchFault, benchFaults, randomBench, simulate } from "../../lib/simulation/index.js";

const turned = (seed: number, fault: BenchFault) => {
  const made = randomBench(seed, { fault });
  const program = made.torqueProgram.slice(0, 2);
  const trace = simulate(made.bench, program, { logRate: 500, startAngle: made.startAngle });
  const last = trace.truth.speed.length - 1;
  const travel = trace.truth.angle[last] - made.startAngle;
  return { made, trace, travel, speed: trace.truth.speed[last], sense: made.bench.encoder.sense };
};

test("the same seed makes the same bench", () => {
  expect(randomBench(5)).toEqual(randomBench(5));
  expect(randomBench(5)).not.toEqual(randomBench(6));
});

describe("every fault does what its closed form says, for the first direction of its torque trial", () => {
  const cases = benchFaults.flatMap((fault) => [1, 2, 3, 4, 5].map((seed) => [fault, seed] as const));
  test.each(cases)("%s, seed %i", (fault, seed) => {
    const { made, trace, travel, speed, sense } = turned(seed, fault);
    const last = trace.time.length - 1;
    const turnsCounted = trace.counts[last] / (4 * made.bench.encoder.lines);
    const turnsMade = (sense * travel) / (2 * Math.PI);
    const { mismatch, torqueGain } = made.truth;
    if (fault === "jam" || fault === "overload") {
      expect(Math.abs(travel)).toBeLessThan(1e-9);
    } else if (fault === "lead-open") {
      expect(made.bench.openLead).toBeDefined();
    } else if (fault === "current-not-following") {
      expect(Math.abs(trace.current[last])).toBeLessThan(0.6 * Math.abs(trace.currentCommand[last]));
    } else if (fault === "counts-missing" || fault === "encoder-noise") {
      // What is counted and what was turned come apart by more than the quantisation.
      expect(Math.abs(turnsCounted - turnsMade) * 4 * made.bench.encoder.lines).toBeGreaterThan(1.5);
    } else if (fault === "encoder-stuck") {
      const from = trace.time.findIndex((t) => t >= made.bench.encoder.stuckFrom!);
      if (from >= 0) expect(new Set(trace.counts.subarray(Math.max(from, 1))).size).toBe(1);
    } else if (fault === "display-reversed") {
      expect(Math.sign(turnsCounted)).toBe(-Math.sign(turnsMade));
    } else if (mismatch > 1e-9) {
      // From the aligned angle (torque at its largest) an undamped rotor swings at most half a period of the pattern.
      expect(torqueGain).toBe(0);
      expect(Math.abs(travel)).toBeLessThan((2 * Math.PI) / mismatch);
    } else if (Math.abs(torqueGain) > 0.3) {
      expect(Math.sign(speed * sense)).toBe(Math.sign(torqueGain));
      expect(Math.abs(travel)).toBeGreaterThan(1);
    }
  });
});
