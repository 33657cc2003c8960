import type { LoopSimulation } from "./loopSimulation.js";
import { presentShare } from "./sampledLoop.js";
import type { SimulatedShaft } from "./simulatedShaft.js";
import type { FixedLoop } from "./speedLoop.js";

/** The sampled PI speed controller of a simulated loop, with its encoder and its filter. */
export class SampledController {
  /** Speed as the controller sees it: quantised, differenced, filtered, rad/s. */
  filtered: number;
  /** Samples at which the command stood at the current limit. */
  limited = 0;
  private sum: number;
  private lastPosition: number;
  /** Angle of one count, rad; 0 where counts are not simulated. */
  private readonly grain: number;
  private readonly limit: number;
  private readonly hold: boolean;
  private readonly present: number;
  private readonly decay: number;

  constructor(
    private readonly loop: FixedLoop,
    shaft: SimulatedShaft,
    { quantised, limited, windUp, start }: LoopSimulation,
  ) {
    const counts = quantised === false ? undefined : loop.countsPerTurn;
    this.grain = counts === undefined ? 0 : (2 * Math.PI) / counts;
    this.limit = limited === false ? Number.POSITIVE_INFINITY : loop.currentLimit;
    this.hold = windUp !== "none";
    this.present = presentShare[loop.integration];
    this.decay = Number.isFinite(loop.speedFilter) ? Math.exp(-loop.speedFilter * loop.sampleTime) : 0;
    this.sum = start?.sum ?? 0;
    this.filtered = shaft.speed;
    this.lastPosition = shaft.position - shaft.speed * loop.sampleTime;
  }

  private seen(angle: number): number {
    return this.grain === 0 ? angle : Math.floor(angle / this.grain + 0.5) * this.grain;
  }

  /** Current command, A, at one sample. */
  sample(reference: number, position: number, speed: number): number {
    const { loop: p, decay } = this;
    const ts = p.sampleTime;
    const angle = this.seen(position);
    // A quantised loop without differencing stated still measures by counts; the linear model then has its half sample
    // too.
    const raw = p.difference || this.grain > 0 ? (angle - this.seen(this.lastPosition)) / ts : speed;
    this.lastPosition = position;
    this.filtered = decay * this.filtered + (1 - decay) * raw;
    const wanted = p.positionGain === undefined ? reference : p.positionGain * (reference - angle);
    const error = wanted - this.filtered;
    const free =
      p.kp * (p.referenceWeight * wanted - this.filtered) + p.ki * (this.sum + this.present * ts * error);
    const command = Math.min(Math.max(free, -this.limit), this.limit);
    if (command !== free) this.limited++;
    if (!(this.hold && command !== free && p.ki * error * free > 0)) this.sum += ts * error;
    return command;
  }
}
