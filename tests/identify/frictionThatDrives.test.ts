import { expect, test } from "vitest";
import { drivenByFriction, fitMotion } from "../../lib/identify/mechanical/equationOfMotion.js";
import type { MechanicalRow } from "../../lib/identify/mechanical/mechanicalRows.js";
import { gaussian, seeded } from "../diagnosis/secondBench.js";

/** Windows of `input = J*dw/dt + C*sign(w) + B*w`, both ways or one, at 20 to 100 rad/s. */
function rows(coulomb: number, viscous: number, senses: readonly number[] = [1, -1]): MechanicalRow[] {
  const random = seeded(5);
  return Array.from({ length: 240 }, (_, k) => {
    const direction = senses[k % senses.length];
    const speed = direction * (20 + 80 * random());
    const acceleration = 500 * gaussian(random);
    const input = 2e-3 * acceleration + coulomb * direction + viscous * speed + 0.02 * gaussian(random);
    const place = { time: k, square: speed * Math.abs(speed), across: 0, run: 0, lengthClass: 5 };
    return { ...place, from: 40 * k, to: 40 * k + 40, acceleration, speed, input, direction };
  });
}

test("a law whose friction feeds the shaft is none; friction that falls with the speed is one", () => {
  for (const kind of ["held", "driven"] as const) {
    const driven = (windows: readonly MechanicalRow[]): boolean =>
      drivenByFriction(fitMotion(windows, kind, "pooled")!);
    expect(driven(rows(0.3, 1e-3))).toBe(false);
    expect(driven(rows(0.3, -2e-3))).toBe(false);
    expect(driven(rows(-0.1, -2e-3))).toBe(true);
    expect(driven(rows(0.3, -1e-2))).toBe(true);
    // A weight that the shaft lowers, one way only.
    expect(driven(rows(-0.3, 1e-3, [1]))).toBe(false);
  }
});
