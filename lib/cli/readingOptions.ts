import { leadOrders } from "../motor/facts.js";
import { readLeadOrder } from "../motor/leadLetters.js";
import type { ReadOptions } from "../recording/columns/readOptions.js";
import { type Limits, usualLimits } from "../recording/limits/limits.js";
import { trialKinds } from "../recording/types.js";
import { UsageError } from "./io.js";

/** The options that every command which reads recordings takes, for `parseArgs`. */
export const readingOptions = {
  map: { type: "string", multiple: true },
  unit: { type: "string", multiple: true },
  ignore: { type: "string", multiple: true },
  rate: { type: "string" },
  interval: { type: "string" },
  ordering: { type: "string", multiple: true },
  kind: { type: "string", multiple: true },
  lines: { type: "string" },
  "pole-pairs": { type: "string" },
  join: { type: "boolean" },
  decimal: { type: "string" },
  thousands: { type: "string" },
  "skip-lines": { type: "string" },
  limit: { type: "string" },
  memory: { type: "string" },
} as const;

/** Their help, one option a line. */
export const readingHelp = `  --map <role=column>  say which column holds a quantity: its name, or #3
  --unit <column=unit> say a column's unit, a UCUM code (mA, {rev}/min);
                       with a factor where one logged unit is not one of it
                       ("ADC=0.016 A", or "ADC=0.016 A from 2048" when 2048
                       stands for nothing)
  --ignore <column>    leave a column out, whatever it may hold
  --rate <hertz>       samples a second, where the log has a counter or no time
  --interval <time>    the same as time from sample to sample: 1ms, 250us, 0.02
  --ordering <order>   lead order of the recordings given, for instance VUW, or
                       of those named so: --ordering 'VUW*=VUW'
  --kind <from..to=kind>  what was tried from .. to seconds, for instance
                       3..8=voltage or ..=coast for the whole log
  --lines <number>     encoder lines (a turn has four counts per line)
  --pole-pairs <n>     pole pairs of the motor
  --join               the files given are one recording that was split
  --decimal <sign>     decimal sign of text tables, . or ,
  --thousands <sign>   sign between thousands: . , ' _ space or none
  --skip-lines <n>     leave out so many lines at the top of each text table
  --limit <seconds>    give one file up after so long (600)
  --memory <MiB>       and when reading it takes more memory than this (4096)`;

/** The values parsed from `readingOptions` as what `readRecordings` takes. */
export function readOptionsOf(values: {
  readonly map?: readonly string[];
  readonly unit?: readonly string[];
  readonly ignore?: readonly string[];
  readonly rate?: string;
  readonly interval?: string;
  readonly ordering?: readonly string[];
  readonly kind?: readonly string[];
  readonly decimal?: string;
  readonly thousands?: string;
  readonly "skip-lines"?: string;
  readonly lines?: string;
  readonly "pole-pairs"?: string;
  readonly join?: boolean;
  readonly limit?: string;
  readonly memory?: string;
}): ReadOptions {
  const rate = rateOf(values);
  const { ordering, orderings } = orderingsOf(values.ordering ?? []);
  const { decimal } = values;
  if (decimal !== undefined && decimal !== "." && decimal !== ",")
    throw new UsageError(`--decimal is . or , and not "${decimal}"`);
  const thousands = thousandsOf(values.thousands);
  const skipLines = positive("--skip-lines", values["skip-lines"]);
  const lines = positive("--lines", values.lines);
  const polePairs = positive("--pole-pairs", values["pole-pairs"]);
  return {
    limits: limitsOf(values),
    ...(lines === undefined ? {} : { encoder: { lines } }),
    ...(polePairs === undefined ? {} : { machine: { polePairs } }),
    map: pairs("--map", "role=column", values.map),
    unit: pairs("--unit", "column=unit", values.unit),
    ...(values.ignore === undefined ? {} : { ignore: values.ignore }),
    ...(rate === undefined ? {} : { rate }),
    ...(ordering === undefined ? {} : { ordering }),
    ...(orderings.length === 0 ? {} : { orderings }),
    ...(values.kind === undefined ? {} : { kinds: values.kind.map(kindOf) }),
    ...(decimal === undefined ? {} : { decimal }),
    ...(thousands === undefined ? {} : { thousands }),
    ...(skipLines === undefined ? {} : { skipLines }),
    ...(values.join === undefined ? {} : { join: values.join }),
  };
}

function rateOf(values: { readonly rate?: string; readonly interval?: string }): number | undefined {
  if (values.interval !== undefined) {
    if (values.rate !== undefined) throw new UsageError("give --rate or --interval, not both");
    const m = /^([\d.]+(?:e-?\d+)?)\s*(us|µs|ms|s)?$/i.exec(values.interval.trim());
    const seconds =
      m === null
        ? Number.NaN
        : Number(m[1]) * { us: 1e-6, µs: 1e-6, ms: 1e-3, s: 1 }[(m[2] ?? "s").toLowerCase() as "s"];
    if (!(seconds > 0 && Number.isFinite(seconds)))
      throw new UsageError(`--interval is a time such as 1ms, 250us or 0.02, not "${values.interval}"`);
    return 1 / seconds;
  }
  const rate = values.rate === undefined ? undefined : Number(values.rate);
  if (rate !== undefined && !(rate > 0 && Number.isFinite(rate)))
    throw new UsageError(`--rate is a number of samples a second, not "${values.rate}"`);
  return rate;
}

/** One order for all, or orders by patterns of names. */
function orderingsOf(
  given: readonly string[],
): Pick<ReadOptions, "ordering"> & { orderings: NonNullable<ReadOptions["orderings"]> } {
  let ordering: ReadOptions["ordering"];
  const orderings: { pattern: string; ordering: NonNullable<ReadOptions["ordering"]> }[] = [];
  for (const text of given) {
    const at = text.lastIndexOf("=");
    const word = text.slice(at + 1);
    const order = readLeadOrder(word)?.order;
    if (order === undefined)
      throw new UsageError(
        `--ordering is one of ${leadOrders.join(", ")} (or the same in A, B, C, R, S, T, L1, L2, L3, T1, T2, T3), not "${word}"`,
      );
    if (at < 0) ordering = order;
    else orderings.push({ pattern: text.slice(0, at), ordering: order });
  }
  return { ordering, orderings };
}

/** A stretch of time and what was tried in it; an end that is left out is that of the log. */
function kindOf(text: string): NonNullable<ReadOptions["kinds"]>[number] {
  const m = /^\s*(-?[\d.]*(?:e[+-]?\d+)?)\.\.(-?[\d.]*(?:e[+-]?\d+)?)\s*=\s*([a-z-]+)\s*$/i.exec(text);
  // A coast-down is what the texts of this program call it.
  const said = m?.[3].toLowerCase().replace(/^coast-?down$/, "coast");
  const kind = trialKinds.find((k) => k === said);
  const start = m?.[1] ? Number(m[1]) : Number.NEGATIVE_INFINITY;
  const end = m?.[2] ? Number(m[2]) : Number.POSITIVE_INFINITY;
  if (m === null || Number.isNaN(start) || Number.isNaN(end) || !(end > start))
    throw new UsageError(`--kind takes from..to=kind in seconds, for instance 3..8=voltage, not "${text}"`);
  if (kind === undefined) throw new UsageError(`--kind is one of ${trialKinds.join(", ")}, not "${m[3]}"`);
  return { kind, start, end };
}

function thousandsOf(text: string | undefined): string | undefined {
  if (text === undefined) return undefined;
  const sign = { none: "", space: " " }[text] ?? text;
  if (!["", ".", ",", "'", "_", " "].includes(sign))
    throw new UsageError(`--thousands is . , ' _ space or none, not "${text}"`);
  return sign;
}

/** The limits of one file: the usual ones where none are given. */
function limitsOf(values: { readonly limit?: string; readonly memory?: string }): Limits {
  const usual = usualLimits();
  const number = (option: string, text: string | undefined, least: number): number | undefined => {
    if (text === undefined) return undefined;
    const value = Number(text);
    if (!(value >= least && Number.isFinite(value)))
      throw new UsageError(`${option} is a number of ${least} or more, not "${text}"`);
    return value;
  };
  const mebibytes = number("--memory", values.memory, 128);
  return {
    seconds: number("--limit", values.limit, 0.1) ?? usual.seconds,
    bytes: mebibytes === undefined ? usual.bytes : mebibytes * 2 ** 20,
  };
}

function positive(option: string, text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  const value = Number(text);
  if (!(value > 0 && Number.isInteger(value)))
    throw new UsageError(`${option} is a whole number above zero, not "${text}"`);
  return value;
}

/** Pairs such as `current=Iq_act`; the last equals sign of a unit pair may belong to neither side, so the first one
 * parts. */
function pairs(option: string, form: string, given: readonly string[] = []): Record<string, string> {
  const out: Record<string, string> = Object.create(null);
  for (const text of given) {
    const at = text.indexOf("=");
    if (at < 1 || at === text.length - 1) throw new UsageError(`${option} takes ${form}, not "${text}"`);
    out[text.slice(0, at)] = text.slice(at + 1);
  }
  return out;
}
