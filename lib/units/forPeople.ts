import type { Estimate } from "./estimate.js";

/** Numbers, units and sentences as people write them: UCUM codes and bare clauses are for programs. */

const known: Readonly<Record<string, string>> = {
  "1": "",
  "{rev}": "turns",
  "{rev}/min": "rev/min",
  "{rev}/s": "rev/s",
  "{rev}/min/V": "(rev/min)/V",
  "{count}": "counts",
  "{count}/s": "counts/s",
  Ohm: "Ω",
  mOhm: "mΩ",
  deg: "°",
  Cel: "°C",
  "[degF]": "°F",
  "[ppth]": "‰",
  "s-1": "1/s",
  "%": "%",
  "[in_i]": "in",
  "[ft_i]": "ft",
  "[in_i]/s": "in/s",
  "[in_i]/min": "in/min",
  "[ft_i]/s": "ft/s",
  "[ft_i]/min": "ft/min",
  "[mi_i]/h": "mi/h",
};

/**
 * A UCUM code as people write it.
 *
 * @example
 * unitText("kg.m2"); // => "kg·m²"
 */
export function unitText(code: string): string {
  if (Object.hasOwn(known, code)) return known[code];
  // What stands in braces is a name: the headings of columns stay as they are.
  return code
    .split(/(\[?\{[^}]*\}\]?)/)
    .map((part, k) => (k % 2 === 1 ? annotation(part) : symbolsOf(part)))
    .join("");
}

function annotation(part: string): string {
  const name = part.replace(/^\[?\{|\}\]?$/g, "");
  return /^[\w.]+$/.test(name) ? name : `"${name}"`;
}

function symbolsOf(code: string): string {
  return code
    .replace(/\./g, "·")
    .replace(/^u(?=[A-Z])/, "µ")
    .replace(/(?<=[a-zA-Z])-1\b/g, "⁻¹")
    .replace(/(?<=[a-zA-Z])2\b/g, "²");
}

/** Smaller and larger units in which a quantity is usually given, the largest first, each with its size in the SI
 * unit. */
const scales: Readonly<Record<string, readonly (readonly [string, number])[]>> = {
  "kg.m2": [
    ["kg·m²", 1],
    ["kg·cm²", 1e-4],
    ["g·cm²", 1e-7],
  ],
  ...Object.fromEntries(
    ["N.m", "N.m/A", "N.m.s/rad", "V.s/rad", "Wb", "H", "Ohm", "V", "A", "A.s/rad", "A.s2/rad"].map(
      (code) => {
        const unit = unitText(code);
        const steps = ["", "m", "µ", "n"].map((prefix, i) => [`${prefix}${unit}`, 1000 ** -i] as const);
        return [code, steps];
      },
    ),
  ),
};

/** The unit in which a value of this size reads best, and its size in the unit of the code. */
export function scaleOf(value: number, code: string): readonly [string, number] {
  const steps = scales[code];
  if (steps === undefined) return [unitText(code), 1];
  return (
    steps.find(([, size]) => Math.abs(value) >= 0.0999 * size) ??
    (value === 0 ? steps[0] : steps[steps.length - 1])
  );
}

/** A number as people write it: `digits` significant digits, a power of ten where it is very small or large. */
export function numberText(value: number, digits = 3): string {
  if (!Number.isFinite(value))
    return Number.isNaN(value) ? "not known" : value > 0 ? "unlimited" : "−unlimited";
  const size = Math.abs(value);
  // Nothing in nature is smaller; the smallest doubles have no power of ten that divides them.
  if (size < 1e-300) return "0";
  if (size < 1e-3 || size >= 1e6) {
    const power = Math.floor(Math.log10(size));
    const superscript = String(power).replace(/[-\d]/g, (c) => (c === "-" ? "⁻" : "⁰¹²³⁴⁵⁶⁷⁸⁹"[Number(c)]));
    return `${minus((value / 10 ** power).toPrecision(digits))}×10${superscript}`;
  }
  const decimals = Math.max(0, digits - 1 - Math.floor(Math.log10(size)));
  return minus(value.toFixed(Math.min(8, decimals)));
}

function minus(text: string): string {
  return text.replace(/^-(?=[0.]*$)/, "").replace(/^-/, "−");
}

/**
 * A value with its unit, scaled to read well; speeds and long ways also in the unit that is read on a bench.
 *
 * @param of - Name of the quantity: a frequency in rad/s is no speed.
 * @example
 * quantityText(3.21e-5, "kg.m2"); // => "321 g·cm²"
 */
export function quantityText(value: number, code: string, digits = 3, of = ""): string {
  if (code === "rad/s" && /frequency|bandwidth|crossover/.test(of))
    return `${numberText(value, digits)} rad/s (${numberText(value / (2 * Math.PI), digits)} Hz)`;
  if (code === "rad/s" && Math.abs(value) >= 0.1) {
    return `${numberText(value, digits)} rad/s (${numberText((value * 30) / Math.PI, digits)} rev/min)`;
  }
  if (code === "deg" && Math.abs(value) >= 720) return `${numberText(value / 360, digits)} turns`;
  const [unit, size] = scaleOf(value, code);
  return `${numberText(value / size, digits)}${unit === "" ? "" : /^[°%‰]$/.test(unit) ? (unit === "%" ? " %" : unit) : ` ${unit}`}`;
}

/** The interval of an estimate, without the unit, at the scale of `quantityText` for its value. */
export function intervalText(estimate: Estimate): string {
  const { low, high } = estimate;
  const [, size] = scaleOf(estimate.value, estimate.unit);
  const width = Math.abs(high - low);
  const most = Math.max(Math.abs(high), Math.abs(low));
  const digits =
    width > 0 && Number.isFinite(width) && most > 0
      ? Math.min(6, Math.max(3, 2 + Math.ceil(Math.log10(most / width))))
      : 3;
  return `${numberText(low / size, digits)} to ${numberText(high / size, digits)}`;
}

/** The unit that goes with `intervalText`. */
export function unitOfInterval(estimate: Pick<Estimate, "value" | "unit">): string {
  return scaleOf(estimate.value, estimate.unit)[0];
}

/** A moment of a log, in seconds, to `decimals` places. */
export function secondsText(seconds: number, decimals = 2): string {
  return minus(seconds.toFixed(decimals));
}

/** The stretch a trial took: seconds of its log, or rows where the log has no clock. */
export function stretchText(
  { start, end, clock }: { readonly start: number; readonly end: number; readonly clock?: "rows" },
  decimals = 2,
): string {
  if (clock === "rows") return `rows ${start} to ${end}`;
  return `${secondsText(start, decimals)} s to ${secondsText(end, decimals)} s`;
}

/** Words that stay as they are at the beginning of a sentence: symbols, and names that somebody else wrote. */
const symbols = /^(?:kv|kp|ki|rad|rev|rpm|g|n|i|id|iq|[A-Za-z]+[_\d]\S*|--\S*|\w+\.\w+)(?![\p{L}\p{N}])/u;

/**
 * A clause as a sentence: a capital at its beginning, one stop at its end.
 *
 * @example
 * sentence("the clock starts anew"); // => "The clock starts anew."
 */
export function sentence(text: string): string {
  const plain = text.trim();
  if (plain === "") return "";
  return stopped(symbols.test(plain) ? plain : `${plain[0].toUpperCase()}${plain.slice(1)}`);
}

/** A clause with one stop at its end, to stand behind a lead; what is to be typed ends as it is to be typed. */
export function stopped(text: string): string {
  const plain = text.trim();
  if (plain === "" || endsTyped(plain)) return plain;
  return /[.!?…]["”)]?$/.test(plain) ? plain.replace(/\.{2}$/, ".") : `${plain.replace(/[,;:]$/, "")}.`;
}

/** Whether a text ends with an option to type: its name, with at most one word or what it sets. */
function endsTyped(text: string): boolean {
  const after = /(?:^|\s)--[a-z][a-z-]*(?![\s\S]*\s--[a-z])([\s\S]*)$/.exec(text)?.[1];
  return after !== undefined && (/^[ =]?\S*$/.test(after) || /^ (?:"[^"]*"|\S)+=\S/.test(after));
}

/** Clauses as sentences one after another; empty ones are left out. */
export function sentences(...clauses: readonly (string | undefined)[]): string {
  return clauses
    .map((clause) => sentence(clause ?? ""))
    .filter((clause) => clause !== "")
    .join(" ");
}

/** A value to the digits that half of its interval leaves, and that half: `89.03 ± 0.096`. */
export function withHalf(value: number, half: number): string {
  if (!(half > 0) || !Number.isFinite(half)) return `${numberText(value, 3)} ± ${numberText(half, 2)}`;
  const decimals = Math.max(0, Math.min(8, 1 - Math.floor(Math.log10(half))));
  const shown = value.toFixed(decimals).replace(/^-(?=[0.]*$)/, "");
  // Both with the same decimals, so that they can be read against each other.
  return `${minus(shown)} ± ${decimals < 8 ? half.toFixed(decimals) : numberText(half, 2)}`;
}
