import { laggedSums } from "../../numeric/series/laggedSums.js";
import { largest } from "../../numeric/series/largest.js";
import { median, quantile } from "../../numeric/series/median.js";
import type { Channel, Finding, Recording } from "../types.js";
import { shown } from "./common.js";

/** No loop overshoots so far, nor do two conventions of a current differ so much. */
const unrelated = 20;

/** Factors by which two ways to state one current differ. */
const namedFactors: readonly { readonly factor: number; readonly text: string }[] = [
  { factor: Math.SQRT2, text: "RMS commanded and peak measured (square root of 2)" },
  { factor: Math.SQRT1_2, text: "peak commanded and RMS measured (square root of 2)" },
  {
    factor: Math.sqrt(1.5),
    text: "power-invariant and amplitude-invariant currents mixed (square root of 3/2)",
  },
  {
    factor: Math.sqrt(2 / 3),
    text: "power-invariant and amplitude-invariant currents mixed (square root of 3/2)",
  },
  { factor: 1000, text: "A and mA mixed up" },
  { factor: 1e-3, text: "A and mA mixed up" },
  { factor: 100, text: "per cent and per unit mixed up" },
  { factor: 0.01, text: "per cent and per unit mixed up" },
];

/**
 * Measured against commanded current where it is held: the measured one must reach the command before the voltage runs
 * out. A fixed factor is a scaling (RMS against peak), a sign a reversed sensor or convention, and a current that never
 * gets there is a lead that is open or a supply that is too low.
 */
export function currentAgainstCommand(recording: Recording): Finding[] {
  const { currentCommand: command, current } = recording.channels;
  if (command === undefined || current === undefined) return [];
  const ratios = heldRatios(command, current, recording.time.length);
  const where = { file: recording.path, column: current.name };
  if (ratios.length < 5)
    return alwaysMoving(command.data, current.data).map((said) => ({ ...said, ...where }));
  const said = [signReversed(ratios), scaleDiffers(ratios)].filter((f) => f !== undefined);
  return said.map((finding) => ({ ...finding, ...where }));
}

/** What is said of a ratio; the file and the column are the same for all. */
type Said = Omit<Finding, "file" | "column">;

/** Measured over commanded current in stretches in which the command stands. */
function heldRatios(command: Channel, current: Channel, n: number): number[] {
  const top = largest(command.data);
  if (!(top > 0) || n < 50) return [];
  const block = Math.max(5, Math.floor(n / 1000));
  const ratios: number[] = [];
  for (let from = 0; from + block <= n; from += block) {
    let a = 0;
    let b = 0;
    let held = true;
    for (let i = from; i < from + block; i += 1) {
      a += command.data[i];
      b += current.data[i];
      // Only where the command stands: while it moves the loop has every right to lag.
      if (Math.abs(command.data[i] - command.data[from]) > 0.05 * top) held = false;
    }
    if (held && Math.abs(a / block) > 0.2 * top && b - b === 0) ratios.push(b / a);
  }
  return ratios;
}

/** Stretches in which a current is at its command that show that it gets there. */
const enoughThere = 3;

/** Correlation of a current with its command below which it goes the other way: noise and the lag of a loop bring it
 * nearer to zero, not beyond (judgement). */
const opposed = -0.8;

/** The sign of a current whose command never stands. */
function alwaysMoving(command: Float64Array, current: Float64Array): Said[] {
  const { count, covariance, ofEarlier, ofLater } = laggedSums(command, current, 0, 0);
  const tells = count >= 50 && ofEarlier > 0 && ofLater > 0;
  if (!tells || covariance / Math.sqrt(ofEarlier * ofLater) > opposed) return [];
  return [reversedSign(covariance / ofEarlier, "as both change")];
}

function signReversed(ratios: readonly number[]): Said | undefined {
  // Where none flows (a drive that tripped, a voltage that ran out) there is no sign to see.
  const flowing = ratios.filter((r) => Math.abs(r) > 0.2);
  const negative = flowing.length < 5 ? 0 : flowing.filter((r) => r < 0).length / flowing.length;
  if (negative <= 0.8) return undefined;
  const share = `in ${Math.round(100 * negative)} % of the held stretches`;
  return reversedSign(-median(ratios.map(Math.abs)), share);
}

function reversedSign(value: number, where: string): Said {
  return {
    severity: "error",
    code: "current-sign",
    message: `the measured current has the opposite sign of the commanded one ${where}`,
    value,
    unit: "1",
    meaning:
      "a sign convention or a current sensor is reversed: whether the shaft turns with or against its command cannot be trusted",
  };
}

function scaleDiffers(ratios: readonly number[]): Said | undefined {
  const sizes = ratios.map(Math.abs);
  const reached = quantile(sizes, 0.9);
  const middle = median(sizes);
  const factor = factorOf(ratios, middle, reached - quantile(sizes, 0.5));
  if (factor !== undefined)
    return {
      severity: "error",
      code: "current-factor",
      message: `the measured current is ${shown(middle)} times the commanded one wherever it is held`,
      value: middle,
      unit: "1",
      meaning: `this is the factor of ${factor}; torque constant and resistance are wrong by it until it is known which is meant`,
    };
  if (middle > unrelated)
    return {
      severity: "error",
      code: "current-unrelated",
      message: `the measured current is ${shown(middle)} times the commanded one in the middle of the held stretches`,
      value: middle,
      unit: "1",
      meaning:
        "no current loop does so: one of the two columns holds something else, or is in another unit; nothing is judged from this current",
    };
  if (reached > 1.15)
    return {
      severity: "warning",
      code: "current-above-command",
      message: `the measured current exceeds its command: ${shown(reached)} times it in a tenth of the held stretches`,
      value: reached,
      unit: "1",
      meaning: "the scales of the two differ, or the current loop overshoots",
    };
  // At the beginning of a command a free shaft is slow, and the voltage holds the current; later its speed takes it.
  const there = sizes.filter((r) => r > 0.85 && r < 1.15).length;
  if (reached < 0.8 && there < enoughThere)
    return {
      severity: "warning",
      code: "current-below-command",
      message: `the measured current never reaches its command: ${shown(reached)} of it at best`,
      value: reached,
      unit: "1",
      meaning:
        "an open lead, too little supply voltage, or a different scale: a verdict of blocked would not mean that torque was asked for",
    };
  return undefined;
}

/** The mix-up by whose factor all ratios differ from one, in words. */
function factorOf(ratios: readonly number[], middle: number, scatter: number): string | undefined {
  // A scaling shows as one factor throughout; a voltage limit as a factor that falls from one.
  const steady = scatter < 0.05 * middle;
  // Of noise alone, where no current flows, the ratios have either sign. Noise, lag and a voltage limit spoil a factor
  // near one, and never make one of a thousand.
  const signs = ratios.filter((r) => r > 0).length / ratios.length;
  const oneSign = Math.max(signs, 1 - signs) > 0.95;
  const gross = namedFactors.find(
    (f) => Math.abs(Math.log10(f.factor)) === 3 && Math.abs(Math.log(middle / f.factor)) < 0.7,
  );
  const hit = gross ?? namedFactors.find((f) => Math.abs(middle / f.factor - 1) < 0.02);
  return oneSign && (steady || gross !== undefined) ? hit?.text : undefined;
}
