import { describe, expect, test } from "vitest";
import {
  backEmfFromKv,
  backEmfFromVoltsPerThousand,
  constantConventions,
  kvFromBackEmf,
  linesFromCounts,
  type MachineConstantName,
  perElectricalRadian,
  polePairsFromPoles,
  voltsPerThousand,
} from "../../lib/motor/index.js";
import { simulate } from "../../lib/simulation/index.js";
import { last, mean, plainBench, torque } from "./samples.js";

const all = constantConventions(4, "fluxLinkage", 0.015);

describe("conventions of one machine, by hand: p = 4, flux linkage 15 mWb", () => {
  // Each literal is worked from the formula in its title (sinusoidal machine, amplitude-invariant currents).
  test.each([
    ["torqueConstantPeak", 0.09, "1.5*p*flux = 1.5*4*0.015"],
    ["torqueConstantRms", 0.1272792, "sqrt(2)*0.09"],
    ["backEmfPhasePeak", 0.06, "p*flux"],
    ["backEmfPhaseRms", 0.0424264, "p*flux/sqrt(2)"],
    ["backEmfLinePeak", 0.103923, "sqrt(3)*p*flux"],
    ["backEmfLineRms", 0.0734847, "sqrt(3/2)*p*flux"],
    ["kvLinePeak", 91.8881, "9.549297/0.103923"],
    ["kvLineRms", 129.949, "9.549297/0.0734847"],
    ["kvPhasePeak", 159.155, "9.549297/0.06"],
  ] as const)("%s = %f (%s)", (name, value, _formula) => {
    expect(all[name] / value).toBeCloseTo(1, 5);
  });

  test("Kt*Kv = 1.5*60/(2*pi*sqrt(3)) = 8.27 with line-to-line peak volts and peak amperes (theory, section 4)", () => {
    for (const [polePairs, flux] of [
      [1, 1],
      [4, 0.015],
      [14, 0.003],
    ] as const) {
      const { torqueConstantPeak, kvLinePeak } = constantConventions(polePairs, "fluxLinkage", flux);
      expect(torqueConstantPeak * kvLinePeak).toBeCloseTo(8.2699, 4);
    }
  });

  test("Kt = Ke where both are line-to-line: torque per RMS ampere is sqrt(3) times the line RMS back-EMF", () => {
    // Power balance of a sinusoidal machine in phase: 3*(V_line/sqrt(3))*I = T*w.
    expect(all.torqueConstantRms / all.backEmfLineRms).toBeCloseTo(Math.sqrt(3), 9);
  });

  test("a brushed-machine convention has Kt = Ke, so Kt*Kv = 60/(2*pi) = 9.549", () => {
    expect(0.05 * kvFromBackEmf(0.05)).toBeCloseTo(9.5493, 4);
  });
});

test("from any one convention back to all of them", () => {
  for (const name of Object.keys(all) as MachineConstantName[]) {
    const again = constantConventions(4, name, all[name]);
    for (const other of Object.keys(all) as MachineConstantName[])
      expect(again[other] / all[other], `${name} to ${other}`).toBeCloseTo(1, 12);
  }
});

test("small conversions", () => {
  expect(backEmfFromKv(kvFromBackEmf(0.2))).toBeCloseTo(0.2, 12);
  // 1000 rev/min = 104.72 rad/s.
  expect(voltsPerThousand(0.1)).toBeCloseTo(10.472, 3);
  expect(backEmfFromVoltsPerThousand(voltsPerThousand(0.1))).toBeCloseTo(0.1, 12);
  expect(linesFromCounts(4096)).toBe(1024);
  expect(polePairsFromPoles(8)).toBe(4);
  expect(perElectricalRadian(0.06, 4)).toBeCloseTo(0.015, 12);
});

test("a value that cannot be is refused by name", () => {
  expect(() => constantConventions(4, "kvLinePeak", 0)).toThrow(
    /kvLinePeak must be a positive number, not 0/,
  );
  expect(() => constantConventions(0, "kvLinePeak", 100)).toThrow(/pole pairs must be positive, not 0/);
});

test("the simulated machine obeys Kt*Kv = 8.27: torque measured at standstill, back-EMF at zero current", () => {
  const stalled = simulate(plainBench({ motor: { jammed: true } }), [torque(2, 0.05)]);
  const kt = last(stalled.truth.torque) / last(stalled.current);
  const spinning = simulate(plainBench(), [torque(0, 0.05)], { startSpeed: 200 });
  const from = 30;
  const phasePeak = Math.hypot(
    mean(spinning.voltageD.subarray(from)),
    mean(spinning.voltageQ.subarray(from)),
  );
  const ke = (Math.sqrt(3) * phasePeak) / mean(spinning.truth.speed.subarray(from));
  expect((kt * kvFromBackEmf(ke)) / 8.2699).toBeGreaterThan(0.998);
  expect((kt * kvFromBackEmf(ke)) / 8.2699).toBeLessThan(1.002);
});
