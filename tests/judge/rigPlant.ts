/**
 * Plants of the judging bench: one or two masses on a motor, stepped by Runge and Kutta's fourth order. Written from
 * the equations of motion alone; it shares nothing with `lib/simulation`.
 */

/** What hangs on the shaft, SI. */
export interface RigLoad {
  readonly name: string;
  /** Torque on the motor's shaft at an angle and a speed, against positive motion. */
  readonly torque: (angle: number, speed: number) => number;
  /** A second mass behind a shaft or belt of some stiffness, with play. */
  readonly second?: {
    readonly inertia: number;
    readonly stiffness: number;
    readonly damping: number;
    /** Half of the play, rad. */
    readonly play: number;
  };
}

/** A motor with its load and its amplifier. */
export interface Rig {
  readonly inertia: number;
  /** N m/A, and V s/rad. */
  readonly constant: number;
  readonly resistance: number;
  readonly inductance: number;
  readonly volts: number;
  readonly coulomb: number;
  /** Friction at rest over that in motion. */
  readonly stiction: number;
  readonly viscous: number;
  readonly load: RigLoad;
  /** Torque made over that commanded, by the angle of the shaft: 1 where nothing is wrong. */
  readonly law: (angle: number) => number;
  /** Ripple of the torque, periods a turn and part: six-step commutation, slots. */
  readonly ripple: { readonly periods: number; readonly part: number };
}

/** Angle, speed, angle and speed of the second mass, current. */
type State = [number, number, number, number, number];

/** What the amplifier is given: a current (a fast loop of its own regulates it) or a voltage. */
export interface Given {
  readonly current?: number;
  readonly voltage?: number;
}

/** A rig in motion. */
export class Moving {
  state: State = [0, 0, 0, 0, 0];
  private stuck = true;

  constructor(
    readonly rig: Rig,
    angle: number,
    speed = 0,
  ) {
    this.state = [angle, speed, angle, speed, 0];
    this.stuck = speed === 0;
  }

  get angle(): number {
    return this.state[0];
  }

  get speed(): number {
    return this.state[1];
  }

  get current(): number {
    return this.state[4];
  }

  /** Torque on the shaft but for its friction. */
  private net([angle, speed, angle2, speed2, current]: State): number {
    const { constant, law, load, ripple, viscous } = this.rig;
    const wave = 1 + ripple.part * Math.cos(ripple.periods * angle);
    return (
      constant * current * law(angle) * wave -
      viscous * speed -
      load.torque(angle, speed) -
      this.coupling(angle - angle2, speed - speed2)
    );
  }

  private coupling(twist: number, slip: number): number {
    const { second } = this.rig.load;
    if (second === undefined) return 0;
    const beyond = Math.sign(twist) * Math.max(0, Math.abs(twist) - second.play);
    return beyond === 0 ? 0 : second.stiffness * beyond + second.damping * slip;
  }

  private rate(s: State, given: Given): State {
    const { inertia, coulomb, law, load, constant, resistance, inductance, volts } = this.rig;
    const [angle, speed, angle2, speed2, current] = s;
    const drag = this.stuck ? 0 : coulomb * Math.sign(speed);
    const gain = this.stuck ? 0 : (this.net(s) - drag) / inertia;
    const { second } = load;
    const behind = second ? this.coupling(angle - angle2, speed - speed2) / second.inertia : 0;
    const emf = constant * law(angle) * speed;
    // A current loop reaches its command within a millisecond, as far as the voltage goes.
    const most = (volts - emf) / resistance;
    const least = (-volts - emf) / resistance;
    const aim = given.current === undefined ? 0 : Math.max(least, Math.min(most, given.current));
    const di =
      given.voltage === undefined
        ? (aim - current) / 1e-3
        : (given.voltage - resistance * current - emf) / inductance;
    return [speed, gain, speed2, behind, di];
  }

  /** One step of `h` seconds. */
  step(given: Given, h: number): void {
    const s = this.state;
    const at = (k: State, part: number): State => s.map((v, i) => v + part * h * k[i]) as State;
    const holds = this.rig.coulomb * this.rig.stiction;
    if (this.stuck && Math.abs(this.net(s)) > holds) this.stuck = false;
    const starts = s[1] === 0;
    if (starts && !this.stuck) s[1] = 1e-9 * Math.sign(this.net(s));
    const a = this.rate(s, given);
    const b = this.rate(at(a, 0.5), given);
    const c = this.rate(at(b, 0.5), given);
    const d = this.rate(at(c, 1), given);
    const next = s.map((v, i) => v + (h / 6) * (a[i] + 2 * b[i] + 2 * c[i] + d[i])) as State;
    if (this.stuck) {
      next[0] = s[0];
      next[1] = 0;
    } else if (next[1] * s[1] < 0 && Math.abs(this.net(next)) < holds) {
      next[1] = 0;
      this.stuck = true;
    }
    this.state = next;
  }
}
