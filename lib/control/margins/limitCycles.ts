import { bisect } from "../../numeric/optimise/alongLogarithm.js";
import { add, type Complex, complex, divide, magnitude, multiply } from "../../numeric/systems/complex.js";
import { continuousResponse, frequencyRange } from "../models/continuousLoop.js";
import { finelySampled, simulateLoop } from "../models/simulateLoop.js";
import { type FixedLoop, smallTimeConstant } from "../models/speedLoop.js";
import { isStable } from "./loopMargins.js";

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
 * - Counts: with the shaft held by its load at the edge of a count the encoder is a relay of one count; its describing
 * function 2q/(pi*A) meets the
 *   loop where the loop's phase is -180 degrees, with amplitude A = 2*q*abs(L)/pi. Friction swallows it when the torque of one count's worth of
 *   speed stays below breakaway.
 * - Coulomb friction alone: its describing function 4*Tc/(pi*W) is a viscous friction between 0 and infinity; a cycle
 * needs the response from
 *   friction torque to speed to cross the negative real axis, which that of an unstable loop does. It gives the frequency; the swing is found by running the loop.
 * - Static friction above Coulomb friction under integral action (position loop): the describing function is known to
 * answer this case wrongly
 *   (from memory: B. Armstrong-Hélouvry and B. Amin, PID control in the presence of static friction, Automatica 32, 1996), so the loop is run instead.
 *
 * Source of the describing functions: any text on nonlinear control, for instance K. Ogata, Modern Control Engineering
 * (3rd edition and earlier), the chapter on describing functions.
 *
 * @example
 * limitCycles(fixLoop(loop)).map((cycle) => cycle.cause); // => ["counts"]
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
  // An unstable closed loop turns the phase of this response forward through 180 degrees: the imaginary part falls.
  const omega = phaseCrossing(
    (w) => {
      const h = frictionResponse(loop, w);
      return complex(h.re, -h.im);
    },
    from,
    to,
  );
  if (omega === undefined) return undefined;
  const h = frictionResponse(loop, omega);
  const speed = (4 * loop.coulomb * magnitude(h)) / Math.PI;
  // Only a cycle that is left on the side of growing amplitude is held; the loop itself must be unstable without
  // friction for it.
  if (isStable(loop)) return undefined;
  // Near the edge of stability the response is steep and the hold between samples counts: the loop is run for the size
  // of the swing.
  const run = swingThatGrows(loop, speed, omega);
  const swing = run?.swing ?? speed;
  const l = continuousResponse(loop, omega);
  const current =
    run?.current ??
    (speed * magnitude(multiply(l, complex(loop.viscous, loop.inertia * omega)))) / loop.torquePerAmpere;
  return {
    cause: "Coulomb friction",
    method: run === undefined ? "describing function" : "simulation",
    frequency: toHertz(omega),
    amplitude: swing / omega,
    current,
    likely: true,
    text: `friction hides an unstable loop until it is disturbed: beyond ${swing.toPrecision(2)} rad/s of swing at ${toHertz(omega).toPrecision(2)} Hz it grows`,
  };
}

/**
 * The swing between dying away and growing, by halving: the loop is started at a speed and run for 40 periods.
 * `undefined` where it never grows (a current limit holds it), always does, or would need too many samples.
 */
function swingThatGrows(
  loop: FixedLoop,
  about: number,
  omega: number,
): { readonly swing: number; readonly current: number } | undefined {
  const period = (2 * Math.PI) / omega;
  const duration = 40 * period;
  const fine = finelySampled({ ...loop, positionGain: undefined });
  if (duration / fine.sampleTime > 20_000) return undefined;
  const peaks = (start: number): { first: number; middle: number; last: number; current: number } => {
    const trace = simulateLoop(
      fine,
      { duration, reference: () => 0 },
      { quantised: false, shortfall: false, start: { speed: start } },
    );
    let first = 0;
    let middle = 0;
    let last = 0;
    let current = 0;
    for (let k = 0; k < trace.time.length; k++) {
      const size = Math.abs(trace.speed[k]);
      const cycle = trace.time[k] / period;
      if (cycle >= 1 && cycle < 4) first = Math.max(first, size);
      if (cycle >= 3 && cycle < 8) {
        middle = Math.max(middle, size);
        current = Math.max(current, Math.abs(trace.current[k]));
      }
      if (cycle >= 35) last = Math.max(last, size);
    }
    return { first, middle, last, current };
  };
  const grows = (start: number): boolean => {
    const { first, last } = peaks(start);
    return !(last <= first);
  };
  let low = about / 20;
  let high = 50 * about;
  if (grows(low) || !grows(high)) return undefined;
  for (let n = 0; n < 24; n++) {
    const between = Math.sqrt(low * high);
    if (grows(between)) high = between;
    else low = between;
  }
  const { middle, current } = peaks(low);
  return middle > 0 ? { swing: middle, current } : undefined;
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
