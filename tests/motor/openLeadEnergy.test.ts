import { expect, test } from "vitest";
import { simulate } from "../../lib/simulation/index.js";
import { plainBench, torque } from "./samples.js";

test("energy balance with a lead open: electrical = copper + friction + kinetic + magnetic", () => {
  // A salient motor, so that the current's axis meets both inductances as the rotor turns.
  for (const openLead of ["U", "V", "W"] as const) {
    const bench = plainBench({
      motor: { inductanceQ: 1.4e-3, coulombFriction: 0.01, staticFriction: 0.012, viscousFriction: 2e-5 },
      openLead,
    });
    const { energy } = simulate(bench, [torque(3, 0.2), torque(-3, 0.2)], {
      startAngle: 0.2,
      startSpeed: 40,
    });
    const spent = energy.copper + energy.friction + energy.kinetic + energy.magnetic;
    expect(energy.copper).toBeGreaterThan(0.1);
    expect(Math.abs(energy.electrical - spent)).toBeLessThan(0.005 * energy.copper);
  }
});
