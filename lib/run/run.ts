import { largest } from "../numeric/series/largest.js";
import { medianInPlace } from "../numeric/series/median.js";
import { clipsOf } from "../recording/checks/clippedOrStuck.js";
import { crossChecks } from "../recording/checks/crossChecks.js";
import { type CutResult, cutTrials } from "../recording/segments/cutTrials.js";
import type { Channel, ChannelRole, Finding, Recording, Trial, TrialKind } from "../recording/types.js";
import { RunChannel } from "./channels.js";
import { chosenFinding, chosenTrialsOf } from "./chosenTrials.js";
import { type Corrections, corrected, correctionsOf } from "./corrections.js";
import { filled } from "./despike.js";
import { type Exchanged, exchangedIn } from "./exchanged.js";
import { type Health, healthOf, impossibleSpeed, scaleFindings, witnessFindings } from "./health.js";
import { rowsLost } from "./lostRows.js";
import {
  effortsWithoutSign,
  speedUnsignedFinding,
  speedWithoutSign,
  withoutSignFinding,
} from "./magnitudes.js";
import { namedKindFinding } from "./namedKind.js";
import { decideScales, type ScaleDecision, sameDecision } from "./scaleDecision.js";
import { type ScaleEvidence, scaleEvidence } from "./scaleEvidence.js";
import { type Shaft, shaftOf } from "./shaft.js";
import { type Shifted, shiftedChannels, without } from "./shifted.js";
import { TrialView } from "./trialView.js";
import { frozenSpeed, unscaledWitness } from "./unscaledWitness.js";

/** Is told how far a piece of work has come: so many of so many parts. */
export type StageTold = (stage: string, done: number, total: number) => void;

/**
 * The one analysis of a recording: its channels put right, the shaft's motion, the trials, the health of all of it, and
 * the memory of whatever was identified from it. Each value is worked out when it is first asked for and kept, so that
 * a quantity has one value wherever it appears.
 *
 * A function that identifies something takes a run and keeps its result there:
 * `run.once("growth 3", () => ...)`. Keys begin with the name of what is kept.
 *
 * @example
 * const run = new Run(recording);
 * run.trials.map((trial) => trial.kind); // => ["torque", "coast", "speed", "coast"]
 * run.trial("speed")?.speed("{rev}/min"); // Float64Array
 */
export class Run {
  /** The recording as it was read. */
  readonly logged: Recording;
  readonly #memory = new Map<string, unknown>();
  readonly #given: readonly Trial[] | undefined;
  readonly #scale: ScaleDecision | undefined;
  /** Told of the work on this run as it goes: what is being done, and how many of how many parts are done. */
  told: StageTold | undefined;

  /**
   * @param trials the trials, where they are known; else the recording is cut into them
   * @param scale what the logs of its motor show together of its scales; else it is decided by this one
   */
  constructor(recording: Recording, trials?: readonly Trial[], scale?: ScaleDecision) {
    this.logged = recording;
    this.#given = trials;
    this.#scale = scale;
  }

  /** The value kept under a key, worked out the first time. */
  once<T>(key: string, make: () => T): T {
    if (!this.#memory.has(key)) this.#memory.set(key, make());
    return this.#memory.get(key) as T;
  }

  /** Commands and measured values whose columns stand for each other, put right. */
  get exchanged(): Exchanged {
    return this.once("exchanged", () => exchangedIn(this.logged));
  }

  /** What it says of the scales of its speed and position, for the logs of its motor to be decided together. */
  get scaleEvidence(): ScaleEvidence | undefined {
    return this.once("scale evidence", () =>
      scaleEvidence(without(this.exchanged.recording, this.shifted.leftOut)),
    );
  }

  /** What is decided of its scales. */
  get scale(): ScaleDecision {
    return this.once("scale", () => {
      const { scaleEvidence: evidence } = this;
      return this.#scale ?? (evidence ? decideScales([evidence])[0] : { kind: "none" });
    });
  }

  /** This run, or its recording analysed anew where the scale is decided otherwise than by it alone; a run whose set
   * has decided stays as it is. */
  withScale(scale: ScaleDecision | undefined): Run {
    if (scale === undefined || this.#scale !== undefined || sameDecision(scale, this.scale)) return this;
    const anew = new Run(this.logged, this.#given, scale);
    anew.told = this.told;
    return anew;
  }

  /** Channels whose unit was off by a known factor, and what was done. */
  get corrections(): Corrections {
    return this.once("corrections", () =>
      correctionsOf(without(this.exchanged.recording, this.shifted.leftOut), this.scale),
    );
  }

  /** Channels whose rows belong to other moments than those of the rest, and what was done. */
  get shifted(): Shifted {
    return this.once("shifted", () => shiftedChannels(this.exchanged.recording));
  }

  /** The recording with every channel in its right unit, without those that belong to other moments; nothing is bridged
   * in it (see `channel`). */
  get recording(): Recording {
    return this.once("recording", () =>
      corrected(without(this.exchanged.recording, this.shifted.leftOut), this.corrections.corrections),
    );
  }

  get path(): string {
    return this.logged.path;
  }

  get ordering(): Recording["ordering"] {
    return this.logged.ordering;
  }

  get motor(): string | undefined {
    return this.logged.motor;
  }

  /** Time of each row, s. */
  get time(): Float64Array {
    return this.logged.time;
  }

  /** Usual time between rows, s: the median of the steps that go forward; NaN for fewer than two rows. */
  get interval(): number {
    return this.once("interval", () => {
      const { time } = this.logged;
      const stride = Math.max(1, Math.floor(time.length / 20_000));
      const steps = new Float64Array(Math.ceil(time.length / stride));
      let count = 0;
      for (let i = 1; i < time.length; i += stride)
        if (time[i] > time[i - 1]) steps[count++] = time[i] - time[i - 1];
      return medianInPlace(steps.subarray(0, count));
    });
  }

  /** A channel by its role: unit put right, isolated spikes and gaps of up to five samples bridged. */
  channel(role: ChannelRole): RunChannel | undefined {
    return this.once(`channel ${role}`, () => {
      const channel = this.recording.channels[role];
      if (channel === undefined) return undefined;
      const sign = role === "current" && this.unsignedCurrent ? this.#commandedCurrent() : undefined;
      return new RunChannel(this.#unclipped(sign === undefined ? channel : withSigns(channel, sign)));
    });
  }

  /** A measured effort without the values at which its range ends: what they were is unknown. */
  #unclipped(channel: Channel): Channel {
    if (channel.role !== "current" && channel.role !== "torque") return channel;
    const edges = clipsOf(this.recording, channel.role).map(({ edge }) => edge);
    if (edges.length === 0) return channel;
    return { ...channel, data: channel.data.map((v) => (edges.includes(v) ? Number.NaN : v)) };
  }

  /** The measured current never changes sign although its command does: a magnitude, to which the sign of the command
   * is given. */
  get unsignedCurrent(): boolean {
    return this.once("unsigned current", () => {
      const current = this.recording.channels.current?.data;
      const command = this.#commandedCurrent();
      if (current === undefined || command === undefined) return false;
      const [most, asked] = [largest(current), largest(command)];
      if (!(most > 0)) return false;
      for (let i = 0; i < current.length; i += 1) if (current[i] < -0.1 * most) return false;
      // A current that does not flow at all while the command is negative (a drive that tripped) tells nothing of its
      // sign.
      let negative = 0;
      let flows = 0;
      for (let i = 0; i < command.length; i += 1)
        if (command[i] < -0.2 * asked) {
          negative += 1;
          if (current[i] > 0.1 * most) flows += 1;
        }
      return flows > 0.2 * negative;
    });
  }

  #commandedCurrent(): Float64Array | undefined {
    return (this.channel("currentCommand") ?? this.channel("torqueCommand"))?.filled;
  }

  /** The shaft's angle, speed and acceleration from the healthiest channel. */
  get shaft(): Shaft | undefined {
    return this.once("shaft", () => shaftOf(this.time, this.channel("position"), this.channel("speed")));
  }

  /** The shaft's angle and speed without gaps. */
  get shaftFilled(): { readonly angle: Float64Array; readonly speed: Float64Array } | undefined {
    return this.once("shaft filled", () => {
      const { shaft } = this;
      return shaft && { angle: filled(shaft.angle, "smooth"), speed: filled(shaft.speed, "smooth") };
    });
  }

  /** What the recording was cut into, and what was left over. */
  get cut(): CutResult {
    return this.once("cut", () =>
      this.#given === undefined
        ? cutTrials(this.recording)
        : { trials: this.#given, leftOver: [], findings: [] },
    );
  }

  /** The trials, each with its signals. */
  get trials(): readonly TrialView[] {
    return this.once("trials", () => this.cut.trials.map((trial) => new TrialView(this, trial)));
  }

  /**
   * The trials that quantities of the whole run are estimated from: all of them, but of a kind that a long log holds
   * many times a number that suffices, spread evenly over the log. Every trial is judged all the same.
   */
  get chosenTrials(): readonly TrialView[] {
    return this.once("chosen trials", () => chosenTrialsOf(this.trials));
  }

  /** The first trial of a kind. */
  trial(kind: TrialKind): TrialView | undefined {
    return this.trials.find((trial) => trial.kind === kind);
  }

  /** All that was noticed about the recording: by the reader, by holding its channels against each other, and what was
   * done about it. */
  get checks(): readonly Finding[] {
    return this.once("checks", () => {
      const witness = witnessFindings(this.recording, this.shaft);
      const corrected = this.corrections.corrections.length > 0 || this.corrections.unresolved !== undefined;
      const speedCorrected = this.corrections.corrections.some(({ role }) => role === "speed");
      const seen = crossChecks(without(this.exchanged.recording, this.shifted.leftOut))
        .filter(
          (f) =>
            (f.code !== "position-stuck" || witness.length === 0) &&
            (f.code !== "speed-factor" || !corrected) &&
            (f.code !== "speed-implausible" || !speedCorrected),
        )
        // A factor that nothing corrects or explains: one of the two channels does not keep its count or its scale.
        .map((f) =>
          f.code === "speed-position-factor" && !corrected
            ? { ...f, code: "scale-doubtful", severity: "error" as const }
            : f,
        );
      return [
        ...this.logged.findings,
        ...rowsLost(this.logged),
        ...seen,
        ...this.corrections.findings.map((f, k) =>
          this.corrections.corrections[k].confirmed ? f : { ...f, code: "unit-likely" },
        ),
        ...this.exchanged.findings,
        ...scaleFindings(this.exchanged.recording, this.corrections),
        ...impossibleSpeed(this.recording, this.shaft),
        ...witness,
        ...unscaledWitness(this.recording, this.channel("speed")),
        ...frozenSpeed(this.recording),
        ...this.shifted.findings,
        ...(this.unsignedCurrent ? [unsignedFinding(this.recording)] : []),
        ...effortsWithoutSign(this.recording, this.shaft)
          .slice(0, 1)
          .map((role) => withoutSignFinding(this.recording, role)),
        ...(speedWithoutSign(this.recording) ? [speedUnsignedFinding(this.recording)] : []),
        ...this.cut.findings,
        ...namedKindFinding(this.recording, this.cut.trials),
        ...chosenFinding(this.trials, this.chosenTrials, this.path),
      ];
    });
  }

  /** What the checks bound and withhold. */
  get health(): Health {
    return this.once("health", () => healthOf(this.checks));
  }
}

function withSigns(channel: Channel, sign: Float64Array): Channel {
  return { ...channel, data: channel.data.map((v, i) => Math.abs(v) * Math.sign(sign[i])) };
}

function unsignedFinding({ path, channels }: Recording): Finding {
  return {
    severity: "warning",
    code: "current-unsigned",
    message: `"${channels.current?.name}" never changes sign although its command does: it is the size of the current alone`,
    meaning:
      "the sign of the command is given to it; that the current followed the command in sign is not seen",
    file: path,
    column: channels.current?.name,
  };
}

const runs = new WeakMap<Recording, { readonly trials: readonly Trial[] | undefined; readonly run: Run }>();

/**
 * The run of a recording that is already in memory: the same one for the same recording and trials, as long as someone
 * holds them.
 *
 * @param trials its trials, where they were cut by hand; else the recording is cut
 * @example
 * runOf(recording) === runOf(recording); // => true
 */
export function runOf(recording: Recording, trials?: readonly Trial[]): Run {
  const known = runs.get(recording);
  if (
    known !== undefined &&
    (trials === undefined || known.trials === trials || known.run.cut.trials === trials)
  )
    return known.run;
  const run = new Run(recording, trials);
  runs.set(recording, { trials, run });
  return run;
}
