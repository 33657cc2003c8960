import { presentShare } from "./sampledLoop.js";
import { type FixedLoop, fixLoop, type SpeedLoop, smallTimeConstant, totalDelay } from "./speedLoop.js";

/** What is asked of the loop. */
export interface LoopProgram {
  /** s. */
  readonly duration: number;
  /** Speed reference, rad/s (position reference, rad, when the loop has a position gain), at each sample's time. */
  readonly reference: (time: number) => number;
  /** Load torque against positive rotation, N m. */
  readonly load?: (time: number) => number;
}

/** What of the real loop is simulated beyond the linear model; everything is on by default where the numbers are
 * known. */
export interface LoopSimulation {
  /** Encoder counts: the measured position moves in whole counts. */
  readonly quantised?: boolean;
  /** Current limit. */
  readonly limited?: boolean;
  /** Coulomb and static friction. */
  readonly friction?: boolean;
  /** What the current lacks while the back-EMF rises. */
  readonly shortfall?: boolean;
  /** What happens to the sum at the current limit: `hold` stops it while the error pushes further, `none` lets it wind
   * up. Absent: `hold`. */
  readonly windUp?: "hold" | "none";
  /** Phase voltage available, V peak, and phase resistance, ohm: the current falls short where back-EMF takes the
   * voltage. */
  readonly voltage?: { readonly available: number; readonly resistance: number };
  readonly start?: {
    readonly speed?: number;
    readonly position?: number;
    readonly current?: number;
    readonly sum?: number;
  };
}

/** Samples of a simulated run, one per sample of the controller. */
export interface LoopTrace {
  readonly time: Float64Array;
  readonly reference: Float64Array;
  /** True speed of the shaft, rad/s. */
  readonly speed: Float64Array;
  /** Speed as the controller sees it: quantised, differenced, filtered. */
  readonly measured: Float64Array;
  /** rad. */
  readonly position: Float64Array;
  /** Quadrature current, A. */
  readonly current: Float64Array;
  /** Current command after the limit, A. */
  readonly command: Float64Array;
  /** Samples at which the command stood at the current limit. */
  readonly limited: number;
  /** Sample time used: the loop's own, or a fine one for a continuous loop. */
  readonly sampleTime: number;
}

/** A continuous loop as a finely sampled one with the same total delay; a sampled loop unchanged. */
export function finelySampled(loop: FixedLoop): FixedLoop {
  if (loop.sampleTime > 0) return loop;
  const k = Math.abs(loop.torquePerAmpere);
  const fastest = Math.max(
    (k * loop.kp) / loop.inertia,
    Math.sqrt((k * Math.abs(loop.ki)) / loop.inertia),
    loop.positionGain ?? 0,
    loop.viscous / loop.inertia,
  );
  const lag = smallTimeConstant(loop);
  // The hold's half sample comes out of the delay; without a delay to take it from, the samples must be finer.
  let sampleTime = fastest > 0 ? (totalDelay(loop) > 0 ? 0.01 : 0.003) / fastest : 1e-3;
  if (lag > 0) sampleTime = Math.min(sampleTime, lag / 8);
  const delay = totalDelay(loop);
  return {
    ...loop,
    sampleTime,
    computationDelay: Math.max(0, delay - sampleTime / 2),
    integration: "trapezoid",
  };
}

/**
 * Runs the loop sample by sample: controller, delay, current loop, shaft with friction, encoder. Between samples
 * current and speed move by their exact solutions over short steps, with friction's sign and sticking followed at each.
 *
 * @throws RangeError when the duration is not a positive finite number or needs more than two million samples
 * @example
 * const { time, speed } = simulateLoop(loop, { duration: 0.2, reference: () => 50 });
 */
export function simulateLoop(
  loop: SpeedLoop | FixedLoop,
  program: LoopProgram,
  options: LoopSimulation = {},
): LoopTrace {
  const p = finelySampled("plant" in loop ? fixLoop(loop) : loop);
  const ts = p.sampleTime;
  if (!(program.duration > 0) || !Number.isFinite(program.duration))
    throw new RangeError(`simulateLoop: duration must be above 0, found ${program.duration}`);
  const count = Math.floor(program.duration / ts + 1e-9) + 1;
  if (count > 2_000_000)
    throw new RangeError(`simulateLoop: ${count} samples of ${ts} s asked for, at most 2000000 are run`);
  const trace = {
    time: new Float64Array(count),
    reference: new Float64Array(count),
    speed: new Float64Array(count),
    measured: new Float64Array(count),
    position: new Float64Array(count),
    current: new Float64Array(count),
    command: new Float64Array(count),
  };
  const counts = options.quantised === false ? undefined : p.countsPerTurn;
  const grain = counts === undefined ? 0 : (2 * Math.PI) / counts;
  const limit = options.limited === false ? Number.POSITIVE_INFINITY : p.currentLimit;
  const coulomb = options.friction === false ? 0 : p.coulomb;
  const sticking = options.friction === false ? 0 : p.static;
  const lack = options.shortfall === false ? undefined : p.currentShortfall;
  const hold = options.windUp !== "none";
  const h = presentShare[p.integration];
  const decay = Number.isFinite(p.speedFilter) ? Math.exp(-p.speedFilter * ts) : 0;
  let whole = Math.floor(p.computationDelay / ts + 1e-9);
  let rest = p.computationDelay / ts - whole;
  if (rest < 1e-9) rest = 0;
  if (rest > 1 - 1e-9) {
    whole++;
    rest = 0;
  }
  const ideal = !Number.isFinite(p.currentBandwidth);
  const fineStep = Math.min(ts / 4, ideal ? ts : 0.25 / p.currentBandwidth);
  const late = rest === 0 ? 0 : Math.max(1, Math.min(64, Math.ceil((rest * ts) / fineStep)));
  const soon = Math.max(1, Math.min(64, Math.ceil(((1 - rest) * ts) / fineStep)));

  let current = options.start?.current ?? 0;
  let speed = options.start?.speed ?? 0;
  let position = options.start?.position ?? 0;
  let sum = options.start?.sum ?? 0;
  let filtered = speed;
  let followed = speed;
  let lastPosition = position - speed * ts;
  const past = new Array<number>(whole + 2).fill(current);
  let limited = 0;
  const seen = (angle: number): number => (grain === 0 ? angle : Math.floor(angle / grain + 0.5) * grain);

  const shaft = (torque: number, time: number): void => {
    let left = time;
    for (let n = 0; n < 3 && left > 0; n++) {
      if (speed === 0) {
        if (Math.abs(torque) <= sticking) return;
        const net = torque - Math.sign(torque) * (p.stribeck > 0 ? sticking : coulomb);
        advance(net, left);
        return;
      }
      const extra = p.stribeck > 0 ? (sticking - coulomb) * Math.exp(-((speed / p.stribeck) ** 2)) : 0;
      const net = torque - Math.sign(speed) * (coulomb + extra);
      const end = coast(speed, net, left);
      if (coulomb === 0 || end * speed > 0) {
        arrive(net, left, end);
        return;
      }
      // Friction brings the shaft to rest within this step: go to rest, then look again.
      const share = speed === end ? 1 : speed / (speed - end);
      position += (speed / 2) * share * left;
      speed = 0;
      left *= 1 - share;
    }
  };
  const d = p.viscous / p.inertia;
  // Steps are mostly alike, and so are their halves.
  const [times, losses] = [new Float64Array(4).fill(Number.NaN), new Float64Array(4)];
  let oldest = 0;
  const lossOver = (time: number): number => {
    for (let k = 0; k < times.length; k++) if (times[k] === time) return losses[k];
    times[oldest] = time;
    losses[oldest] = -Math.expm1(-d * time);
    oldest = (oldest + 1) % times.length;
    return -Math.expm1(-d * time);
  };
  const coast = (w: number, net: number, time: number): number => {
    if (d * time < 1e-12) return w + (net / p.inertia) * time;
    const e = lossOver(time);
    return w - w * e + (net / p.viscous) * e;
  };
  const advance = (net: number, time: number): void => arrive(net, time, coast(speed, net, time));
  const arrive = (net: number, time: number, end: number): void => {
    position += ((speed + 4 * coast(speed, net, time / 2) + end) * time) / 6;
    speed = end;
  };
  const run = (target: number, time: number, steps: number, now: number): void => {
    const step = time / steps;
    const settle = ideal ? 1 : -Math.expm1(-p.currentBandwidth * step);
    const follow = lack === undefined ? 0 : -Math.expm1(-lack.corner * step);
    for (let n = 0; n < steps; n++) {
      let wanted = target;
      if (lack !== undefined) {
        wanted -= lack.perSpeed * (speed - followed);
        followed += follow * (speed - followed);
      }
      if (options.voltage !== undefined) {
        const { available, resistance } = options.voltage;
        const backEmf = (speed * p.torqueConstant) / 1.5;
        wanted = Math.min(
          Math.max(wanted, (-available - backEmf) / resistance),
          (available - backEmf) / resistance,
        );
      }
      // Mean of the exact exponential over the step.
      const mean = ideal ? wanted : wanted + ((current - wanted) * settle) / (p.currentBandwidth * step);
      current += (wanted - current) * settle;
      shaft(p.torquePerAmpere * mean - (program.load?.(now + n * step) ?? 0), step);
    }
  };

  for (let k = 0; k < count; k++) {
    const now = k * ts;
    const reference = program.reference(now);
    const angle = seen(position);
    const raw = p.difference || grain > 0 ? (angle - seen(lastPosition)) / ts : speed;
    // A quantised loop without differencing stated still measures by counts; the linear model then has its half sample
    // too.
    lastPosition = position;
    filtered = decay * filtered + (1 - decay) * raw;
    const wanted = p.positionGain === undefined ? reference : p.positionGain * (reference - angle);
    const error = wanted - filtered;
    const free = p.kp * (p.referenceWeight * wanted - filtered) + p.ki * (sum + h * ts * error);
    const command = Math.min(Math.max(free, -limit), limit);
    if (command !== free) limited++;
    if (!(hold && command !== free && p.ki * error * free > 0)) sum += ts * error;
    past.unshift(command);
    past.pop();
    trace.time[k] = now;
    trace.reference[k] = reference;
    trace.speed[k] = speed;
    trace.measured[k] = filtered;
    trace.position[k] = position;
    trace.current[k] = current;
    trace.command[k] = command;
    if (late > 0) run(past[whole + 1], rest * ts, late, now);
    run(past[whole], (1 - rest) * ts, soon, now + rest * ts);
  }
  return { ...trace, limited, sampleTime: ts };
}
