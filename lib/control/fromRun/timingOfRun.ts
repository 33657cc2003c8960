import { currentLoopFromTrial } from "../../identify/loop/currentLoopFromTrial.js";
import { type CurrentShortfall, currentShortfall } from "../../identify/loop/currentShortfall.js";
import { sampleTimeFromTrial } from "../../identify/loop/sampleTimeFromTrial.js";
import { speedLagFromTrial } from "../../identify/loop/speedLagFromTrial.js";
import { torqueShortfall } from "../../identify/loop/torqueShortfall.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";
import type { LoopPlant, SpeedLoop } from "../models/speedLoop.js";
import { type Choice, estimatedBy, given, milliseconds } from "./choice.js";
import type { LoopSettings } from "./settings.js";

/** All of a loop but plant and gains: lags, sample time, limit, counts. */
export type LoopTiming = Omit<SpeedLoop, "plant" | "gains">;

/** Lags, sample time, current limit and counts of the loop, with what the log shows of timing and cannot show. */
export function timingOfRun(
  run: Run,
  plant: LoopPlant | undefined,
  settings: LoopSettings,
  choice: Choice,
): { readonly timing: LoopTiming; readonly notes: readonly string[] } {
  const { drive, encoder } = run.recording;
  const notes: string[] = [];
  const bandwidth = currentBandwidthOf(run);
  const sampleSeen = sampleTimeNoted(run, settings, notes);
  const lag = speedLagFromTrial(run);
  // A logged speed stands still between two runs of the loop: half a sample of its lag is the log's, not the loop's.
  const period = settings.sampleTime ?? drive.speedSampleTime ?? sampleSeen?.value;
  const differencing = settings.speedMeasurement === "difference" ? (period ?? 0) / 2 : 0;
  const filterSeen = lag && filterOf(lag, period, run.interval, differencing);
  if (lag && filterSeen && settings.speedFilter === undefined && drive.speedFilterBandwidth === undefined)
    notes.push(
      `the logged speed lags the position by ${milliseconds(lag.low)} to ${milliseconds(lag.high)} (differencing and filter together): the loop is taken to see it so`,
    );
  const shortfall = shortfallOf(run, plant);
  if (shortfall)
    choice.sources.currentShortfall = `least squares of command minus current on the changing speed, ${shortfall.rows} rows`;
  const lines = drive.encoderLines ?? encoder.lines;
  const timing: LoopTiming = {
    ...given(
      "currentBandwidth",
      choice.quantity(
        "currentBandwidth",
        [settings.currentBandwidth, "given"],
        [drive.currentBandwidth, "stated"],
        [bandwidth, estimatedBy(bandwidth)],
      ),
    ),
    ...given(
      "sampleTime",
      choice.number(
        "sampleTime",
        [settings.sampleTime, "given"],
        [drive.speedSampleTime, "stated"],
        [sampleSeen?.value, `measured: ${sampleSeen?.method}`],
      ),
    ),
    ...given(
      "computationDelay",
      choice.number(
        "computationDelay",
        [settings.computationDelay, "given"],
        [drive.computationDelay, "stated"],
      ),
    ),
    ...given(
      "speedFilter",
      choice.quantity(
        "speedFilter",
        [settings.speedFilter, "given"],
        [drive.speedFilterBandwidth, "stated"],
        [filterSeen, `measured: ${lag?.method}`],
      ),
    ),
    ...given(
      "positionGain",
      choice.number("positionGain", [settings.positionGain, "given"], [drive.positionGain, "stated"]),
    ),
    ...given(
      "currentLimit",
      choice.number("currentLimit", [settings.currentLimit, "given"], [drive.currentLimit, "stated"]),
    ),
    ...given(
      "countsPerTurn",
      choice.number(
        "countsPerTurn",
        [settings.countsPerTurn, "given"],
        [lines === undefined ? undefined : 4 * lines, "stated"],
      ),
    ),
    ...given("currentShortfall", shortfall),
    ...given("integration", settings.integration),
    ...given("speedMeasurement", settings.speedMeasurement),
  };
  return { timing, notes };
}

function currentBandwidthOf(run: Run): Estimate | undefined {
  for (const trial of run.chosenTrials) {
    if (trial.kind !== "torque" && trial.kind !== "speed") continue;
    const found = currentLoopFromTrial(run, trial);
    if (found) return found;
  }
  return undefined;
}

/** The sample time that the log shows, where none is stated; what it shows or cannot show goes into the notes. */
function sampleTimeNoted(run: Run, settings: LoopSettings, notes: string[]): Estimate | undefined {
  const seen = run.chosenTrials.map((trial) => sampleTimeFromTrial(run, trial));
  const found = seen.find((s) => s.sampleTime)?.sampleTime;
  if (settings.sampleTime !== undefined || run.recording.drive.speedSampleTime !== undefined) return found;
  const atMost = Math.max(0, ...seen.map((s) => s.atMost ?? 0));
  if (found)
    notes.push(
      `the current command moves in stairs of ${milliseconds(found.value)}: taken as the speed loop's sample time`,
    );
  else if (run.trials.some((trial) => trial.kind === "speed"))
    notes.push(
      atMost > 0
        ? `the speed loop's sample time is not seen: the current command is new in every row, so it is at most about ${milliseconds(atMost)}`
        : "the speed loop's sample time is not seen in the log; state it as --sample-time or speedSampleTime",
    );
  return found;
}

function shortfallOf(run: Run, plant: LoopPlant | undefined): CurrentShortfall | undefined {
  const g = plant?.torqueGain;
  const sign = g !== undefined && (typeof g === "number" ? g : g.value) < 0 ? -1 : 1;
  // A reversed loop shows little of it before its current is at its limit; its torque trials do.
  const underTorque = sign < 0 ? torqueShortfall(run, sign) : undefined;
  if (underTorque !== undefined) return underTorque;
  let best: CurrentShortfall | undefined;
  for (const trial of run.chosenTrials) {
    if (trial.kind !== "speed") continue;
    const found = currentShortfall(run, trial, sign);
    if (found && found.explained > (best?.explained ?? 0)) best = found;
  }
  return best;
}

/**
 * The bandwidth that stands for a lag of the logged speed, less what the log itself adds by holding the speed between
 * two runs of the loop: half of what the sample time exceeds the log's interval by, up to half a sample time where the
 * two are not in step.
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
