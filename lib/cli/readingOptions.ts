import { leadOrders } from "../motor/facts.js";
import type { ReadOptions } from "../recording/columns/interpret.js";
import { UsageError } from "./io.js";

/** The options that every command which reads recordings takes, for `parseArgs`. */
export const readingOptions = {
  map: { type: "string", multiple: true },
  unit: { type: "string", multiple: true },
  rate: { type: "string" },
  ordering: { type: "string" },
  lines: { type: "string" },
  "pole-pairs": { type: "string" },
  join: { type: "boolean" },
} as const;

/** Their help, one option a line. */
export const readingHelp = `  --map <role=column>  say which column holds a quantity: its name, or #3
  --unit <column=unit> say a column's unit, a UCUM code such as mA or {rev}/min
  --rate <hertz>       samples a second, where the log has a counter or no time
  --ordering <order>   lead order of the recordings given, for instance VUW
  --lines <number>     encoder lines (a turn has four counts per line)
  --pole-pairs <n>     pole pairs of the motor
  --join               the files given are one recording that was split`;

/** The values parsed from `readingOptions` as what `readRecordings` takes. */
export function readOptionsOf(values: {
  readonly map?: readonly string[];
  readonly unit?: readonly string[];
  readonly rate?: string;
  readonly ordering?: string;
  readonly lines?: string;
  readonly "pole-pairs"?: string;
  readonly join?: boolean;
}): ReadOptions {
  const rate = values.rate === undefined ? undefined : Number(values.rate);
  if (rate !== undefined && !(rate > 0 && Number.isFinite(rate))) {
    throw new UsageError(`--rate is a number of samples a second, not "${values.rate}"`);
  }
  const ordering = leadOrders.find(
    (order) => order === values.ordering?.toUpperCase().replace(/[^UVW]/g, ""),
  );
  if (values.ordering !== undefined && ordering === undefined) {
    throw new UsageError(`--ordering is one of ${leadOrders.join(", ")}, not "${values.ordering}"`);
  }
  const lines = positive("--lines", values.lines);
  const polePairs = positive("--pole-pairs", values["pole-pairs"]);
  return {
    ...(lines === undefined ? {} : { encoder: { lines } }),
    ...(polePairs === undefined ? {} : { machine: { polePairs } }),
    map: pairs("--map", "role=column", values.map),
    unit: pairs("--unit", "column=unit", values.unit),
    ...(rate === undefined ? {} : { rate }),
    ...(ordering === undefined ? {} : { ordering }),
    ...(values.join === undefined ? {} : { join: values.join }),
  };
}

function positive(option: string, text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  const value = Number(text);
  if (!(value > 0 && Number.isInteger(value)))
    throw new UsageError(`${option} is a whole number above zero, not "${text}"`);
  return value;
}

/** Pairs such as `current=Iq_act`; the last equals sign of a unit pair may belong to neither side, so the first one parts. */
function pairs(option: string, form: string, given: readonly string[] = []): Record<string, string> {
  const out: Record<string, string> = Object.create(null);
  for (const text of given) {
    const at = text.indexOf("=");
    if (at < 1 || at === text.length - 1) throw new UsageError(`${option} takes ${form}, not "${text}"`);
    out[text.slice(0, at)] = text.slice(at + 1);
  }
  return out;
}
