import type { SpeedGains } from "../../motor/speedGains.js";

/**
 * How the two numbers of a PI speed controller are to be read. Every field has the meaning most drives would give it
 * when absent; state what you know, since a wrong guess costs a factor.
 */
export interface ControllerForm {
  /**
   * `parallel`: out = kp*e + ki*integral(e). `ideal`: out = kp*(e + integral(e)/ti), the second number is ti in seconds.
   * For a PI controller the series form is the same as the ideal one. Absent: `parallel`.
   */
  readonly structure?: "parallel" | "ideal";
  /**
   * Unit the speed error is counted in: radians per second or revolutions per minute of the shaft, or radians per
   * second of the electrical angle (needs `polePairs`). Absent: `rad/s`.
   */
  readonly speedUnit?: "rad/s" | "{rev}/min" | "electrical rad/s";
  /** Output: amperes peak, amperes RMS, or newton metres (needs `torqueConstant`). Absent: `A`. */
  readonly output?: "A" | "A RMS" | "N.m";
  /**
   * `continuous`: the integral gain is per second (or ti in seconds). `sampled`: it is per sample, out = kp*e + ki*sum(e),
   * ti in samples; needs `sampleTime`. Absent: `continuous`.
   */
  readonly time?: "continuous" | "sampled";
  /** s. */
  readonly sampleTime?: number;
  readonly polePairs?: number;
  /** N m per A peak. */
  readonly torqueConstant?: number;
}

/** The two numbers as some form gives them. */
export interface FormGains {
  /** Proportional gain, in the form's output unit per speed unit. */
  readonly kp: number;
  /** Integral gain; the ideal form has `ti` instead. */
  readonly ki?: number;
  /** Integral time of the ideal form: s, or samples when sampled. */
  readonly ti?: number;
}

const rpm = (2 * Math.PI) / 60;

/** Output units per A peak, and rad/s per speed unit. */
function factors(form: ControllerForm): { readonly output: number; readonly speed: number } {
  const need = (value: number | undefined, name: string, why: string): number => {
    if (value === undefined || !(value > 0) || !Number.isFinite(value))
      throw new RangeError(`controller form: ${why} needs ${name} above 0, found ${value}`);
    return value;
  };
  const output =
    form.output === "N.m"
      ? need(form.torqueConstant, "torqueConstant", "an output in N.m")
      : form.output === "A RMS"
        ? Math.SQRT1_2
        : 1;
  const speed =
    form.speedUnit === "{rev}/min"
      ? rpm
      : form.speedUnit === "electrical rad/s"
        ? 1 / need(form.polePairs, "polePairs", "a speed in electrical rad/s")
        : 1;
  if (form.time === "sampled") need(form.sampleTime, "sampleTime", "a sampled form");
  return { output, speed };
}

/**
 * Gains in any form, brought to the parallel continuous form in amperes peak per rad/s of the shaft.
 *
 * @throws RangeError when the form needs a number that is missing, or the ideal form comes without `ti`
 * @example
 * // 0.002 A per rev/min and an integral time of 20 ms
 * fromForm({ kp: 0.002, ti: 0.02 }, { structure: "ideal", speedUnit: "{rev}/min" }); // => { kp: 0.01910, ki: 0.9549 }
 */
export function fromForm(gains: FormGains, form: ControllerForm = {}): SpeedGains {
  const { output, speed } = factors(form);
  let ki: number;
  if (form.structure === "ideal") {
    if (gains.ti === undefined || !(gains.ti > 0))
      throw new RangeError(
        `controller form: the ideal form needs an integral time ti above 0, found ${gains.ti}`,
      );
    ki = gains.kp / gains.ti;
  } else {
    if (gains.ki === undefined)
      throw new RangeError("controller form: the parallel form needs an integral gain ki, found none");
    ki = gains.ki;
  }
  // A sum over samples grows by e each sample where the integral grows by e*sampleTime.
  if (form.time === "sampled") ki /= form.sampleTime!;
  return { kp: gains.kp / output / speed, ki: ki / output / speed };
}

/**
 * Gains in the parallel continuous form, written in another form: the inverse of `fromForm`.
 *
 * @throws RangeError when the form needs a number that is missing, or the ideal form meets an integral gain of 0
 * @example
 * toForm({ kp: 0.02, ki: 1 }, { structure: "ideal" }); // => { kp: 0.02, ti: 0.020 }
 */
export function toForm(gains: SpeedGains, form: ControllerForm = {}): FormGains {
  const { output, speed } = factors(form);
  const kp = gains.kp * output * speed;
  let ki = gains.ki * output * speed;
  if (form.time === "sampled") ki *= form.sampleTime!;
  if (form.structure !== "ideal") return { kp, ki };
  if (ki === 0)
    throw new RangeError(
      "controller form: the ideal form has no finite integral time for an integral gain of 0",
    );
  return { kp, ti: kp / ki };
}

/**
 * Gains read in one form, written in another: `toForm` of what `fromForm` gives, each gain in the units of its form.
 *
 * @throws RangeError when a form needs a number that is missing, or the ideal form an integral time there is none of
 * @example
 * convertGains({ kp: 0.002, ti: 0.02 }, { structure: "ideal", speedUnit: "{rev}/min" }, {}); // => { kp: 0.01910, ki: 0.9549 }
 */
export function convertGains(gains: FormGains, from: ControllerForm, to: ControllerForm): FormGains {
  return toForm(fromForm(gains, from), to);
}

/**
 * The form in words, for a table or a message.
 *
 * @example
 * formText({ structure: "ideal", speedUnit: "{rev}/min" }); // => "ideal, A per rev/min, integral time in s"
 */
export function formText(form: ControllerForm = {}): string {
  const structure = form.structure ?? "parallel";
  const output = form.output ?? "A";
  const time =
    form.time === "sampled"
      ? `per sample of ${(form.sampleTime ?? Number.NaN) * 1000} ms`
      : structure === "ideal"
        ? "integral time in s"
        : "per second";
  return `${structure}, ${output} per ${form.speedUnit === "{rev}/min" ? "rev/min" : (form.speedUnit ?? "rad/s")}, ${time}`;
}
