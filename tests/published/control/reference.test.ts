/**
 * 200 random speed loops against values made by NumPy and SciPy (Debian's python3-scipy); `make_reference.py` beside
 * this file made `reference.json`, and
 * `make_reference.py --check` remakes and compares it.
 */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import {
  closedLoopPoles,
  feedback,
  frequencyResponse,
  margins,
  stepResponse,
  type TransferFunction,
} from "../../../lib/control/index.js";
import {
  continuousPoles,
  continuousResponse,
  frequencyRange,
} from "../../../lib/control/models/continuousLoop.js";
import { fixLoop } from "../../../lib/control/models/speedLoop.js";

interface Reference {
  readonly inertia: number;
  readonly torqueConstant: number;
  readonly viscousFriction: number;
  readonly kp: number;
  readonly ki: number;
  readonly currentBandwidth: number;
  readonly speedFilter: number | null;
  readonly computationDelay: number;
  readonly positionGain: number | null;
  readonly numerator: number[];
  readonly denominator: number[];
  readonly padeOrder: number;
  readonly poles: [number, number][];
  readonly gainMargin: number | null;
  readonly gainReduction: number;
  readonly phaseMargin: number;
  readonly delayMargin: number;
  readonly sensitivityPeak: number;
  readonly complementaryPeak: number;
  readonly span: number;
  readonly step: number[];
}
const { loops } = JSON.parse(readFileSync(join(import.meta.dirname, "reference.json"), "utf8")) as {
  loops: Reference[];
};

const loopOf = (r: Reference) =>
  fixLoop({
    plant: { inertia: r.inertia, torqueConstant: r.torqueConstant, viscousFriction: r.viscousFriction },
    gains: { kp: r.kp, ki: r.ki },
    currentBandwidth: r.currentBandwidth,
    computationDelay: r.computationDelay,
    ...(r.speedFilter === null ? {} : { speedFilter: r.speedFilter }),
    ...(r.positionGain === null ? {} : { positionGain: r.positionGain }),
  });
const openOf = (r: Reference): TransferFunction => ({
  numerator: r.numerator,
  denominator: r.denominator,
  delay: r.computationDelay,
});

/** Largest distance of matched poles, each against its own size. */
function poleError(
  found: readonly { re: number; im: number }[],
  expected: readonly [number, number][],
): number {
  expect(found.length).toBe(expected.length);
  const rest = [...expected];
  let worst = 0;
  for (const p of found) {
    let nearest = 0;
    rest.forEach((q, k) => {
      if (Math.hypot(q[0] - p.re, q[1] - p.im) < Math.hypot(rest[nearest][0] - p.re, rest[nearest][1] - p.im))
        nearest = k;
    });
    const [q] = rest.splice(nearest, 1);
    worst = Math.max(worst, Math.hypot(q[0] - p.re, q[1] - p.im) / Math.hypot(...q));
  }
  return worst;
}

test("there are 200 of them", () => expect(loops.length).toBe(200));

test("closed-loop poles, from the polynomials and from the loop's own numbers", () => {
  let general = 0;
  let own = 0;
  for (const r of loops) {
    general = Math.max(general, poleError(closedLoopPoles(openOf(r), r.padeOrder), r.poles));
    own = Math.max(own, poleError(continuousPoles(loopOf(r), r.padeOrder), r.poles));
  }
  expect(general).toBeLessThan(1e-6);
  expect(own).toBeLessThan(1e-6);
});

test("margins and sensitivity peaks, from the polynomials and from the loop's own numbers", () => {
  for (const r of loops) {
    const loop = loopOf(r);
    const range = frequencyRange(loop);
    for (const m of [
      margins((w) => frequencyResponse(openOf(r), w), { from: range.from, to: range.to }),
      margins((w) => continuousResponse(loop, w), range),
    ]) {
      if (r.gainMargin === null) expect(m.gainMargin).toBeGreaterThan(1e3);
      else expect(m.gainMargin / r.gainMargin).toBeCloseTo(1, 6);
      if (r.gainReduction > 0) expect(m.gainReduction / r.gainReduction).toBeCloseTo(1, 6);
      expect(m.phaseMargin).toBeCloseTo(r.phaseMargin, 7);
      expect(m.delayMargin / r.delayMargin).toBeCloseTo(1, 6);
      expect(m.sensitivityPeak / r.sensitivityPeak).toBeCloseTo(1, 5);
      expect(m.complementaryPeak / r.complementaryPeak).toBeCloseTo(1, 5);
    }
  }
});

test("step responses", () => {
  let worst = 0;
  for (const r of loops) {
    const y = stepResponse(feedback(openOf(r), r.padeOrder), r.span / 20, 21);
    r.step.forEach((v, k) => {
      worst = Math.max(worst, Math.abs(v - y[k]));
    });
  }
  expect(worst).toBeLessThan(1e-6);
});
