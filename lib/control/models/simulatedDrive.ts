import type { LoopSimulation } from "./loopSimulation.js";
import type { SimulatedShaft } from "./simulatedShaft.js";
import type { FixedLoop } from "./speedLoop.js";

/** The current loop of a simulated drive, which turns the shaft. */
export class SimulatedDrive {
  /** Quadrature current, A. */
  current: number;
  /** Speed that the current loop has caught up with, rad/s. */
  private followed: number;
  private readonly ideal: boolean;
  private readonly lack: FixedLoop["currentShortfall"];
  private readonly voltage: LoopSimulation["voltage"];

  constructor(
    private readonly loop: FixedLoop,
    private readonly shaft: SimulatedShaft,
    { shortfall, voltage, start }: LoopSimulation,
    private readonly load: ((time: number) => number) | undefined,
  ) {
    this.current = start?.current ?? 0;
    this.followed = shaft.speed;
    this.ideal = !Number.isFinite(loop.currentBandwidth);
    this.lack = shortfall === false ? undefined : loop.currentShortfall;
    this.voltage = voltage;
  }

  /** Drives the shaft towards a current for a time, in so many steps. */
  run(target: number, time: number, steps: number, now: number): void {
    const { loop, lack, ideal, shaft } = this;
    const step = time / steps;
    const settle = ideal ? 1 : -Math.expm1(-loop.currentBandwidth * step);
    const follow = lack === undefined ? 0 : -Math.expm1(-lack.corner * step);
    for (let n = 0; n < steps; n++) {
      let wanted = target;
      if (lack !== undefined) {
        wanted -= lack.perSpeed * (shaft.speed - this.followed);
        this.followed += follow * (shaft.speed - this.followed);
      }
      if (this.voltage !== undefined) wanted = this.withinVoltage(wanted, this.voltage);
      // Mean of the exact exponential over the step.
      const mean = ideal
        ? wanted
        : wanted + ((this.current - wanted) * settle) / (loop.currentBandwidth * step);
      this.current += (wanted - this.current) * settle;
      shaft.turn(loop.torquePerAmpere * mean - (this.load?.(now + n * step) ?? 0), step);
    }
  }

  /** A current within what back-EMF leaves of the voltage. */
  private withinVoltage(
    wanted: number,
    { available, resistance }: NonNullable<LoopSimulation["voltage"]>,
  ): number {
    const backEmf = (this.shaft.speed * this.loop.torqueConstant) / 1.5;
    return Math.min(
      Math.max(wanted, (-available - backEmf) / resistance),
      (available - backEmf) / resistance,
    );
  }
}
