import { expect, test } from "vitest";
import { predictRunaway } from "../../lib/control/index.js";
import { torqueBySense } from "../../lib/identify/mechanical/torqueBySense.js";
import { runOf } from "../../lib/run/index.js";
import { gaussian, seeded } from "../diagnosis/secondBench.js";
import { madeRecording } from "../house/madeRecording.js";

// Torque of a permanent-magnet synchronous machine (Krause, Analysis of Electric Machinery):
// 1.5*p*(psi*iq + (Ld - Lq)*id*iq). A drive whose angle is off by eps puts a current i on iq = i*cos(eps) and
// id = -i*sin(eps), so that the torque is 1.5*p*psi*cos(eps)*i*(1 + share*i) with share = -(Ld - Lq)*sin(eps)/psi.
const [polePairs, flux, inertia, coulomb, limit] = [4, 0.01, 1e-4, 0.002, 10];
const kt = 1.5 * polePairs * flux;

/** A torque trial of such a machine, and the rise at the limit for either sign of the current. */
function trial({ eps, saliency, load = 0 }: { eps: number; saliency: number; load?: number }) {
  const share = (-saliency * Math.sin(eps)) / flux;
  const torque = (i: number): number => kt * Math.cos(eps) * i * (1 + share * i);
  const random = seeded(7);
  const levels = [0, 3, -3, 1.5, -1.5, 0];
  const rows = Array.from({ length: 6000 }, (_, k) => k * 5e-4);
  const command = Float64Array.from(rows, (t) => levels[Math.min(5, Math.floor(t / 0.5))]);
  const [speed, angle] = [new Float64Array(rows.length), new Float64Array(rows.length)];
  const inner = 10;
  let [w, at] = [0, 0];
  rows.forEach((_, k) => {
    [speed[k], angle[k]] = [w, at];
    for (let n = 0; n < inner; n++) {
      const net = torque(command[k]) - load;
      const drive = w === 0 && Math.abs(net) < coulomb ? 0 : net - coulomb * Math.sign(w || net);
      const next = w + (drive / inertia) * (5e-4 / inner);
      w = w * next < 0 ? 0 : next;
      at += w * (5e-4 / inner);
    }
  });
  const count = (2 * Math.PI) / 10000;
  const recording = madeRecording(
    Float64Array.from(rows),
    {
      currentCommand: command,
      current: command.map((i) => i + 0.02 * gaussian(random)),
      position: angle.map((a) => count * Math.floor(a / count)),
      speed,
    },
    { resolution: count },
    { drive: { polePairs, currentLimit: limit } },
  );
  const rises = [limit, -limit].map((i) => (Math.abs(torque(i)) - coulomb) / inertia);
  return { run: runOf(recording), share, rises };
}

const mean = (accounts: ReturnType<typeof torqueBySense>): number =>
  accounts.reduce((sum, { weight, share }) => sum + weight * share, 0);

test("a salient machine a third of a turn off: the share of the torque that goes as the square of the current is found", () => {
  const { run, share, rises } = trial({ eps: (2 * Math.PI) / 3, saliency: -1.5e-4 });
  const accounts = torqueBySense(run, limit);
  expect(accounts.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 9);
  expect(mean(accounts) / share).toBeGreaterThan(0.85);
  expect(mean(accounts) / share).toBeLessThan(1.15);
  const { low, high, value } = predictRunaway(run)!.limited!.acceleration;
  for (const rise of rises) {
    expect(rise).toBeGreaterThan(low);
    expect(rise).toBeLessThan(high);
  }
  expect(value / ((rises[0] + rises[1]) / 2)).toBeCloseTo(1, 1);
});

test("half a turn off there is no such share, and a load that pulls one way is not taken for one", () => {
  for (const load of [0, 0.004]) {
    const { run, rises } = trial({ eps: Math.PI, saliency: -1.5e-4, load });
    expect(Math.abs(mean(torqueBySense(run, limit)) * limit)).toBeLessThan(0.02);
    const { low, high } = predictRunaway(run)!.limited!.acceleration;
    expect(rises[0]).toBeGreaterThan(low);
    expect(rises[0]).toBeLessThan(high);
    expect((high - low) / rises[0]).toBeLessThan(0.2);
  }
});

test("an offset error that is known to be none leaves no difference", () => {
  const { run } = trial({ eps: (2 * Math.PI) / 3, saliency: -1.5e-4 });
  for (const { share, deviation } of torqueBySense(run, limit, -1)) {
    expect(share * limit).toBeCloseTo(0, 9);
    expect(deviation * limit).toBeCloseTo(0, 9);
  }
});
