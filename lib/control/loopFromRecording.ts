import type { Constants } from "../identify/index.js";
import { currentLoopFromTrial } from "../identify/loop/currentLoopFromTrial.js";
import { type CurrentShortfall, currentShortfall } from "../identify/loop/currentShortfall.js";
import { type GainIdentification, identifyGains } from "../identify/loop/identifyGains.js";
import { sampleTimeFromTrial } from "../identify/loop/sampleTimeFromTrial.js";
import { speedLagFromTrial } from "../identify/loop/speedLagFromTrial.js";
import type { SpeedGains } from "../motor/speedGains.js";
import type { Recording, Trial } from "../recording/types.js";
import type { Estimate } from "../units/estimate.js";
import type { LoopPlant, Quantity, SpeedLoop } from "./models/speedLoop.js";

/** What a person states about the loop; it goes before what the recording says. */
export interface LoopSettings {
  readonly gains?: SpeedGains;
  readonly currentBandwidth?: number;
  readonly sampleTime?: number;
  readonly computationDelay?: number;
  readonly speedFilter?: number;
  readonly speedMeasurement?: "direct" | "difference";
  readonly integration?: SpeedLoop["integration"];
  readonly positionGain?: number;
  readonly currentLimit?: number;
  readonly countsPerTurn?: number;
  readonly inertia?: number;
  readonly torqueConstant?: number;
  readonly torqueGain?: number;
  readonly viscousFriction?: number;
  readonly coulombFriction?: number;
}

/** A loop put together from a recording, with where each number came from. */
export interface LoopOfRecording {
  /** Absent when something essential is missing. Without gains anywhere, `plantOnly` still holds the rest. */
  readonly loop?: SpeedLoop;
  readonly plantOnly?: Omit<SpeedLoop, "gains">;
  /** Where each number came from, by name. */
  readonly sources: Readonly<Record<string, string>>;
  readonly missing: readonly string[];
  /** What the log shows of timing, and what it cannot show, one sentence each. */
  readonly notes: readonly string[];
  /** Gains as the log shows them in use, the best of the speed trials. */
  readonly identified?: GainIdentification;
}

/**
 * Puts together the speed loop of a recording: stated settings first, then what the descriptor says, then what `estimateConstants` and the log itself
 * give. The plant may be known only by ratios to the torque constant; then it is written with a torque constant of 1 (see `LoopPlant`).
 *
 * @example
 * const { loop, sources } = loopFromRecording(recording, trials, constants, { sampleTime: 5e-4 });
 * loop?.gains; // => { kp: 0.03, ki: 0.3 }
 */
export function loopFromRecording(
  recording: Recording,
  trials: readonly Trial[],
  constants: Constants,
  settings: LoopSettings = {},
): LoopOfRecording {
  const sources: Record<string, string> = {};
  const missing: string[] = [];
  const choose = (
    name: string,
    ...offers: readonly [Quantity | undefined, string][]
  ): Quantity | undefined => {
    for (const [quantity, source] of offers)
      if (quantity !== undefined && (typeof quantity === "number" ? Number.isFinite(quantity) : true)) {
        sources[name] = source;
        return notBelowZero.has(name) ? atLeastZero(quantity) : quantity;
      }
    return undefined;
  };
  const { machine, drive, encoder } = recording;
  const { electrical, mechanical, ratios } = constants;
  const by = (e: Estimate | undefined): string => `estimated: ${e?.method ?? ""}`;

  const inertia = choose(
    "inertia",
    [settings.inertia, "given"],
    [mechanical.inertia, by(mechanical.inertia)],
    [machine.inertia, "stated"],
  );
  const torqueConstant = choose(
    "torqueConstant",
    [settings.torqueConstant, "given"],
    [machine.torqueConstant, "stated"],
    [electrical.torqueConstant, by(electrical.torqueConstant)],
  );
  const statedGain = choose(
    "torqueGain",
    [settings.torqueGain, "given"],
    [electrical.torqueGain, by(electrical.torqueGain)],
  );
  const above = (q: Quantity | undefined): boolean =>
    q !== undefined && (typeof q === "number" ? q : q.value) > 0;
  let plant: LoopPlant | undefined;
  if (inertia !== undefined && torqueConstant !== undefined && above(inertia) && above(torqueConstant)) {
    const sign = statedGain === undefined ? torqueSign(recording, trials) : undefined;
    const torqueGain = statedGain ?? (sign === undefined ? undefined : sign);
    if (sign !== undefined)
      sources.torqueGain = "sign of the acceleration against the current; its size taken as 1";
    plant = {
      inertia,
      torqueConstant,
      ...(torqueGain === undefined ? {} : { torqueGain }),
      ...given(
        "viscousFriction",
        choose(
          "viscousFriction",
          [settings.viscousFriction, "given"],
          [mechanical.viscousFriction, by(mechanical.viscousFriction)],
          [machine.viscousFriction, "stated"],
        ),
      ),
      ...given(
        "coulombFriction",
        choose(
          "coulombFriction",
          [settings.coulombFriction, "given"],
          [mechanical.coulombFriction, by(mechanical.coulombFriction)],
          // Where the whole was not reported its ratios may have been: a coarse friction is nearer than none.
          [
            product(ratios.coulombOverTorqueConstant, torqueConstant),
            `${by(ratios.coulombOverTorqueConstant)}, times Kt`,
          ],
          [product(ratios.coulombOverInertia, inertia), `${by(ratios.coulombOverInertia)}, times J`],
          [machine.coulombFriction, "stated"],
        ),
      ),
      ...given(
        "staticFriction",
        choose(
          "staticFriction",
          [mechanical.staticFriction, by(mechanical.staticFriction)],
          [machine.staticFriction, "stated"],
        ),
      ),
      ...given(
        "stribeckSpeed",
        choose("stribeckSpeed", [mechanical.stribeckSpeed, by(mechanical.stribeckSpeed)]),
      ),
    };
  } else if (ratios.inertiaOverTorqueConstant !== undefined && above(ratios.inertiaOverTorqueConstant)) {
    const sign = torqueSign(recording, trials);
    sources.inertia = `${by(ratios.inertiaOverTorqueConstant)}; divided by the torque constant, which is written as 1`;
    sources.torqueConstant = "not known: ratios to it are used";
    if (sign !== undefined)
      sources.torqueGain = "sign of the acceleration against the current; its size is in the ratios";
    plant = {
      inertia: ratios.inertiaOverTorqueConstant,
      torqueConstant: 1,
      ...(sign === undefined ? {} : { torqueGain: sign }),
      ...given(
        "viscousFriction",
        choose("viscousFriction", [ratios.viscousOverTorqueConstant, by(ratios.viscousOverTorqueConstant)]),
      ),
      ...given(
        "coulombFriction",
        choose("coulombFriction", [ratios.coulombOverTorqueConstant, by(ratios.coulombOverTorqueConstant)]),
      ),
    };
  } else {
    if (!above(inertia))
      missing.push("inertia: a torque trial or a coast-down that turns the shaft, or a stated value");
    if (torqueConstant === undefined)
      missing.push("torque constant: dq voltages at speed, or a stated value");
  }

  let identified: GainIdentification | undefined;
  for (const trial of trials) {
    if (trial.kind !== "speed") continue;
    const found = identifyGains(recording, trial);
    if (found.kp === undefined) {
      identified ??= found;
      continue;
    }
    if (identified?.kp === undefined || spreadOf(found) < spreadOf(identified)) identified = found;
  }
  let gains = settings.gains;
  if (gains) sources.gains = "given";
  else if (drive.speedLoop) {
    gains = drive.speedLoop;
    sources.gains = "stated";
  } else if (identified?.kp && identified.ki && (identified.explained ?? 0) > 0.8) {
    gains = {
      kp: identified.kp.value,
      ki: Math.max(0, identified.ki.value),
      ...(identified.referenceWeight ? { referenceWeight: identified.referenceWeight.value } : {}),
    };
    sources.gains = `from the log: ${identified.kp.method}`;
  } else
    missing.push(
      "gains: given by options, stated in the descriptor, or a speed trial with current and speed commands logged",
    );

  let measuredBandwidth: Estimate | undefined;
  for (const trial of trials)
    if (trial.kind === "torque" || trial.kind === "speed")
      measuredBandwidth ??= currentLoopFromTrial(recording, trial);
  const currentBandwidth = choose(
    "currentBandwidth",
    [settings.currentBandwidth, "given"],
    [drive.currentBandwidth, "stated"],
    [measuredBandwidth, by(measuredBandwidth)],
  );
  const notes: string[] = [];
  const seen = trials.map((trial) => sampleTimeFromTrial(recording, trial));
  const sampleSeen = seen.find((s) => s.sampleTime)?.sampleTime;
  const atMost = Math.max(0, ...seen.map((s) => s.atMost ?? 0));
  const speedLoops = trials.some((trial) => trial.kind === "speed");
  if (settings.sampleTime === undefined && drive.speedSampleTime === undefined && !sampleSeen && speedLoops)
    notes.push(
      atMost > 0
        ? `the speed loop's sample time is not seen: the current command is new in every row, so it is at most about ${milliseconds(atMost)}`
        : "the speed loop's sample time is not seen in the log; state it as --sample-time or speedSampleTime",
    );
  if (settings.sampleTime === undefined && drive.speedSampleTime === undefined && sampleSeen)
    notes.push(
      `the current command moves in stairs of ${milliseconds(sampleSeen.value)}: taken as the speed loop's sample time`,
    );
  // A logged speed stands still between two runs of the loop: half a sample of its lag is the log's, not the loop's.
  const lag = speedLagFromTrial(recording, trials);
  const period = settings.sampleTime ?? drive.speedSampleTime ?? sampleSeen?.value;
  const differencing = settings.speedMeasurement === "difference" ? (period ?? 0) / 2 : 0;
  const filterSeen =
    lag === undefined ? undefined : filterOf(lag, period, intervalOf(recording), differencing);
  if (filterSeen && settings.speedFilter === undefined && drive.speedFilterBandwidth === undefined)
    notes.push(
      `the logged speed lags the position by ${milliseconds(lag!.low)} to ${milliseconds(lag!.high)} (differencing and filter together): the loop is taken to see it so`,
    );
  let shortfall: CurrentShortfall | undefined;
  for (const trial of trials) {
    if (trial.kind !== "speed") continue;
    const g = plant?.torqueGain;
    const sign = g !== undefined && (typeof g === "number" ? g : g.value) < 0 ? -1 : 1;
    const found = currentShortfall(recording, trial, sign);
    if (found && found.explained > (shortfall?.explained ?? 0)) shortfall = found;
  }
  if (shortfall)
    sources.currentShortfall = `least squares of command minus current on the changing speed, ${shortfall.rows} rows`;
  const plain = (name: string, ...offers: readonly [number | undefined, string][]): number | undefined =>
    choose(name, ...offers) as number | undefined;
  const lines = drive.encoderLines ?? encoder.lines;
  const rest = {
    ...given("currentBandwidth", currentBandwidth),
    ...given(
      "sampleTime",
      plain(
        "sampleTime",
        [settings.sampleTime, "given"],
        [drive.speedSampleTime, "stated"],
        [sampleSeen?.value, `measured: ${sampleSeen?.method}`],
      ),
    ),
    ...given(
      "computationDelay",
      plain("computationDelay", [settings.computationDelay, "given"], [drive.computationDelay, "stated"]),
    ),
    ...given(
      "speedFilter",
      choose(
        "speedFilter",
        [settings.speedFilter, "given"],
        [drive.speedFilterBandwidth, "stated"],
        [filterSeen, `measured: ${lag?.method}`],
      ),
    ),
    ...given(
      "positionGain",
      plain("positionGain", [settings.positionGain, "given"], [drive.positionGain, "stated"]),
    ),
    ...given(
      "currentLimit",
      plain("currentLimit", [settings.currentLimit, "given"], [drive.currentLimit, "stated"]),
    ),
    ...given(
      "countsPerTurn",
      plain(
        "countsPerTurn",
        [settings.countsPerTurn, "given"],
        [lines === undefined ? undefined : 4 * lines, "stated"],
      ),
    ),
    ...given("currentShortfall", shortfall),
    ...given("integration", settings.integration),
    ...given("speedMeasurement", settings.speedMeasurement),
  };
  const plantOnly = plant === undefined ? undefined : { plant, ...rest };
  return {
    ...(plantOnly && gains ? { loop: { ...plantOnly, gains } } : {}),
    ...(plantOnly ? { plantOnly } : {}),
    sources,
    missing,
    notes,
    ...(identified ? { identified } : {}),
  };
}

/** Quantities whose estimate may come out below zero by noise, where only zero makes sense. */
const notBelowZero = new Set(["viscousFriction", "coulombFriction", "staticFriction", "stribeckSpeed"]);

const atLeastZero = (quantity: Quantity): Quantity =>
  typeof quantity === "number"
    ? Math.max(0, quantity)
    : {
        ...quantity,
        value: Math.max(0, quantity.value),
        low: Math.max(0, quantity.low),
        high: Math.max(0, quantity.high),
      };

const milliseconds = (t: number): string => `${Number((1e3 * t).toPrecision(2))} ms`;

const intervalOf = ({ time }: Recording): number => (time[time.length - 1] - time[0]) / (time.length - 1);

/**
 * The bandwidth that stands for a lag of the logged speed, less what the log itself adds by holding the speed between two runs of the loop: half of what the
 * sample time exceeds the log's interval by, up to half a sample time where the two are not in step.
 */
function filterOf(
  lag: Estimate,
  sampleTime: number | undefined,
  interval: number,
  differencing: number,
): Estimate | undefined {
  const held: readonly [number, number] =
    sampleTime === undefined
      ? [0, interval / 2]
      : interval < sampleTime
        ? [(sampleTime - interval) / 2, (sampleTime - interval) / 2]
        : [0, sampleTime / 2];
  const value = lag.value - (held[0] + held[1]) / 2 - differencing;
  const [low, high] = [lag.low - held[1] - differencing, lag.high - held[0] - differencing];
  if (!(low > 0) || !(value > 0)) return undefined;
  return { ...lag, value: 1 / value, low: 1 / high, high: 1 / low, unit: "rad/s" };
}

/** A ratio times what it is a ratio to; the interval by both spreads as if independent. */
function product(ratio: Estimate | undefined, whole: Quantity): Estimate | undefined {
  if (ratio === undefined) return undefined;
  const [value, low, high] =
    typeof whole === "number" ? [whole, whole, whole] : [whole.value, whole.low, whole.high];
  const at = ratio.value * value;
  const half = (down: boolean): number =>
    Math.hypot(
      (down ? ratio.value - ratio.low : ratio.high - ratio.value) * value,
      (down ? value - low : high - value) * ratio.value,
    );
  return { ...ratio, value: at, low: at - half(true), high: at + half(false), unit: "N.m" };
}

function given<K extends string, V>(name: K, value: V | undefined): { [k in K]?: V } {
  return (value === undefined ? {} : { [name]: value }) as { [k in K]?: V };
}

const spreadOf = (found: GainIdentification): number =>
  found.kp === undefined
    ? Number.POSITIVE_INFINITY
    : (found.kp.high - found.kp.low) / Math.abs(found.kp.value);

/**
 * Sign of the acceleration against the current over the torque and speed trials; `undefined` when neither clearly shows.
 *
 * @example
 * torqueSign(recording, trials); // => 1
 */
export function torqueSign(recording: Recording, trials: readonly Trial[]): 1 | -1 | undefined {
  const current = recording.channels.current ?? recording.channels.currentCommand;
  const speed = recording.channels.speed;
  if (!current || !speed) return undefined;
  let [xy, xx, yy, n] = [0, 0, 0, 0];
  for (const trial of trials) {
    if (trial.kind !== "torque" && trial.kind !== "speed") continue;
    // Changes over stretches long enough to rise above the speed's grain.
    const stride = Math.max(1, Math.floor((trial.to - trial.from) / 400));
    for (let k = trial.from; k + stride < trial.to; k += stride) {
      const change = speed.data[k + stride] - speed.data[k];
      let mean = 0;
      for (let j = k; j < k + stride; j++) mean += current.data[j] / stride;
      if (!Number.isFinite(change) || !Number.isFinite(mean)) continue;
      xy += mean * change;
      xx += mean * mean;
      yy += change * change;
      n++;
    }
  }
  if (n < 8 || !(xx > 0) || !(yy > 0)) return undefined;
  const correlation = xy / Math.sqrt(xx * yy);
  return Math.abs(correlation) * Math.sqrt(n) > 4 ? (correlation > 0 ? 1 : -1) : undefined;
}
