/** Indices into the state of a plant. */
export const plantState = {
  angle: 0,
  speed: 1,
  currentD: 2,
  currentQ: 3,
  torque: 4,
  electrical: 5,
  copper: 6,
  friction: 7,
  load: 8,
  handStart: 9,
  handAngle: 10,
  handPart: 11,
  handStep: 12,
  /** Cosine and sine of the electrical angle, given by the caller for the start of the sample. */
  cosine: 13,
  sine: 14,
} as const;

/** What a plant is made of: numbers that do not change during a run. */
export interface PlantConstants {
  readonly polePairs: number;
  readonly resistance: number;
  readonly inductanceD: number;
  readonly inductanceQ: number;
  readonly fluxLinkage: number;
  readonly inertia: number;
  readonly coulombFriction: number;
  readonly staticFriction: number;
  readonly viscousFriction: number;
  /** Speed over which friction falls from static to Coulomb, rad/s; 0 when it falls at once. */
  readonly stribeckSpeed: number;
  readonly load: number;
  readonly coggingAmplitude: number;
  readonly coggingPeriods: number;
  readonly jammed: boolean;
  /** One lead makes no contact: the current lies on the axis with this cosine and sine. */
  readonly open: boolean;
  readonly axisCos: number;
  readonly axisSin: number;
  /** Inner step, s, and how many of them a sample has. */
  readonly step: number;
  readonly steps: number;
}

/**
 * Steps machine and shaft through one sample of the drive under a constant voltage on the winding. Midpoint rule in
 * rotor coordinates: slopes at the start of a step give its middle, slopes at the middle give the step. The state is
 * changed in place; nothing is allocated.
 *
 * @param x the state, by `plantState`
 * @param off the bridge is off: no current
 * @param byHand the shaft follows the hand's profile instead of its torques
 */
export function stepPlant(
  x: Float64Array,
  constants: PlantConstants,
  windingAlpha: number,
  windingBeta: number,
  off: boolean,
  byHand: boolean,
): void {
  const p = constants.polePairs;
  const R = constants.resistance;
  const Ld = constants.inductanceD;
  const Lq = constants.inductanceQ;
  const flux = constants.fluxLinkage;
  const J = constants.inertia;
  const Tc = constants.coulombFriction;
  const Ts = constants.staticFriction;
  const B = constants.viscousFriction;
  const falling = constants.stribeckSpeed > 0;
  const perSquare = falling ? 1 / constants.stribeckSpeed ** 2 : 0;
  const excess = Ts - Tc;
  const load = constants.load;
  const cogAmplitude = constants.coggingAmplitude;
  const cogPeriods = constants.coggingPeriods;
  const jammed = constants.jammed;
  const open = constants.open;
  const axisCos = constants.axisCos;
  const axisSin = constants.axisSin;
  const dt = constants.step;
  const inner = constants.steps;
  const half = 0.5 * dt;
  const saliency = Ld - Lq;
  const torqueFactor = 1.5 * p;
  let angle = x[0];
  let speed = x[1];
  let id = x[2];
  let iq = x[3];
  let torque = x[4];
  let energyElectrical = x[5];
  let energyCopper = x[6];
  let energyFriction = x[7];
  let energyLoad = x[8];
  const handStart = x[9];
  const handAngle = x[10];
  const handPart = x[11];
  const handStep = x[12];
  let c = x[13];
  let s = x[14];
  for (let k = 0; k < inner; k += 1) {
    let slopeD = 0;
    let slopeQ = 0;
    let w = speed;
    let handNext = angle;
    if (byHand) {
      if (!jammed) {
        const part = Math.min(1, handPart + (k + 1) * handStep);
        handNext = handStart + handAngle * (part - Math.sin(2 * Math.PI * part) / (2 * Math.PI));
      }
      w = (handNext - angle) / dt;
    }
    if (!off) {
      if (open) {
        // The current lives on one axis of the winding: a scalar circuit, seen from the turning rotor.
        const along = c * axisCos + s * axisSin;
        const across = c * axisSin - s * axisCos;
        const i = id * along + iq * across;
        const slope =
          (windingAlpha * axisCos +
            windingBeta * axisSin -
            R * i -
            p * w * across * (flux + 2 * saliency * along * i)) /
          (Ld * along * along + Lq * across * across);
        slopeD = slope * along + p * w * iq;
        slopeQ = slope * across - p * w * id;
      } else {
        slopeD = (c * windingAlpha + s * windingBeta - R * id + p * w * Lq * iq) / Ld;
        slopeQ = (c * windingBeta - s * windingAlpha - R * iq - p * w * (Ld * id + flux)) / Lq;
      }
    }
    let driving = torqueFactor * (flux + saliency * id) * iq - load;
    if (cogAmplitude !== 0) driving -= cogAmplitude * Math.sin(cogPeriods * angle);
    let direction = 0;
    let wMiddle = w;
    if (!byHand && !jammed) {
      if (w > 0) direction = 1;
      else if (w < 0) direction = -1;
      else if (driving > Ts) direction = 1;
      else if (driving < -Ts) direction = -1;
      if (direction !== 0) {
        const sliding = falling ? Tc + excess * Math.exp(-w * w * perSquare) : Tc;
        wMiddle = w + (half * (driving - direction * sliding - B * w)) / J;
      }
    }

    const d = id + half * slopeD;
    const q = iq + half * slopeQ;
    if (!off) {
      const turned = p * half * w;
      const t2 = turned * turned;
      const tc = 1 - t2 * (0.5 - t2 / 24);
      const ts = turned * (1 - t2 * (1 / 6 - t2 / 120));
      const cm = c * tc - s * ts;
      const sm = s * tc + c * ts;
      if (open) {
        const along = cm * axisCos + sm * axisSin;
        const across = cm * axisSin - sm * axisCos;
        const i = d * along + q * across;
        const v = windingAlpha * axisCos + windingBeta * axisSin;
        const slope =
          (v - R * i - p * wMiddle * across * (flux + 2 * saliency * along * i)) /
          (Ld * along * along + Lq * across * across);
        slopeD = slope * along + p * wMiddle * q;
        slopeQ = slope * across - p * wMiddle * d;
        energyElectrical += 1.5 * dt * v * i;
      } else {
        const vd = cm * windingAlpha + sm * windingBeta;
        const vq = cm * windingBeta - sm * windingAlpha;
        slopeD = (vd - R * d + p * wMiddle * Lq * q) / Ld;
        slopeQ = (vq - R * q - p * wMiddle * (Ld * d + flux)) / Lq;
        energyElectrical += 1.5 * dt * (vd * d + vq * q);
      }
      energyCopper += 1.5 * dt * R * (d * d + q * q);
    }
    // The mean of both ends: while the voltage stands still and the rotor turns, the current in the middle of a step,
    // had from its first slope, is off by the square of the turn, and that would be a torque that grows with the speed.
    torque = 0.5 * torqueFactor * (flux + saliency * id) * iq;
    id += dt * slopeD;
    iq += dt * slopeQ;
    torque += 0.5 * torqueFactor * (flux + saliency * id) * iq;

    let moved = 0;
    if (byHand) {
      moved = handNext - angle;
      speed = w;
    } else if (direction !== 0) {
      driving = torque - load;
      if (cogAmplitude !== 0) driving -= cogAmplitude * Math.sin(cogPeriods * (angle + half * w));
      const sliding = falling ? Tc + excess * Math.exp(-wMiddle * wMiddle * perSquare) : Tc;
      const friction = direction * sliding + B * wMiddle;
      let next = w + (dt * (driving - friction)) / J;
      moved = dt * wMiddle;
      if (next * direction < 0) {
        // The shaft comes to rest within the step: it sticks there, or starts the other way.
        const part = w / (w - next);
        moved = 0.5 * w * part * dt;
        next = 0;
        if (driving > Ts || driving < -Ts) {
          next = ((driving + direction * (falling ? Ts : Tc)) / J) * (1 - part) * dt;
          if (next * direction > 0) next = 0;
          moved += 0.5 * next * (1 - part) * dt;
        }
      }
      energyFriction += friction * moved;
      energyLoad += (torque - driving) * moved;
      speed = next;
    }
    if (moved !== 0) {
      angle += moved;
      const turned = p * moved;
      const t2 = turned * turned;
      const tc = 1 - t2 * (0.5 - t2 / 24);
      const ts = turned * (1 - t2 * (1 / 6 - t2 / 120));
      const cNext = c * tc - s * ts;
      s = s * tc + c * ts;
      c = cNext;
    }
    if (open) {
      // What rounding put off the one axis that can carry current is taken out again.
      const along = c * axisCos + s * axisSin;
      const across = c * axisSin - s * axisCos;
      const i = id * along + iq * across;
      id = i * along;
      iq = i * across;
    }
  }
  x[0] = angle;
  x[1] = speed;
  x[2] = id;
  x[3] = iq;
  x[4] = torque;
  x[5] = energyElectrical;
  x[6] = energyCopper;
  x[7] = energyFriction;
  x[8] = energyLoad;
}
