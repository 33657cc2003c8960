import { add, type Complex, complex, divide, magnitude, multiply } from "./complex.js";
import { continuousResponse, frequencyRange } from "./continuousLoop.js";
import { isStable } from "./loopMargins.js";
import { bisect } from "./margins.js";
import { simulateLoop } from "./simulateLoop.js";
import { type FixedLoop, smallTimeConstant } from "./speedLoop.js";

/** A lasting oscillation that the linear model does not show. */
export interface LimitCycle {
  readonly cause: "static friction" | "counts" | "Coulomb friction";
  /** How it was predicted. */
  readonly method: "describing function" | "simulation";
  /** Hz. */
  readonly frequency: number;
  /** Peak movement about the middle, rad. */
  readonly amplitude: number;
  /** Peak current, A. */
  readonly current: number;
  /** False where friction is likely to swallow it. */
  readonly likely: boolean;
  readonly text: string;
}

/**
 * Limit cycles to expect at standstill.
 *
 * - Counts: with the shaft held by its load at the edge of a count the encoder is a relay of one count; its describing function 2q/(pi*A) meets the
 *   loop where the loop's phase is -180 degrees, with amplitude A = 2*q*abs(L)/pi. Friction swallows it when the torque of one count's worth of
 *   speed stays below breakaway.
 * - Coulomb friction alone: its describing function 4*Tc/(pi*W) is a viscous friction between 0 and infinity; a cycle needs the response from
 *   friction torque to speed to cross the negative real axis.
 * - Static friction above Coulomb friction under integral action (position loop): the describing function is known to answer this case wrongly
 *   (from memory: B. Armstrong-Hélouvry and B. Amin, PID control in the presence of static friction, Automatica 32, 1996), so the loop is run instead.
 *
 * Source of the describing functions: any text on nonlinear control, for instance K. Ogata, Modern Control Engineering
 * (3rd edition and earlier), the chapter on describing functions.
 */
export function limitCycles(loop: FixedLoop): LimitCycle[] {
  const found: LimitCycle[] = [];
  if (!(loop.torquePerAmpere > 0)) return found;
  const counts = countCycle(loop);
  if (counts) found.push(counts);
  const coulomb = coulombCycle(loop);
  if (coulomb) found.push(coulomb);
  const hunting = huntingCycle(loop);
  if (hunting) found.push(hunting);
  return found;
}

const toHertz = (omega: number): number => omega / (2 * Math.PI);

function countCycle(loop: FixedLoop): LimitCycle | undefined {
  if (loop.countsPerTurn === undefined) return undefined;
  const q = (2 * Math.PI) / loop.countsPerTurn;
  const { from, to } = frequencyRange(loop);
  const response = (omega: number): Complex => continuousResponse(loop, omega);
  const omega = phaseCrossing(response, from, loop.sampleTime > 0 ? to : to * 10);
  if (omega === undefined) return undefined;
  const gain = magnitude(response(omega));
  const amplitude = (2 * q * gain) / Math.PI;
  // What one count does to the command: through the speed it seems to be, or through its movement.
  const step = loop.sampleTime > 0 ? q / loop.sampleTime : q * omega;
  const current = Math.min(loop.kp * step, loop.currentLimit);
  const torque = current * loop.torquePerAmpere;
  const likely = torque > loop.static;
  return {
    cause: "counts",
    method: "describing function",
    frequency: toHertz(omega),
    amplitude,
    current,
    likely,
    text: likely
      ? `at standstill the current chatters by up to ${current.toPrecision(2)} A at about ${toHertz(omega).toPrecision(2)} Hz where a load holds the shaft on the edge of an encoder count`
      : "chatter on the edge of an encoder count is held by friction",
  };
}

/** Lowest frequency above crossover of the real axis where the phase passes -180 degrees. */
function phaseCrossing(response: (omega: number) => Complex, from: number, to: number): number | undefined {
  const points = 400;
  let before = response(from);
  let last = from;
  for (let k = 1; k < points; k++) {
    const omega = from * (to / from) ** (k / (points - 1));
    const value = response(omega);
    if (before.im < 0 && value.im >= 0 && value.re < 0) return bisect((w) => response(w).im, last, omega);
    before = value;
    last = omega;
  }
  return undefined;
}

/** Response from friction torque to speed with the loop closed. */
function frictionResponse(loop: FixedLoop, omega: number): Complex {
  const l = continuousResponse(loop, omega);
  const plant = divide(complex(1), complex(loop.viscous, loop.inertia * omega));
  return divide(plant, add(complex(1), l));
}

function coulombCycle(loop: FixedLoop): LimitCycle | undefined {
  if (loop.coulomb === 0) return undefined;
  const { from, to } = frequencyRange(loop);
  const omega = phaseCrossing((w) => frictionResponse(loop, w), from, to);
  if (omega === undefined) return undefined;
  const h = frictionResponse(loop, omega);
  const speed = (4 * loop.coulomb * magnitude(h)) / Math.PI;
  // Only a cycle that is left on the side of growing amplitude is held; the loop itself must be unstable without friction for it.
  if (isStable(loop)) return undefined;
  const l = continuousResponse(loop, omega);
  const current =
    (speed * magnitude(multiply(l, complex(loop.viscous, loop.inertia * omega)))) / loop.torquePerAmpere;
  return {
    cause: "Coulomb friction",
    method: "describing function",
    frequency: toHertz(omega),
    amplitude: speed / omega,
    current,
    likely: true,
    text: `friction hides an unstable loop until it is disturbed: beyond ${speed.toPrecision(2)} rad/s of swing at ${toHertz(omega).toPrecision(2)} Hz it grows`,
  };
}

function huntingCycle(loop: FixedLoop): LimitCycle | undefined {
  if (loop.positionGain === undefined || loop.ki <= 0 || loop.positionGain <= 0) return undefined;
  if (!(loop.static > loop.coulomb * 1.001) || loop.static === 0) return undefined;
  if (Number.isFinite(loop.currentLimit) && loop.currentLimit * loop.torquePerAmpere <= loop.static)
    return undefined;
  // The sum needs this long to break the shaft away from an error of one count (or a thousandth of a turn).
  const error =
    loop.countsPerTurn === undefined ? (2 * Math.PI) / 1000 : (2 * (2 * Math.PI)) / loop.countsPerTurn;
  const wait = loop.static / loop.torquePerAmpere / (loop.ki * loop.positionGain * error);
  const settle = 20 / loop.positionGain + 20 * smallTimeConstant(loop);
  const duration = Math.min(settle + 6 * wait, 400);
  const ts = loop.sampleTime > 0 ? loop.sampleTime : undefined;
  if (ts !== undefined && duration / ts > 400_000) return undefined;
  // Counts are left out: within one count the sum stops, and the hunting of a finer encoder is what would be seen.
  const trace = simulateLoop(loop, { duration, reference: () => 20 * error }, { quantised: false });
  const half = trace.time.length >> 1;
  let reversals = 0;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  let current = 0;
  let side = 0;
  for (let k = half; k < trace.time.length; k++) {
    low = Math.min(low, trace.position[k]);
    high = Math.max(high, trace.position[k]);
    current = Math.max(current, Math.abs(trace.current[k]));
    const now = Math.sign(trace.position[k] - 20 * error);
    if (now !== 0 && side !== 0 && now !== side) reversals++;
    if (now !== 0) side = now;
  }
  const amplitude = (high - low) / 2;
  if (reversals < 2 || !(amplitude > 0)) return undefined;
  const frequency = reversals / 2 / (trace.time[trace.time.length - 1] - trace.time[half]);
  const grain = loop.countsPerTurn === undefined ? 0 : (2 * Math.PI) / loop.countsPerTurn;
  const likely = amplitude > grain;
  return {
    cause: "static friction",
    method: "simulation",
    frequency,
    amplitude,
    current,
    likely,
    text: likely
      ? `the position hunts by about ${((amplitude * 180) / Math.PI).toPrecision(2)} degrees every ${(1 / frequency).toPrecision(2)} s: the integral winds up against static friction, breaks away and overshoots`
      : "hunting by static friction stays within one encoder count",
  };
}
