import { add, type Complex, complex, divide, multiply, scale, unit } from "../../numeric/systems/complex.js";
import { eigenvalues } from "../../numeric/systems/eigenvalues.js";
import { discretise } from "../../numeric/systems/stateSpace.js";
import type { FixedLoop } from "./speedLoop.js";

/**
 * The loop as it runs in a drive: plant and current loop move continuously with the current command held between
 * samples, speed is sampled (or taken from the position change over a sample), filtered, and a PI controller on sums
 * gives the next command, which acts after the computation delay, whole samples or not. The transition over a sample is
 * exact; there is no approximation of hold or delay.
 *
 * Source of the delayed-input transition: K. J. Åström and B. Wittenmark, Computer-Controlled Systems (Prentice Hall),
 * the section on systems with a time delay.
 */
export interface SampledLoop {
  readonly loop: FixedLoop;
  /** States per sample of the closed loop, and its transition; input is the (speed or position) reference. */
  readonly transition: readonly (readonly number[])[];
  readonly input: readonly number[];
  /** Row of each watched quantity as a function of the state before the sample and the reference. */
  readonly watch: Readonly<
    Record<
      "speed" | "current" | "command" | "position" | "measured",
      { readonly row: readonly number[]; readonly direct: number }
    >
  >;
  /** Index of the plant's states. */
  readonly index: { readonly current: number; readonly speed: number; readonly position: number };
  readonly plant: Transition;
}

interface Transition {
  /** Over a sample, states current, speed, position. */
  readonly phi: readonly (readonly number[])[];
  /** From the command `whole`+1 samples ago and `whole` samples ago. */
  readonly older: readonly number[];
  readonly newer: readonly number[];
  readonly whole: number;
  readonly idealCurrent: boolean;
}

/** The last transitions computed: a search over gains asks for the same plant thousands of times, and every proposal
 * for the same draws from its spread. */
const known = new Map<string, Transition>();
const mostKnown = 512;

function plantTransition(loop: FixedLoop): Transition {
  const key = `${loop.sampleTime},${loop.currentBandwidth},${loop.torquePerAmpere},${loop.inertia},${loop.viscous},${loop.computationDelay}`;
  let found = known.get(key);
  if (found === undefined) {
    found = computeTransition(loop);
    if (known.size >= mostKnown) known.clear();
    known.set(key, found);
  }
  return found;
}

function computeTransition(loop: FixedLoop): Transition {
  const ts = loop.sampleTime;
  const idealCurrent = !Number.isFinite(loop.currentBandwidth);
  const wc = loop.currentBandwidth;
  const k = loop.torquePerAmpere / loop.inertia;
  const d = -loop.viscous / loop.inertia;
  // With an ideal current loop the current is the command itself; its state is kept, but driven apart.
  const a = idealCurrent
    ? [
        [d, 0],
        [1, 0],
      ]
    : [
        [-wc, 0, 0],
        [k, d, 0],
        [0, 1, 0],
      ];
  const b = idealCurrent ? [k, 0] : [wc, 0, 0];
  let whole = Math.floor(loop.computationDelay / ts + 1e-9);
  let rest = loop.computationDelay / ts - whole;
  if (rest < 1e-9) rest = 0;
  if (rest > 1 - 1e-9) {
    whole++;
    rest = 0;
  }
  const n = b.length;
  const full = discretise(a, b, ts);
  const newer = discretise(a, b, ts * (1 - rest));
  const early = discretise(a, b, ts * rest);
  const older = Array.from({ length: n }, (_, i) =>
    rest === 0 ? 0 : early.gamma.reduce((sum, g, j) => sum + newer.phi[i][j] * g, 0),
  );
  const pad = (v: readonly number[]): number[] => (idealCurrent ? [0, ...v] : [...v]);
  return {
    phi: idealCurrent ? [[0, 0, 0], pad(full.phi[0]), pad(full.phi[1])] : full.phi,
    older: pad(older),
    newer: pad(newer.gamma),
    whole,
    idealCurrent,
  };
}

/** Share of the present error's step that the running sum already holds: forward 0, trapezoid 1/2, backward 1. */
export const presentShare = { forward: 0, trapezoid: 0.5, backward: 1 } as const;

/** Factor of the first-order speed filter per sample, exp(-wf*ts); 0 when there is none. */
const filterFactor = (loop: FixedLoop): number =>
  Number.isFinite(loop.speedFilter) ? Math.exp(-loop.speedFilter * loop.sampleTime) : 0;

/** Open-loop response at the current command on the unit circle, omega up to pi/sampleTime. */
export function sampledResponse(loop: FixedLoop, plant: Transition = plantTransition(loop)) {
  const { speed, position } = pathResponses(loop, plant);
  return (omega: number): Complex => {
    const l = speed(omega).loop;
    return loop.positionGain === undefined ? l : add(l, scale(position(omega), loop.positionGain));
  };
}

/** Open-loop response of the position loop, cut at the speed reference. */
export function sampledPositionResponse(loop: FixedLoop, plant: Transition = plantTransition(loop)) {
  const { speed, position } = pathResponses(loop, plant);
  return (omega: number): Complex => {
    const l = speed(omega).loop;
    return divide(scale(position(omega), loop.positionGain ?? 0), complex(1 + l.re, l.im));
  };
}

function pathResponses(loop: FixedLoop, plant: Transition) {
  const ts = loop.sampleTime;
  const a = filterFactor(loop);
  const h = presentShare[loop.integration];
  const { phi, newer, older, whole, idealCurrent } = plant;
  const at = (omega: number) => {
    const angle = omega * ts;
    const back = unit(-angle);
    const zMinusOne = complex(-2 * Math.sin(angle / 2) ** 2, -back.im);
    const delayed = whole === 0 ? complex(1) : unit(-angle * whole);
    const further = multiply(delayed, back);
    const gamma = (k: number): Complex => ({
      re: newer[k] * delayed.re + older[k] * further.re,
      im: newer[k] * delayed.im + older[k] * further.im,
    });
    const current = idealCurrent ? complex(0) : divide(gamma(0), add(zMinusOne, complex(1 - phi[0][0])));
    const w = divide(add(scale(current, phi[1][0]), gamma(1)), add(zMinusOne, complex(1 - phi[1][1])));
    return { back, zMinusOne, current, w, gamma, sum: add(divide(complex(ts), zMinusOne), complex(h * ts)) };
  };
  // (z-1) times the position
  const moved = ({ current, w, gamma }: ReturnType<typeof at>): Complex =>
    add(add(scale(current, phi[2][0]), scale(w, phi[2][1])), gamma(2));
  const speed = (omega: number) => {
    const state = at(omega);
    const measured = loop.difference ? scale(multiply(moved(state), state.back), 1 / ts) : state.w;
    const controller = add(complex(loop.kp), scale(state.sum, loop.ki));
    const open = multiply(measured, controller);
    return {
      loop: a === 0 ? open : multiply(open, divide(complex(1 - a), add(complex(1), scale(state.back, -a)))),
    };
  };
  const position = (omega: number): Complex => {
    const state = at(omega);
    const controller = add(complex(loop.kp * loop.referenceWeight), scale(state.sum, loop.ki));
    return multiply(divide(moved(state), state.zMinusOne), controller);
  };
  return { speed, position };
}

/**
 * The closed loop over one sample.
 *
 * @throws RangeError when the loop has no sample time
 */
export function sampledLoop(loop: FixedLoop): SampledLoop {
  if (!(loop.sampleTime > 0)) throw new RangeError("a sampled loop needs a sampleTime above 0");
  const plant = plantTransition(loop);
  const ts = loop.sampleTime;
  const a = filterFactor(loop);
  const h = presentShare[loop.integration];
  // States: current, speed, position, moved (position change over the last sample), filtered speed, sum, past commands.
  const history = plant.whole + 1;
  const n = 6 + history;
  const step = (x: readonly number[], reference: number) => {
    const [current, speed, position, moved, filtered, sum] = x;
    const measured = loop.difference ? moved / ts : speed;
    const used = a * filtered + (1 - a) * measured;
    const wanted = loop.positionGain === undefined ? reference : loop.positionGain * (reference - position);
    const error = wanted - used;
    const command = loop.kp * (loop.referenceWeight * wanted - used) + loop.ki * (sum + h * ts * error);
    const commands = [command, ...x.slice(6)]; // now, one sample ago, ...
    const next = plant.phi.map(
      (row, k) =>
        row[0] * current +
        row[1] * speed +
        row[2] * position +
        plant.newer[k] * commands[plant.whole] +
        plant.older[k] * commands[plant.whole + 1],
    );
    if (plant.idealCurrent) next[0] = commands[plant.whole];
    return {
      next: [...next, next[2] - position, used, sum + ts * error, ...commands.slice(0, history)],
      measured: used,
      command,
    };
  };
  const zero = new Array<number>(n).fill(0);
  const columns = zero.map((_, k) =>
    step(
      zero.map((__, j) => (j === k ? 1 : 0)),
      0,
    ),
  );
  const driven = step(zero, 1);
  const pick = (k: number) => ({ row: zero.map((_, j) => (j === k ? 1 : 0)), direct: 0 });
  return {
    loop,
    transition: zero.map((_, i) => columns.map((c) => c.next[i])),
    input: driven.next,
    watch: {
      current: pick(0),
      speed: pick(1),
      position: pick(2),
      command: { row: columns.map((c) => c.command), direct: driven.command },
      measured: { row: columns.map((c) => c.measured), direct: driven.measured },
    },
    index: { current: 0, speed: 1, position: 2 },
    plant,
  };
}

/** States that carry the loop: those that nothing else reads are left out, so that they add no poles. */
function kept(system: SampledLoop): number[] {
  const n = system.input.length;
  let keep = Array.from({ length: n }, (_, k) => k);
  if (system.loop.positionGain === undefined) keep = keep.filter((k) => k !== system.index.position);
  for (let changed = true; changed; ) {
    const before = keep.length;
    keep = keep.filter((k) => keep.some((row) => row !== k && system.transition[row][k] !== 0));
    changed = keep.length !== before;
  }
  return keep;
}

/** Closed-loop poles in the z plane, largest magnitude first. States that never return to the loop are left out. */
export function sampledPoles(loop: FixedLoop): Complex[] {
  const system = sampledLoop(loop);
  const keep = kept(system);
  return eigenvalues(keep.map((i) => keep.map((j) => system.transition[i][j]))).sort(
    (p, q) => Math.hypot(q.re, q.im) - Math.hypot(p.re, p.im) || q.im - p.im,
  );
}

/** Where a pole of the z plane sits in the s plane: log(z)/sampleTime. */
export function toContinuousPole(z: Complex, sampleTime: number): Complex {
  // A pole at 0 is dead within a sample: a finite number stands for it.
  return {
    re: Math.log(Math.max(1e-12, Math.hypot(z.re, z.im))) / sampleTime,
    im: Math.atan2(z.im, z.re) / sampleTime,
  };
}
