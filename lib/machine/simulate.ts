import type { Alignment, Bench, BenchTrace, Segment } from "./bench.js";
import type { LeadOrder } from "./facts.js";
import { parity, windingShift } from "./leadOrder.js";
import { randomNormal } from "./random.js";

/** How a bench is run and logged. */
export interface SimulationOptions {
  /** Rows a second in the log; the drive's sample rate is the upper end. 1000 when absent. */
  readonly logRate?: number;
  /** Shaft angle at the start, rad. */
  readonly startAngle?: number;
  /** Shaft speed at the start, rad/s. */
  readonly startSpeed?: number;
  /** Standard deviation of the measured currents, A. The current loop sees this noise. */
  readonly currentNoise?: number;
  /** Seed of the noise. */
  readonly seed?: number;
  /** Longest inner step, s; chosen from the time constants when absent. */
  readonly step?: number;
}

/** Largest voltage vector (phase peak) a bus can give, V. Space-vector modulation: Vdc/sqrt(3); plain sine: Vdc/2. */
export function voltageLimit(busVoltage: number, modulation: "space-vector" | "sine"): number {
  return modulation === "space-vector" ? busVoltage / Math.sqrt(3) : busVoltage / 2;
}

/** The drive's offset angle after its alignment, rad, for a count that starts at zero at `startAngle`. */
function offsetAngle(alignment: Alignment, order: LeadOrder, electricalStart: number): number {
  const from = alignment.kind === "stale" ? alignment.from : order;
  const shift = windingShift(from);
  const aligned = parity(from) === "even" ? electricalStart - shift : shift - electricalStart;
  return alignment.kind === "disturbed" ? aligned + alignment.by : aligned;
}

/**
 * Steps a bench through a program in time. Machine equations in rotor coordinates (Krause, Analysis of Electric Machinery,
 * the permanent-magnet synchronous machine), integrated by the midpoint rule; the drive samples, computes one period late,
 * and knows the shaft only by its counter.
 *
 * @param bench the motor, drive, encoder and wiring
 * @param program what is tried, one segment after another
 * @returns the log and the truth behind it
 * @throws RangeError when a constant is not positive or a segment has no duration
 * @example
 * const trace = simulate(bench, [{ kind: "torque", from: 1, duration: 0.5 }, { kind: "torque", from: -1, duration: 0.5 }]);
 */
export function simulate(
  bench: Bench,
  program: readonly Segment[],
  options: SimulationOptions = {},
): BenchTrace {
  const { motor, drive, encoder } = bench;
  check(bench, program);
  const p = motor.polePairs;
  const { resistance: R, inductanceD: Ld, inductanceQ: Lq, fluxLinkage: flux, inertia: J } = motor;
  const { coulombFriction: Tc, viscousFriction: B } = motor;
  const Ts = Math.max(motor.staticFriction, Tc);
  const load = motor.load ?? 0;
  const cogAmplitude = motor.cogging?.amplitude ?? 0;
  const cogPeriods = motor.cogging?.periods ?? 0;
  const period = drive.samplePeriod;
  const longest = options.step ?? Math.min(period / 2, (0.1 * Math.min(Ld, Lq)) / R, 50e-6);
  const inner = Math.max(1, Math.ceil(period / longest - 1e-9));
  const dt = period / inner;
  const limit = voltageLimit(drive.busVoltage, drive.modulation);
  const odd = parity(bench.order) === "odd";
  const shift = windingShift(bench.order);
  const [shiftCos, shiftSin] = [Math.cos(shift), Math.sin(shift)];
  const startAngle = options.startAngle ?? 0;
  const offset = offsetAngle(drive.alignment, bench.order, p * startAngle);
  const perCount = (2 * Math.PI) / (4 * drive.encoderLines);
  const countsPerRad = (4 * encoder.lines) / (2 * Math.PI);
  const divider = drive.speedDivider ?? 1;
  const speedPeriod = period * divider;
  const filter = 1 - Math.exp(-speedPeriod / Math.max(drive.speedFilter, 1e-9));
  const tunedL = drive.tunedInductance ?? (Ld + Lq) / 2;
  const tunedR = drive.tunedResistance ?? R;
  const kpCurrent = drive.currentBandwidth * tunedL;
  const kiCurrent = drive.currentBandwidth * tunedR * period;
  const { kp, ki } = drive.speedLoop;
  const noise = options.currentNoise ?? 0;
  const normal = randomNormal(options.seed ?? 1);
  const openAxis =
    bench.openLead === undefined
      ? undefined
      : { U: Math.PI / 2, V: (2 * Math.PI) / 3 + Math.PI / 2, W: (-2 * Math.PI) / 3 + Math.PI / 2 }[
          bench.openLead
        ];
  const axisCos = openAxis === undefined ? 0 : Math.cos(openAxis);
  const axisSin = openAxis === undefined ? 0 : Math.sin(openAxis);

  const total = program.reduce((sum, segment) => sum + segment.duration, 0);
  const samples = Math.round(total / period);
  const rate = Math.min(options.logRate ?? 1000, 1 / period);
  const rows = Math.floor(total * rate + 1e-6);
  const column = () => new Float64Array(rows);
  const log = {
    time: column(),
    currentCommand: column(),
    current: column(),
    currentDCommand: column(),
    currentD: column(),
    voltageQ: column(),
    voltageD: column(),
    terminal1: column(),
    terminal2: column(),
    terminal3: column(),
    speed: column(),
    speedCommand: column(),
    counts: column(),
    sweepAngle: column(),
    index: column(),
    angle: column(),
    truthSpeed: column(),
    torque: column(),
  };
  let row = 0;

  // State of the machine.
  let angle = startAngle;
  let speed = options.startSpeed ?? 0;
  let id = 0;
  let iq = 0;
  let torque = 0;
  // State of the drive.
  let counts = 0;
  let missed = 0;
  let lastEdge = 0;
  let lastSpeedCounts = 0;
  let measuredSpeed = 0;
  let speedIntegral = 0;
  let integralD = 0;
  let integralQ = 0;
  let command = 0;
  let commandD = 0;
  let [nextAlpha, nextBeta, nextD, nextQ] = [0, 0, 0, 0];
  let indexTurn = 0;
  let handStart = angle;
  const energy = { electrical: 0, copper: 0, friction: 0, load: 0 };
  const kineticStart = 0.5 * J * speed * speed;
  const magneticStart = 0;

  let segmentAt = 0;
  let segmentStart = 0;
  let segment = program[0];
  for (let sample = 0; sample < samples; sample += 1) {
    const time = sample * period;
    while (segmentAt < program.length - 1 && time >= segmentStart + segment.duration - 1e-9) {
      segmentStart += segment.duration;
      segmentAt += 1;
      segment = program[segmentAt];
      handStart = angle;
      if (segment.kind === "coast" || segment.kind === "hand") {
        // The bridge is switched off: what the winding holds goes back to the bus.
        energy.electrical -= 0.75 * (Ld * id * id + Lq * iq * iq);
        id = 0;
        iq = 0;
      }
      if (
        segment.kind === "coast" ||
        segment.kind === "hand" ||
        segment.kind === "torque" ||
        segment.kind === "sweep"
      ) {
        speedIntegral = 0;
      }
    }
    const share = (time - segmentStart) / segment.duration;
    const off = segment.kind === "coast" || segment.kind === "hand";

    // The encoder, as the drive counts it.
    const edge = Math.floor((angle - startAngle) * countsPerRad * encoder.sense + 0.5);
    if (encoder.missing !== undefined && encoder.missing > 0 && edge !== lastEdge) {
      for (let k = Math.abs(edge - lastEdge); k > 0; k -= 1) {
        if (normal.uniform() < encoder.missing) missed += Math.sign(edge - lastEdge);
      }
    }
    lastEdge = edge;
    if (encoder.stuckFrom === undefined || time < encoder.stuckFrom) counts = edge - missed;
    const turn = Math.floor(angle / (2 * Math.PI));
    const indexPulse = turn !== indexTurn ? 1 : 0;
    indexTurn = turn;

    if (sample % divider === 0) {
      const raw = ((counts - lastSpeedCounts) * perCount) / speedPeriod;
      lastSpeedCounts = counts;
      if (sample > 0) measuredSpeed += filter * (raw - measuredSpeed);
    }
    let speedCommand = Number.NaN;
    let sweepAngle = Number.NaN;
    let believed = drive.polePairs * counts * perCount + offset;
    commandD = 0;
    if (segment.kind === "torque") {
      command = segment.from + share * ((segment.to ?? segment.from) - segment.from);
    } else if (segment.kind === "speed" || segment.kind === "position") {
      const value = segment.from + share * ((segment.to ?? segment.from) - segment.from);
      speedCommand = segment.kind === "speed" ? value : 20 * (value - counts * perCount);
      if (sample % divider === 0) {
        const error = speedCommand - measuredSpeed;
        const wanted = kp * error + speedIntegral + ki * speedPeriod * error;
        command = Math.max(-drive.currentLimit, Math.min(drive.currentLimit, wanted));
        // Conditional integration: the integral stops while the limit holds and the error would drive it further.
        if (wanted === command || wanted * error < 0) speedIntegral += ki * speedPeriod * error;
      }
    } else if (segment.kind === "sweep") {
      command = 0;
      commandD = segment.current;
      sweepAngle = share * segment.turns * 2 * Math.PI;
      believed = sweepAngle;
    } else {
      command = 0;
    }
    command = Math.max(-drive.currentLimit, Math.min(drive.currentLimit, command));

    // Currents as the drive measures them, in its own coordinates.
    const [rc, rs] = [Math.cos(p * angle), Math.sin(p * angle)];
    const alpha = rc * id - rs * iq;
    const beta = rs * id + rc * iq;
    let driveAlpha = shiftCos * alpha + shiftSin * beta;
    let driveBeta = (shiftCos * beta - shiftSin * alpha) * (odd ? -1 : 1);
    if (noise > 0) {
      driveAlpha += noise * normal.next();
      driveBeta += noise * normal.next();
    }
    const [bc, bs] = [Math.cos(believed), Math.sin(believed)];
    const measuredD = bc * driveAlpha + bs * driveBeta;
    const measuredQ = bc * driveBeta - bs * driveAlpha;

    // The voltage computed one period ago is applied now.
    const [vAlpha, vBeta, vdLogged, vqLogged] = [nextAlpha, nextBeta, nextD, nextQ];
    if (off) {
      integralD = 0;
      integralQ = 0;
      nextAlpha = 0;
      nextBeta = 0;
      nextD = 0;
      nextQ = 0;
    } else {
      const errorD = commandD - measuredD;
      const errorQ = command - measuredQ;
      let vd = kpCurrent * errorD + integralD + kiCurrent * errorD;
      let vq = kpCurrent * errorQ + integralQ + kiCurrent * errorQ;
      const size = Math.hypot(vd, vq);
      const scale = size > limit ? limit / size : 1;
      vd *= scale;
      vq *= scale;
      integralD += kiCurrent * errorD;
      integralQ += kiCurrent * errorQ;
      if (scale < 1) {
        // Back-calculation: the integrals follow the voltage that could be given.
        const held = Math.min(1, limit / Math.max(limit, Math.hypot(integralD, integralQ)));
        integralD *= held;
        integralQ *= held;
      }
      const ahead = segment.kind === "sweep" ? 0 : 1.5 * period * measuredSpeed * drive.polePairs;
      const [ac, as] = [Math.cos(believed + ahead), Math.sin(believed + ahead)];
      nextAlpha = ac * vd - as * vq;
      nextBeta = as * vd + ac * vq;
      nextD = vd;
      nextQ = vq;
    }

    if (row < rows && time + 1e-9 >= row / rate) {
      log.time[row] = time;
      log.currentCommand[row] = command;
      log.current[row] = measuredQ;
      log.currentDCommand[row] = commandD;
      log.currentD[row] = measuredD;
      log.voltageQ[row] = vqLogged;
      log.voltageD[row] = vdLogged;
      log.terminal1[row] = driveAlpha;
      log.terminal2[row] = -0.5 * driveAlpha + (Math.sqrt(3) / 2) * driveBeta;
      log.terminal3[row] = -0.5 * driveAlpha - (Math.sqrt(3) / 2) * driveBeta;
      log.speed[row] = measuredSpeed;
      log.speedCommand[row] = speedCommand;
      log.counts[row] = counts;
      log.sweepAngle[row] = sweepAngle;
      log.index[row] = indexPulse;
      log.angle[row] = angle;
      log.truthSpeed[row] = speed;
      log.torque[row] = torque;
      row += 1;
    }

    // From the drive's coordinates to the winding's.
    const mirrored = odd ? -vBeta : vBeta;
    const windingAlpha = shiftCos * vAlpha - shiftSin * mirrored;
    const windingBeta = shiftSin * vAlpha + shiftCos * mirrored;
    for (let k = 0; k < inner; k += 1) {
      if (segment.kind === "hand") {
        const s = Math.min(1, (time + (k + 1) * dt - segmentStart) / segment.duration);
        const next = handStart + segment.angle * (s - Math.sin(2 * Math.PI * s) / (2 * Math.PI));
        speed = (next - angle) / dt;
        angle = next;
        if (s >= 1) speed = 0;
        continue;
      }
      // Midpoint rule: slopes at the start give the middle, slopes at the middle give the step.
      let [a, w, d, q] = [angle, speed, id, iq];
      let frictionTorque = 0;
      let acceleration = 0;
      let [slopeD, slopeQ] = [0, 0];
      let [vd, vq] = [0, 0];
      for (let stage = 0; stage < 2; stage += 1) {
        const electrical = p * a;
        const c = Math.cos(electrical);
        const s = Math.sin(electrical);
        if (off) {
          slopeD = 0;
          slopeQ = 0;
        } else if (openAxis === undefined) {
          vd = c * windingAlpha + s * windingBeta;
          vq = c * windingBeta - s * windingAlpha;
          slopeD = (vd - R * d + p * w * Lq * q) / Ld;
          slopeQ = (vq - R * q - p * w * (Ld * d + flux)) / Lq;
        } else {
          // The current lives on one axis of the winding: a scalar circuit, seen from the turning rotor.
          const along = c * axisCos + s * axisSin;
          const across = c * axisSin - s * axisCos;
          const scalar = d * along + q * across;
          const vAxis = windingAlpha * axisCos + windingBeta * axisSin;
          vd = vAxis * along;
          vq = vAxis * across;
          const slope = (vAxis - R * scalar - p * w * flux * across) / ((Ld + Lq) / 2);
          slopeD = slope * along + p * w * q;
          slopeQ = slope * across - p * w * d;
        }
        torque = 1.5 * p * (flux * q + (Ld - Lq) * d * q);
        const drivingTorque =
          torque - load - (cogAmplitude === 0 ? 0 : cogAmplitude * Math.sin(cogPeriods * a));
        if (w === 0) {
          frictionTorque = Math.abs(drivingTorque) <= Ts ? drivingTorque : Math.sign(drivingTorque) * Tc;
        } else {
          frictionTorque = Math.sign(w) * Tc + B * w;
        }
        acceleration = motor.jammed ? 0 : (drivingTorque - frictionTorque) / J;
        if (stage === 0) {
          a = angle + 0.5 * dt * speed;
          d = id + 0.5 * dt * slopeD;
          q = iq + 0.5 * dt * slopeQ;
          w = speed === 0 && acceleration === 0 ? 0 : speed + 0.5 * dt * acceleration;
        }
      }
      const nextSpeed = speed + dt * acceleration;
      if (!off) {
        energy.electrical += 1.5 * dt * (vd * d + vq * q);
        energy.copper += 1.5 * dt * R * (d * d + q * q);
      }
      energy.friction += dt * frictionTorque * w;
      energy.load += dt * load * w;
      id += dt * slopeD;
      iq += dt * slopeQ;
      angle += dt * w;
      if (openAxis !== undefined) {
        // What rounding put off the one axis that can carry current is taken out again.
        const along = Math.cos(p * angle - openAxis);
        const across = -Math.sin(p * angle - openAxis);
        const scalar = id * along + iq * across;
        id = scalar * along;
        iq = scalar * across;
      }
      speed = nextSpeed * speed < 0 && Math.abs(torque - load) <= Ts ? 0 : nextSpeed;
      if (motor.jammed) {
        speed = 0;
        angle = startAngle;
      }
    }
  }
  const cut = (values: Float64Array) => (row === rows ? values : values.slice(0, row));
  return {
    time: cut(log.time),
    currentCommand: cut(log.currentCommand),
    current: cut(log.current),
    currentDCommand: cut(log.currentDCommand),
    currentD: cut(log.currentD),
    voltageQ: cut(log.voltageQ),
    voltageD: cut(log.voltageD),
    terminalCurrents: [cut(log.terminal1), cut(log.terminal2), cut(log.terminal3)],
    speed: cut(log.speed),
    speedCommand: cut(log.speedCommand),
    counts: cut(log.counts),
    sweepAngle: cut(log.sweepAngle),
    index: cut(log.index),
    truth: { angle: cut(log.angle), speed: cut(log.truthSpeed), torque: cut(log.torque) },
    energy: {
      ...energy,
      kinetic: 0.5 * J * speed * speed - kineticStart,
      magnetic: 0.75 * (Ld * id * id + Lq * iq * iq) - magneticStart,
    },
  };
}

function check({ motor, drive, encoder }: Bench, program: readonly Segment[]): void {
  const positive = {
    "motor.polePairs": motor.polePairs,
    "motor.resistance": motor.resistance,
    "motor.inductanceD": motor.inductanceD,
    "motor.inductanceQ": motor.inductanceQ,
    "motor.inertia": motor.inertia,
    "drive.busVoltage": drive.busVoltage,
    "drive.samplePeriod": drive.samplePeriod,
    "drive.encoderLines": drive.encoderLines,
    "encoder.lines": encoder.lines,
  };
  for (const [name, value] of Object.entries(positive)) {
    if (!(value > 0 && Number.isFinite(value)))
      throw new RangeError(`${name} must be a positive number, not ${value}`);
  }
  if (program.length === 0) throw new RangeError("a program needs at least one segment");
  for (const [i, segment] of program.entries()) {
    if (!(segment.duration > 0))
      throw new RangeError(`segment ${i + 1} (${segment.kind}) must last longer than 0 s`);
  }
}
