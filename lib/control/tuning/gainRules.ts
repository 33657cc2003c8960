import type { SpeedGains } from "../../motor/speedGains.js";
import { complex, divide } from "../../numeric/systems/complex.js";
import { isStable } from "../margins/loopMargins.js";
import { continuousResponse, frequencyRange } from "../models/continuousLoop.js";
import { sampledResponse } from "../models/sampledLoop.js";
import { type FixedLoop, smallTimeConstant } from "../models/speedLoop.js";

/**
 * Pole placement: kp and ki that put the poles of J*s^2 + (B + K*kp)*s + K*ki at the given natural frequency and
 * damping. The small lags are left out, so the frequency must stay well below their reciprocal.
 *
 * Source: comparison of coefficients; any control textbook.
 *
 * @param plant `inertia` in kg m^2, `torquePerAmpere` in N m/A, `viscous` in N m s/rad
 * @param frequency rad/s
 * @param damping ratio, 1 for critical
 * @returns kp in A per rad/s, ki in A per rad
 * @example
 * polePlacement({ inertia: 1e-4, torquePerAmpere: 0.1, viscous: 0 }, 100, 1); // => { kp: 0.20, ki: 10.0 }
 */
export function polePlacement(
  plant: Pick<FixedLoop, "inertia" | "torquePerAmpere" | "viscous">,
  frequency: number,
  damping: number,
): SpeedGains {
  return {
    kp: (2 * damping * frequency * plant.inertia - plant.viscous) / plant.torquePerAmpere,
    ki: (plant.inertia * frequency ** 2) / plant.torquePerAmpere,
  };
}

/**
 * Symmetrical optimum: with the small lags summed to `lag`, kp = J/(a*K*lag) and an integral time of a^2*lag, which
 * puts the crossover at the geometric mean of the two corners, 1/(a*lag), where the phase margin is largest: atan(a) -
 * atan(1/a). `a` is 2 in the classical form.
 *
 * Source: C. Kessler, Das symmetrische Optimum, Regelungstechnik 6 (1958), from memory; the relations follow from the
 * double integrator with one lag in closed form.
 *
 * @param plant `inertia` in kg m^2, `torquePerAmpere` in N m/A
 * @param lag sum of the small lags, s
 * @param a ratio of the integral time to the lag, its root
 * @returns kp in A per rad/s, ki in A per rad
 * @example
 * symmetricalOptimum({ inertia: 1e-4, torquePerAmpere: 0.1 }, 1e-3); // => { kp: 0.50, ki: 125.0 }
 */
export function symmetricalOptimum(
  plant: Pick<FixedLoop, "inertia" | "torquePerAmpere">,
  lag: number,
  a = 2,
): SpeedGains {
  const kp = plant.inertia / (a * plant.torquePerAmpere * lag);
  return { kp, ki: kp / (a * a * lag) };
}

/**
 * Skogestad's rule for an integrating process k/s with delay: kp = 1/(k*(tau + delay)), integral time 4*(tau + delay),
 * with the wanted closed-loop time constant tau; tau equal to the delay is the recommended choice. The small lags are
 * taken as delay.
 *
 * Source: S. Skogestad, Simple analytic rules for model reduction and PID controller tuning, Journal of Process Control
 * 13 (2003), from memory.
 *
 * @param plant `inertia` in kg m^2, `torquePerAmpere` in N m/A
 * @param delay s
 * @param tau wanted time constant of the closed loop, s
 * @returns kp in A per rad/s, ki in A per rad
 * @example
 * integratingRule({ inertia: 1e-4, torquePerAmpere: 0.1 }, 1e-3); // => { kp: 0.50, ki: 62.5 }
 */
export function integratingRule(
  plant: Pick<FixedLoop, "inertia" | "torquePerAmpere">,
  delay: number,
  tau = delay,
): SpeedGains {
  const kp = plant.inertia / (plant.torquePerAmpere * (tau + delay));
  return { kp, ki: kp / (4 * (tau + delay)) };
}

/** Whether a loop is stable and its sensitivity, on a grid of 140 frequencies, stays at or below a limit. */
export function sensitivityWithin(loop: FixedLoop, limit: number): boolean {
  const response = loop.sampleTime > 0 ? sampledResponse(loop) : (w: number) => continuousResponse(loop, w);
  const { from, to } = frequencyRange(loop);
  // Farther from -1 than this, rounding apart, the sensitivity needs no closer look.
  const far = (1 + 1e-9) / limit ** 2;
  for (let k = 0; k < 140; k++) {
    const l = response(from * (to / from) ** (k / 139));
    const away = complex(1 + l.re, l.im);
    if (away.re * away.re + away.im * away.im > far) continue;
    const s = divide(complex(1), away);
    if (!(Math.hypot(s.re, s.im) <= limit)) return false;
  }
  return isStable(loop);
}

/**
 * The largest integral gain (the best rejection of load) that keeps the sensitivity peak at or below a limit in every
 * loop given: for each kp on a grid ki is raised until the limit is met, and kp is refined where that ki is largest.
 *
 * Source of the idea: K. J. Åström, H. Panagopoulos and T. Hägglund, Design of PI controllers based on non-convex
 * optimization, Automatica 34 (1998), from memory.
 *
 * @param loops loops that differ in their plant only; their gains are not used
 * @param limit highest sensitivity peak allowed, above 1; 1.4 is cautious, 2 is brisk
 * @returns `undefined` when the loops have no lag (any gain would do) or no gains meet the limit
 * @example
 * sensitivityLimited([fixLoop(loop)], 1.4); // => { kp: 0.495, ki: 130.8 }
 */
export function sensitivityLimited(loops: readonly FixedLoop[], limit: number): SpeedGains | undefined {
  const lag = Math.max(...loops.map(smallTimeConstant));
  if (!(lag > 0)) return undefined;
  const first = loops[0];
  const meets = (kp: number, ki: number): boolean =>
    loops.every((l) => sensitivityWithin({ ...l, kp, ki, positionGain: undefined }, limit));
  const unit = first.inertia / (first.torquePerAmpere * lag);
  // Only a ki above the best one so far is of use: where that one is not met, the limit lies below it.
  const largestKi = (kp: number, above: number): number => {
    // ki in units that keep the integral's corner between a thousandth and the whole of the crossover.
    const top = (kp * kp * first.torquePerAmpere) / first.inertia;
    let low = Math.log(top * 1e-3);
    let high = Math.log(top * 2);
    if (above > 0 && (Math.log(above) >= high || !meets(kp, above))) return 0;
    if (!meets(kp, Math.exp(low))) return 0;
    for (let n = 0; n < 14; n++) {
      const middle = (low + high) / 2;
      if (meets(kp, Math.exp(middle))) low = middle;
      else high = middle;
    }
    return Math.exp(low);
  };
  let best = { kp: 0, ki: 0 };
  for (let k = 0; k < 14; k++) {
    const kp = unit * 1.1 * 0.8 ** k;
    const ki = largestKi(kp, best.ki);
    if (ki > best.ki) best = { kp, ki };
  }
  if (best.ki === 0) return undefined;
  for (let ratio = 0.9; ratio < 0.99; ratio = Math.sqrt(ratio)) {
    for (const kp of [best.kp * ratio, best.kp / ratio]) {
      const ki = largestKi(kp, best.ki);
      if (ki > best.ki) best = { kp, ki };
    }
  }
  return best;
}
