import type { LoopSimulation } from "./loopSimulation.js";
import type { FixedLoop } from "./speedLoop.js";

/** The shaft of a simulated loop: it moves by exact solutions, with friction's sign and sticking followed. */
export class SimulatedShaft {
  /** rad/s. */
  speed: number;
  /** rad. */
  position: number;
  private readonly inertia: number;
  private readonly viscous: number;
  private readonly stribeck: number;
  private readonly coulomb: number;
  private readonly sticking: number;
  /** Rate of the decay by viscous friction, 1/s. */
  private readonly rate: number;
  /** Losses of speed over the last different times: steps are mostly alike, and so are their halves. */
  private readonly times = new Float64Array(4).fill(Number.NaN);
  private readonly losses = new Float64Array(4);
  private oldest = 0;

  constructor(loop: FixedLoop, { friction, start }: LoopSimulation) {
    this.inertia = loop.inertia;
    this.viscous = loop.viscous;
    this.stribeck = loop.stribeck;
    this.coulomb = friction === false ? 0 : loop.coulomb;
    this.sticking = friction === false ? 0 : loop.static;
    this.rate = loop.viscous / loop.inertia;
    this.speed = start?.speed ?? 0;
    this.position = start?.position ?? 0;
  }

  /** Moves on for a time under a torque. */
  turn(torque: number, time: number): void {
    let left = time;
    for (let n = 0; n < 3 && left > 0; n++) {
      const { speed } = this;
      if (speed === 0) {
        this.startFromRest(torque, left);
        return;
      }
      const net = torque - Math.sign(speed) * this.friction(speed);
      const end = this.coast(speed, net, left);
      if (this.coulomb === 0 || end * speed > 0) {
        this.arrive(net, left, end);
        return;
      }
      // Friction brings the shaft to rest within this step: go to rest, then look again.
      const share = speed === end ? 1 : speed / (speed - end);
      this.position += (speed / 2) * share * left;
      this.speed = 0;
      left *= 1 - share;
    }
  }

  private startFromRest(torque: number, time: number): void {
    if (Math.abs(torque) <= this.sticking) return;
    const net = torque - Math.sign(torque) * (this.stribeck > 0 ? this.sticking : this.coulomb);
    this.arrive(net, time, this.coast(this.speed, net, time));
  }

  /** Size of the dry friction at a speed, N m. */
  private friction(speed: number): number {
    const extra =
      this.stribeck > 0 ? (this.sticking - this.coulomb) * Math.exp(-((speed / this.stribeck) ** 2)) : 0;
    return this.coulomb + extra;
  }

  /** Speed after a time under a net torque. */
  private coast(speed: number, net: number, time: number): number {
    if (this.rate * time < 1e-12) return speed + (net / this.inertia) * time;
    const e = this.lossOver(time);
    return speed - speed * e + (net / this.viscous) * e;
  }

  /** Fraction of its speed that viscous friction takes over a time. */
  private lossOver(time: number): number {
    const { times, losses } = this;
    for (let k = 0; k < times.length; k++) if (times[k] === time) return losses[k];
    const loss = -Math.expm1(-this.rate * time);
    times[this.oldest] = time;
    losses[this.oldest] = loss;
    this.oldest = (this.oldest + 1) % times.length;
    return loss;
  }

  /** Moves to the speed at the end of a time; the angle by Simpson's rule. */
  private arrive(net: number, time: number, end: number): void {
    this.position += ((this.speed + 4 * this.coast(this.speed, net, time / 2) + end) * time) / 6;
    this.speed = end;
  }
}
