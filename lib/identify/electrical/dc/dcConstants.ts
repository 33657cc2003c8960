import type { Recording, Trial } from "../../../recording/types.js";
import type { Estimate } from "../../../units/estimate.js";
import type { Book } from "../../book.js";
import type { Interval } from "../../curveIntervals.js";
import { combined } from "../../quantity.js";
import { armature } from "./armature.js";
import { breakawayInput } from "./breakawayInput.js";
import { type DcInput, dcInputOf } from "./dcInput.js";
import { type DcResponse, dcResponse } from "./dcResponse.js";

/**
 * Constants of a motor driven by voltage or duty: gain, time constant, dead band and breakaway from input and speed;
 * with the current logged beside a known voltage also resistance and armature constant, and from all of them inertia
 * and friction.
 */
export function addDcConstants(recording: Recording, trials: readonly Trial[], book: Book): void {
  const input = dcInputOf(recording, trials);
  if (input === null) return;
  const { from, to, speed, values, kind } = input;
  const time = recording.time.slice(from, to);
  const names = namesOf(kind);
  const channels = [...input.channels, input.speedChannel];
  const late =
    input.speedChannel === "position" ? (time[time.length - 1] - time[0]) / (time.length - 1) / 2 : 0;
  const found = dcResponse({ time, input: values, speed, late, means: input.speedChannel === "position" });
  if ("missing" in found) {
    book.missing.push({ quantity: names.gain, needs: found.missing });
    book.missing.push({ quantity: "speedTimeConstant", needs: found.missing });
  } else addResponse(found, input, channels, book);
  const stood = breakawayInput({ time, input: values, speed });
  if (stood !== undefined)
    book.add(names.breakaway, {
      ...stood,
      method: "input between standing and setting out",
      samples: to - from,
      channels,
    });
  if (kind === "voltage") {
    const whole = "missing" in found || found.timeConstant.low === 0 ? null : found;
    addArmature(recording, input, whole, book);
  }
}

type Names = {
  readonly gain: "speedPerVolt" | "speedPerDuty";
  readonly deadBand: "deadBandVoltage" | "deadBandDuty";
  readonly breakaway: "breakawayVoltage" | "breakawayDuty";
};

function namesOf(kind: DcInput["kind"]): Names {
  return kind === "voltage"
    ? { gain: "speedPerVolt", deadBand: "deadBandVoltage", breakaway: "breakawayVoltage" }
    : { gain: "speedPerDuty", deadBand: "deadBandDuty", breakaway: "breakawayDuty" };
}

function addResponse(found: DcResponse, input: DcInput, channels: readonly string[], book: Book): void {
  const names = namesOf(input.kind);
  const pauses =
    found.withoutInput === "left out" ? ", stretches without input left out: there the motor runs free" : "";
  const labels = {
    method: `first-order response of the speed to the ${input.kind}, ${Math.floor(1000 * found.explained) / 10} % explained${pauses}`,
    samples: found.rows,
    channels,
    convention: input.note,
  };
  const apart =
    found.deadBand === undefined
      ? {
          convention: `${input.note === undefined ? "" : `${input.note}; `}speed over input: the dead band is not taken out`,
        }
      : {};
  book.add(names.gain, { ...found.gain, ...labels, ...apart });
  const quick = found.timeConstant.low === 0 ? { limit: "upper" as const } : {};
  book.add("speedTimeConstant", { ...found.timeConstant, ...labels, ...quick });
  if (found.deadBand !== undefined) book.add(names.deadBand, { ...found.deadBand, ...labels });
  else
    book.missing.push({
      quantity: names.deadBand,
      needs: "steps at several levels, or both senses of rotation",
    });
  if (found.deadTime !== undefined && found.deadTime.high > 0)
    book.add("speedDeadTime", { ...found.deadTime, ...labels });
}

/** Resistance and armature constant, and what follows from them with the response of the speed. */
function addArmature(recording: Recording, input: DcInput, response: DcResponse | null, book: Book): void {
  if (input.current === undefined) {
    book.missing.push({ quantity: "armatureResistance", needs: "the current of the armature, logged" });
    return;
  }
  const time = recording.time.slice(input.from, input.to);
  const found = armature({
    time,
    voltage: input.values,
    current: input.current,
    speed: input.speedAtRows,
    position: input.position,
    ...(response === null ? {} : { timeConstant: response.slower }),
    apart: input.apart,
  });
  if ("missing" in found) {
    book.missing.push({ quantity: "armatureResistance", needs: found.missing });
    return;
  }
  const labels = {
    method: "armature equation, current over voltage and speed",
    samples: found.rows,
    channels: [...input.channels, "current", input.speedChannel],
  };
  const resistance = {
    ...found.resistance,
    ...labels,
    convention: "of all between the voltage and the armature",
  };
  const constant = {
    ...found.backEmf,
    ...labels,
    convention: "DC motor: Ke in V s/rad and Kt in N m/A are one number",
  };
  book.add("armatureResistance", resistance);
  book.add("armatureConstant", constant);
  book.add("torqueConstant", constant);
  if (found.drop !== undefined) book.add("voltageDrop", { ...found.drop, ...labels });
  if (response === null) return;
  const one = (e: Interval): Estimate => ({ ...e, unit: "1", method: "" });
  const [R, Ke] = [one(resistance), one(constant)];
  const none = { unit: "1", method: "" };
  const over = (e: Interval, by: Estimate): Estimate | null => combined(one(e), by, "over", none);
  const follow = {
    method: "response of the speed with resistance and armature constant",
    samples: found.rows,
    channels: labels.channels,
  };
  const inertia = over(response.perGain, R);
  if (inertia !== null) book.add("inertiaOverTorqueConstant", { ...inertia, ...follow });
  const slow = over(response.perGain, Ke);
  if (slow !== null)
    book.add("electromechanicalTimeConstant", { ...slow, ...follow, convention: "J*R/(Kt*Ke)" });
  if (response.deadBand === undefined) return;
  const coulomb = over(response.deadBand, R);
  if (coulomb !== null) book.add("coulombOverTorqueConstant", { ...coulomb, ...follow });
  // What the gain falls short of 1/Ke is viscous friction.
  const perSpeed = response.of((gain) => 1 / gain, true);
  const value = perSpeed.value - Ke.value;
  const below = Math.hypot(perSpeed.value - perSpeed.low, Ke.high - Ke.value);
  const above = Math.hypot(perSpeed.high - perSpeed.value, Ke.value - Ke.low);
  const viscous = over({ value, low: value - below, high: value + above }, R);
  if (viscous !== null) book.add("viscousOverTorqueConstant", { ...viscous, ...follow });
}
