import { kindText } from "../chart/recordingChart.js";
import { headline } from "../diagnosis/danger.js";
import type { Diagnosis, TrialVerdict } from "../diagnosis/types.js";
import type { Estimate } from "../units/estimate.js";
import { visible } from "../units/text.js";

/** A UCUM code as people write it. */
export function unitText(code: string): string {
  const known: Readonly<Record<string, string>> = {
    "1": "",
    "{rev}/min": "rev/min",
    "{rev}/min/V": "(rev/min)/V",
    Ohm: "Ω",
    deg: "°",
    "s-1": "1/s",
    "%": "%",
  };
  if (code in known) return known[code];
  return code
    .replace(/\{(\w+)\}/g, "$1")
    .replace(/\./g, "·")
    .replace(/(?<=[a-zA-Z])-1\b/g, "⁻¹")
    .replace(/(?<=[a-zA-Z])2\b/g, "²");
}

/** A number as people write it: `digits` significant digits, a power of ten where it is very small or large. */
export function numberText(value: number, digits = 3): string {
  if (!Number.isFinite(value))
    return Number.isNaN(value) ? "not known" : value > 0 ? "unlimited" : "-unlimited";
  if (value === 0) return "0";
  const size = Math.abs(value);
  if (size < 1e-3 || size >= 1e6) {
    const power = Math.floor(Math.log10(size));
    const superscript = String(power).replace(/[-\d]/g, (c) => (c === "-" ? "⁻" : "⁰¹²³⁴⁵⁶⁷⁸⁹"[Number(c)]));
    return `${minus((value / 10 ** power).toPrecision(digits))}×10${superscript}`;
  }
  const decimals = Math.max(0, digits - 1 - Math.floor(Math.log10(size)));
  return minus(value.toFixed(Math.min(8, decimals)));
}

function minus(text: string): string {
  return text.replace(/^-/, "−");
}

/** A value with its unit; speeds and long ways also in the unit that is read on a bench. */
export function quantityText(value: number, code: string, digits = 3): string {
  if (code === "rad/s" && Math.abs(value) >= 0.1) {
    return `${numberText(value, digits)} rad/s (${numberText((value * 30) / Math.PI, digits)} rev/min)`;
  }
  if (code === "deg" && Math.abs(value) >= 720) return `${numberText(value / 360, digits)} turns`;
  const unit = unitText(code);
  return `${numberText(value, digits)}${unit === "" ? "" : unit === "°" ? "°" : ` ${unit}`}`;
}

/** The interval of an estimate, without the unit. */
export function intervalText(estimate: Estimate): string {
  const width = Math.abs(estimate.high - estimate.low);
  const size = Math.max(Math.abs(estimate.high), Math.abs(estimate.low));
  const digits =
    width > 0 && size > 0 ? Math.min(6, Math.max(3, 2 + Math.ceil(Math.log10(size / width)))) : 3;
  return `${numberText(estimate.low, digits)} to ${numberText(estimate.high, digits)}`;
}

/** A probability. Certainty is never claimed. */
export function percentText(probability: number): string {
  if (probability > 0.99) return "over 99 %";
  if (probability < 0.01) return "under 1 %";
  return `${Math.round(100 * probability)} %`;
}

/** The answer in one or two sentences; what can hurt someone first. */
export function answer(diagnosis: Diagnosis): string {
  return headline(diagnosis);
}

/** What stands above every report. */
export const caution =
  "A shaft on a bench can spin up without warning, and an order that turned under torque can run away when the speed loop is closed. " +
  "Run trials unloaded and guarded, current limited, with an independent means of removing power at hand, by qualified people under the site's rules. " +
  "This is advice from a log, never a clearance to run.";

/** Name of a file without its folders. */
export function baseName(path: string): string {
  return visible(path.split(/[\\/]/).at(-1) ?? path, 80);
}

/** `torque trial, 0.5 s to 2.0 s` */
export function trialTitle(trial: Pick<TrialVerdict, "kind" | "start" | "end">): string {
  const words = kindText(trial.kind);
  return `${words[0].toUpperCase()}${words.slice(1)}, ${trial.start.toFixed(2)} s to ${trial.end.toFixed(2)} s`;
}
