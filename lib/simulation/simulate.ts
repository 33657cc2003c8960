import type { Bench, BenchTrace, Segment } from "../motor/bench.js";
import { commutation, offsetAngle } from "../motor/commutation.js";
import { parity, windingShift } from "../motor/leadOrder.js";
import { voltageLimit } from "../motor/voltageLimit.js";
import { seededRandom } from "../numeric/distributions/seededRandom.js";
import { type PlantConstants, plantState, stepPlant } from "./plant.js";
import {
  handSegment,
  positionSegment,
  type SimulationOptions,
  settledDrive,
  settledEncoder,
  settledMotor,
  settledOptions,
  settledSegment,
  speedSegment,
  sweepSegment,
  torqueSegment,
} from "./settled.js";

/**
 * The inner step `simulate` chooses, s: a whole part of the drive's sample period, at most a tenth of the shorter
 * electrical time constant and 0.15 electrical rad at the speed where the back-EMF meets the voltage limit.
 */
export function innerStep(bench: Bench, longest?: number): number {
  const { motor, drive } = bench;
  const topSpeed = voltageLimit(drive.busVoltage, drive.modulation) / Math.max(motor.fluxLinkage, 1e-9);
  const wanted =
    longest ??
    Math.min(
      (0.1 * Math.min(motor.inductanceD, motor.inductanceQ)) / motor.resistance,
      0.15 / topSpeed,
      drive.samplePeriod,
    );
  return drive.samplePeriod / Math.max(1, Math.ceil(drive.samplePeriod / wanted - 1e-9));
}

/**
 * Steps a bench through a program in time. Machine equations in rotor coordinates (Krause, Analysis of Electric
 * Machinery, the permanent-magnet synchronous machine), integrated by the midpoint rule; friction sticks and breaks
 * away by events, not by a steep curve; the drive samples, computes one period late, and knows the shaft only by its
 * counter.
 *
 * Left out: iron losses, saturation, switching ripple, conduction of the bridge's diodes while it is off.
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
  // One long function on purpose: the loop runs millions of times, and its state stays in local variables.
  check(bench, program);
  const motor = settledMotor(bench.motor);
  const drive = settledDrive(bench.drive, bench.motor);
  const encoder = settledEncoder(bench.encoder);
  const run = settledOptions(options, bench);
  const segments = program.map(settledSegment);
  const p = motor.polePairs;
  const Ld = motor.inductanceD;
  const Lq = motor.inductanceQ;
  const J = motor.inertia;

  const period = drive.samplePeriod;
  const dt = innerStep(bench, options.step);
  const inner = Math.round(period / dt);
  const busShare = voltageLimit(1, bench.drive.modulation);
  const busResistance = drive.busResistance;
  const deadVoltage = drive.deadVoltage;
  const deadCurrent = 0.02 * drive.currentLimit;
  const vectorPriority = drive.vectorPriority;
  const currentLimit = drive.currentLimit;
  const hiddenLimit = drive.hiddenLimit;
  const tripSquare = drive.tripCurrent ** 2;
  const tripSpeed = drive.tripSpeed;
  const display = drive.displaySense;
  const positionGain = drive.positionGain;
  const odd = parity(bench.order) === "odd";
  const mirror = odd ? -1 : 1;
  const shift = windingShift(bench.order);
  const shiftCos = Math.cos(shift);
  const shiftSin = Math.sin(shift);
  const startAngle = run.startAngle;
  const alignedAt = run.alignedAt;
  const offset = offsetAngle(bench.drive.alignment, bench.order, p * alignedAt);
  const perCount = (2 * Math.PI) / (4 * drive.encoderLines);
  const electricalPerCount = drive.polePairs * perCount;
  const countsPerRad = ((4 * encoder.lines) / (2 * Math.PI)) * encoder.sense;
  const zeroCount = Math.floor(alignedAt * countsPerRad + 0.5);
  const missing = encoder.missing;
  const stuckFrom = encoder.stuckFrom;
  const burstChance = encoder.burstsPerSecond * period;
  const burstCounts = encoder.burstCounts;
  const divider = drive.speedDivider;
  const speedPeriod = period * divider;
  const filter = 1 - Math.exp(-speedPeriod / Math.max(drive.speedFilter, 1e-9));
  const kpCurrent = drive.currentBandwidth * drive.tunedInductance;
  const kiCurrent = drive.currentBandwidth * drive.tunedResistance * period;
  const kp = drive.kp;
  const kiStep = drive.ki * speedPeriod;
  const noise = run.currentNoise;
  const currentOffset = run.currentOffset;
  const currentGain = run.currentGain;
  const voltageNoise = run.voltageNoise;
  const random = seededRandom(run.seed);
  const axis =
    bench.openLead === undefined
      ? 0
      : Math.PI / 2 + { U: 0, V: (2 * Math.PI) / 3, W: (-2 * Math.PI) / 3 }[bench.openLead];
  const halfRoot3 = Math.sqrt(3) / 2;

  let total = 0;
  for (const segment of segments) total += segment.duration;
  const rate = Math.min(run.logRate, 1 / period);
  const rows = Math.floor(total * rate + 1e-6);
  const logTime = new Float64Array(rows);
  const logCurrentCommand = new Float64Array(rows);
  const logCurrent = new Float64Array(rows);
  const logCurrentDCommand = new Float64Array(rows);
  const logCurrentD = new Float64Array(rows);
  const logVoltageQ = new Float64Array(rows);
  const logVoltageD = new Float64Array(rows);
  const logTerminal1 = new Float64Array(rows);
  const logTerminal2 = new Float64Array(rows);
  const logTerminal3 = new Float64Array(rows);
  const logBus = new Float64Array(rows);
  const logSpeed = new Float64Array(rows);
  const logSpeedCommand = new Float64Array(rows);
  const logPositionCommand = new Float64Array(rows);
  const logCounts = new Float64Array(rows);
  const logSweep = new Float64Array(rows);
  const logIndex = new Float64Array(rows);
  const logAngle = new Float64Array(rows);
  const logTruthSpeed = new Float64Array(rows);
  const logTorque = new Float64Array(rows);
  let row = 0;
  let nextLog = -1e-9;

  const constants: PlantConstants = {
    polePairs: p,
    resistance: motor.resistance,
    inductanceD: Ld,
    inductanceQ: Lq,
    fluxLinkage: motor.fluxLinkage,
    inertia: J,
    coulombFriction: motor.coulombFriction,
    staticFriction: motor.staticFriction,
    viscousFriction: motor.viscousFriction,
    stribeckSpeed: motor.stribeckSpeed,
    load: motor.load,
    coggingAmplitude: motor.coggingAmplitude,
    coggingPeriods: motor.coggingPeriods,
    jammed: motor.jammed,
    open: bench.openLead !== undefined,
    axisCos: Math.cos(axis),
    axisSin: Math.sin(axis),
    step: dt,
    steps: inner,
  };
  // State of the machine.
  const plant = new Float64Array(16);
  plant[plantState.angle] = startAngle;
  plant[plantState.speed] = motor.jammed ? 0 : run.startSpeed;
  let angle = startAngle;
  // State of the drive.
  let bus = drive.busVoltage;
  let counts = 0;
  let slipped = 0;
  let lastEdge = Math.floor(angle * countsPerRad + 0.5) - zeroCount;
  let lastSpeedCounts = lastEdge;
  let measuredSpeed = run.startSpeed * countsPerRad * perCount;
  let speedIntegral = 0;
  let integralD = 0;
  let integralQ = 0;
  let command = 0;
  let nextAlpha = 0;
  let nextBeta = 0;
  let nextD = 0;
  let nextQ = 0;
  let indexTurn = Math.floor(angle / (2 * Math.PI));
  let indexSeen = 0;
  let steps = 0;
  let tripped = false;
  const kineticStart = 0.5 * J * plant[plantState.speed] ** 2;

  let sample = 0;
  let segmentStart = 0;
  let ended = 0;
  for (const segment of segments) {
    ended += segment.duration;
    const lastSample = Math.round(ended / period);
    const duration = segment.duration;
    const code = segment.code;
    const byHand = code === handSegment;
    let off = tripped || drive.disabled || segment.off;
    plant[plantState.handAngle] = segment.handAngle;
    plant[plantState.handStart] = plant[plantState.angle];
    const from = segment.from;
    const change = segment.change;
    const sweepFrom = segment.sweepFrom;
    const sweepChange = segment.sweepChange;
    if (off) {
      releaseCurrent(plant, Ld, Lq);
      integralD = 0;
      integralQ = 0;
      nextAlpha = 0;
      nextBeta = 0;
      nextD = 0;
      nextQ = 0;
    }
    if (code !== speedSegment && code !== positionSegment) speedIntegral = 0;

    for (; sample < lastSample; sample += 1) {
      const time = sample * period;
      const share = (time - segmentStart) / duration;

      angle = plant[plantState.angle];
      // The encoder, as the drive counts it.
      const edge = Math.floor(angle * countsPerRad + 0.5) - zeroCount;
      if (missing > 0 && edge !== lastEdge) {
        const passed = edge - lastEdge;
        const lost = Math.floor(Math.abs(passed) * missing + random.uniform());
        slipped += passed > 0 ? lost : -lost;
      }
      if (burstChance > 0 && random.uniform() < burstChance) {
        slipped += Math.round((2 * random.uniform() - 1) * burstCounts);
      }
      lastEdge = edge;
      if (time < stuckFrom) counts = edge - slipped;
      const turn = Math.floor(angle / (2 * Math.PI));
      if (turn !== indexTurn) {
        indexTurn = turn;
        indexSeen = 1;
      }

      const loopRuns = sample % divider === 0;
      if (loopRuns) {
        if (sample > 0) {
          measuredSpeed += filter * (((counts - lastSpeedCounts) * perCount) / speedPeriod - measuredSpeed);
        }
        lastSpeedCounts = counts;
      }
      let speedCommand = Number.NaN;
      let positionCommand = Number.NaN;
      let sweepAngle = Number.NaN;
      let believed = electricalPerCount * counts + offset;
      let commandD = 0;
      if (code === torqueSegment || code === handSegment) {
        command = from + share * change;
      } else if (code === speedSegment || code === positionSegment) {
        speedCommand = from + share * change;
        if (code === positionSegment) {
          positionCommand = speedCommand;
          speedCommand = positionGain * (positionCommand - counts * perCount);
        }
        if (loopRuns) {
          const error = speedCommand - measuredSpeed;
          const wanted = kp * error + speedIntegral + kiStep * error;
          command = Math.max(-currentLimit, Math.min(currentLimit, wanted));
          // Conditional integration: the integral stops while the limit holds and the error would drive it further.
          if (wanted === command || wanted * error < 0) speedIntegral += kiStep * error;
        }
      } else if (code === sweepSegment) {
        command = 0;
        commandD = from + share * change;
        sweepAngle = sweepFrom + share * sweepChange;
        believed = sweepAngle;
      } else {
        command = 0;
      }
      if (command > currentLimit) command = currentLimit;
      else if (command < -currentLimit) command = -currentLimit;
      const limited = Math.max(-hiddenLimit, Math.min(hiddenLimit, command));

      // Currents as the drive measures them, in its own coordinates.
      const c = Math.cos(p * angle);
      const s = Math.sin(p * angle);
      const id = plant[plantState.currentD];
      const iq = plant[plantState.currentQ];
      const alpha = c * id - s * iq;
      const beta = s * id + c * iq;
      const trueAlpha = shiftCos * alpha + shiftSin * beta;
      const trueBeta = (shiftCos * beta - shiftSin * alpha) * mirror;
      let driveAlpha = currentGain * trueAlpha + currentOffset;
      let driveBeta = currentGain * trueBeta;
      if (noise > 0) {
        driveAlpha += noise * random.normal();
        driveBeta += noise * random.normal();
      }
      const bc = Math.cos(believed);
      const bs = Math.sin(believed);
      const measuredD = bc * driveAlpha + bs * driveBeta;
      const measuredQ = bc * driveBeta - bs * driveAlpha;

      if (
        !off &&
        (driveAlpha * driveAlpha + driveBeta * driveBeta > tripSquare || Math.abs(measuredSpeed) > tripSpeed)
      ) {
        tripped = true;
        off = true;
        releaseCurrent(plant, Ld, Lq);
        integralD = 0;
        integralQ = 0;
        nextAlpha = 0;
        nextBeta = 0;
        nextD = 0;
        nextQ = 0;
      }
      // The voltage computed one period ago is applied now.
      let vAlpha = nextAlpha;
      let vBeta = nextBeta;
      const loggedD = nextD;
      const loggedQ = nextQ;
      if (!off) {
        const limit = busShare * bus;
        const errorD = commandD - measuredD;
        const errorQ = limited - measuredQ;
        const stepD = kiCurrent * errorD;
        const stepQ = kiCurrent * errorQ;
        const wantedD = kpCurrent * errorD + integralD + stepD;
        const wantedQ = kpCurrent * errorQ + integralQ + stepQ;
        let vd = wantedD;
        let vq = wantedQ;
        if (vectorPriority) {
          const size = Math.sqrt(vd * vd + vq * vq);
          if (size > limit) {
            vd *= limit / size;
            vq *= limit / size;
          }
        } else {
          if (vd > limit) vd = limit;
          else if (vd < -limit) vd = -limit;
          const room = Math.sqrt(limit * limit - vd * vd);
          if (vq > room) vq = room;
          else if (vq < -room) vq = -room;
        }
        if (vd === wantedD || wantedD * errorD < 0) integralD += stepD;
        if (vq === wantedQ || wantedQ * errorQ < 0) integralQ += stepQ;
        // The voltage will stand from one to two periods from now: turn it ahead.
        let ac = bc;
        let as = bs;
        if (code !== sweepSegment) {
          const ahead = believed + 1.5 * period * measuredSpeed * drive.polePairs;
          ac = Math.cos(ahead);
          as = Math.sin(ahead);
        }
        nextAlpha = ac * vd - as * vq;
        nextBeta = as * vd + ac * vq;
        nextD = vd;
        nextQ = vq;
        if (deadVoltage > 0) {
          const i2 = -0.5 * trueAlpha + halfRoot3 * trueBeta;
          const i3 = -0.5 * trueAlpha - halfRoot3 * trueBeta;
          const s1 = trueAlpha / (Math.abs(trueAlpha) + deadCurrent);
          const s2 = i2 / (Math.abs(i2) + deadCurrent);
          const s3 = i3 / (Math.abs(i3) + deadCurrent);
          vAlpha -= (deadVoltage * (2 * s1 - s2 - s3)) / 3;
          vBeta -= (deadVoltage * (s2 - s3)) / (2 * halfRoot3);
        }
        if (busResistance > 0) {
          bus =
            drive.busVoltage -
            (busResistance * 1.5 * (vAlpha * trueAlpha + vBeta * trueBeta)) / drive.busVoltage;
        }
      }

      if (time >= nextLog && row < rows) {
        logTime[row] = time;
        logCurrentCommand[row] = command;
        logCurrent[row] = measuredQ;
        logCurrentDCommand[row] = commandD;
        logCurrentD[row] = measuredD;
        logVoltageQ[row] = loggedQ;
        logVoltageD[row] = loggedD;
        logTerminal1[row] = driveAlpha;
        logTerminal2[row] = -0.5 * driveAlpha + halfRoot3 * driveBeta;
        logTerminal3[row] = -0.5 * driveAlpha - halfRoot3 * driveBeta;
        logBus[row] = voltageNoise > 0 ? bus + voltageNoise * random.normal() : bus;
        logSpeed[row] = display * measuredSpeed;
        logSpeedCommand[row] = speedCommand;
        logPositionCommand[row] = positionCommand;
        logCounts[row] = display * counts;
        logSweep[row] = sweepAngle;
        logIndex[row] = indexSeen;
        logAngle[row] = angle;
        logTruthSpeed[row] = plant[plantState.speed];
        logTorque[row] = plant[plantState.torque];
        indexSeen = 0;
        row += 1;
        nextLog = row / rate - 1e-9;
      }

      // From the drive's coordinates to the winding's.
      vBeta *= mirror;
      const windingAlpha = shiftCos * vAlpha - shiftSin * vBeta;
      const windingBeta = shiftSin * vAlpha + shiftCos * vBeta;
      steps += inner;
      if (byHand) {
        plant[plantState.handPart] = (time - segmentStart) / duration;
        plant[plantState.handStep] = dt / duration;
      }
      plant[plantState.cosine] = c;
      plant[plantState.sine] = s;
      stepPlant(plant, constants, windingAlpha, windingBeta, off, byHand);
    }
    if (byHand) plant[plantState.speed] = 0;
    segmentStart += duration;
  }

  return {
    time: logTime.subarray(0, row),
    currentCommand: logCurrentCommand.subarray(0, row),
    current: logCurrent.subarray(0, row),
    currentDCommand: logCurrentDCommand.subarray(0, row),
    currentD: logCurrentD.subarray(0, row),
    voltageQ: logVoltageQ.subarray(0, row),
    voltageD: logVoltageD.subarray(0, row),
    terminalCurrents: [
      logTerminal1.subarray(0, row),
      logTerminal2.subarray(0, row),
      logTerminal3.subarray(0, row),
    ],
    busVoltage: logBus.subarray(0, row),
    speed: logSpeed.subarray(0, row),
    speedCommand: logSpeedCommand.subarray(0, row),
    positionCommand: logPositionCommand.subarray(0, row),
    counts: logCounts.subarray(0, row),
    sweepAngle: logSweep.subarray(0, row),
    index: logIndex.subarray(0, row),
    truth: {
      angle: logAngle.subarray(0, row),
      speed: logTruthSpeed.subarray(0, row),
      torque: logTorque.subarray(0, row),
      ...commutation(bench, startAngle),
    },
    steps,
    energy: {
      electrical: plant[plantState.electrical],
      copper: plant[plantState.copper],
      friction: plant[plantState.friction],
      load: plant[plantState.load],
      kinetic: 0.5 * J * plant[plantState.speed] ** 2 - kineticStart,
      magnetic: 0.75 * (Ld * plant[plantState.currentD] ** 2 + Lq * plant[plantState.currentQ] ** 2),
    },
  };
}

/** The bridge is switched off: what the winding holds goes back to the bus. */
function releaseCurrent(plant: Float64Array, Ld: number, Lq: number): void {
  const id = plant[plantState.currentD];
  const iq = plant[plantState.currentQ];
  plant[plantState.electrical] -= 0.75 * (Ld * id * id + Lq * iq * iq);
  plant[plantState.currentD] = 0;
  plant[plantState.currentQ] = 0;
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
    if (!(segment.duration > 0 && Number.isFinite(segment.duration)))
      throw new RangeError(`segment ${i + 1} (${segment.kind}) must last longer than 0 s`);
  }
}
