import { readLeadOrder } from "../../motor/leadLetters.js";
import { unitCode } from "../../units/unitCode.js";
import { ordersIn } from "../factsFromNames.js";
import { scaleIn } from "./scaleIn.js";
import type { SourceTable } from "./sourceTable.js";
import { statedInLines } from "./statedInLines.js";

/** What the lines above a table state. */
export interface Preamble {
  readonly facts: NonNullable<SourceTable["facts"]>;
  /** Rows a second. */
  readonly rate?: { readonly hertz: number; readonly from: string };
  /** Settings by their key in lower case, as written. */
  readonly settings: ReadonlyMap<string, string>;
}

/** Tables that are asked for words of a file: nothing is in them but what stands here. */
const table = (of: Readonly<Record<string, number>>): Readonly<Record<string, number | undefined>> =>
  Object.assign(Object.create(null), of);
const seconds = table({ ns: 1e-9, us: 1e-6, ms: 1e-3, s: 1, min: 60 });
const hertz = table({
  hz: 1,
  khz: 1e3,
  mhz: 1e6,
  "s/s": 1,
  "sa/s": 1,
  "ks/s": 1e3,
  "ksa/s": 1e3,
  "ms/s": 1e6,
  "msa/s": 1e6,
  sps: 1,
  "samples/s": 1,
  "1/s": 1,
});

const sampling =
  "sampl\\w*|log\\w*|trace|record\\w*|scan|acqui\\w*|abtast\\w*|mess|aufzeichnungs?\\w*|muestreo|echantill\\w*|campion\\w*|amostragem|örnekleme|bemonster\\w*|サンプリング|採取|采样|取样|샘플링?|дискретизации";
const intervalKey = new RegExp(
  `^(dt|ts|t ?s|delta ?t|δt|x ?inc\\w*|increment|inkrement|h ?resolution|interval|period|tick|cycle( time)?|zykluszeit|taktzeit|step( time)?|.*(${sampling}).*(interv\\w*|period\\w*|time|zeit|dauer|abstand|tick|pas|tijd|周期|间隔|間隔|時間|时间|주기)|(interv\\w*|period\\w*|pas|tiempo|temps|tempo) (de|d|di|da|of)? ?(${sampling}).*)$`,
);
const rateKey = new RegExp(
  `^(fs|f ?s|rate|sps|.*(${sampling}).*(rate|freq\\w*|frequenz|takt|频率|周波数|주파수)|(taux|frequ\\w*|frecuencia|frequenza|tasa|abtastrate|frequentie) ?(de|d|di|of)? ?(${sampling})?.*)$`,
);
const perRow =
  /(?:(?:one|a|1|each|jede)?\s*(?:lines?|rows?|samples?|points?|values?|zeilen?|werte?|lignes?|filas?|righe)\s*(?:per|each|every|all[ae]?|pro|par|cada|ogni|=|is)|every|all[ae]?|chaque|cada|ogni|interval|sampled (?:at|every|each)|Δt\s*=|dt\s*=)\s*(?:(?:\p{L}+\s+){0,2}(?:period|cycle|tick|interrupt|interval|zyklus|takt|cycle|ciclo|periodo|período)\s*(?:\(|of|=|:)?\s*)?(\d[\d.,]*)\s*(ns|us|µs|μs|ms|s|sec|min)\b/iu;
const cycled =
  /\b(?:cycle(?: time)?|zyklus(?:zeit)?|takt(?:zeit)?)\s*[:=]?\s*(\d[\d.,]*)\s*(us|µs|μs|ms|s)\b/i;
const ofSampling = /sampl|log|rate|record|acq|capture|trace|scan|abtast|muestr|echant|échant|fs\s*=/i;
const atRate = /(?:@|\bat|sampled at|fs\s*=|mit|a)\s*(\d[\d.,]*)\s*(k|M)?\s*(?:Hz|S\/s|Sa\/s|sps)\b/i;

/**
 * Reads the lines above a table: `key: value`, `key = value`, `key;value;unit`, and plain sentences that say how often
 * a row was written. Lead order, motor and title are facts; the time from row to row gives the rate of a table that has
 * no time of its own.
 */
export function readPreamble(lines: readonly string[]): Preamble {
  const settings = new Map<string, string>();
  const facts: {
    -readonly [K in keyof NonNullable<SourceTable["facts"]>]: NonNullable<SourceTable["facts"]>[K];
  } = {};
  let rate: Preamble["rate"];
  let decimation = 1;
  let fromInterval = false;
  for (const line of lines.slice(0, 400)) {
    const text = line
      .trim()
      .replace(/^[\s#%!*/"]+|["\s,;]+$/g, "")
      .slice(0, 300);
    const pair = pairOf(text);
    if (pair !== undefined) {
      const [key, value] = pair;
      settings.set(key, value);
      fact(key, value, facts);
      if (/^(decimation|downsampl\w*|divider|teiler|every nth.*)$/.test(key))
        decimation = wholeOf(value) ?? decimation;
      const inline = /decimation\s*[:=]?\s*(\d+)/i.exec(value);
      const found = rateOf(key, value);
      if (found !== undefined && rate === undefined) {
        rate = { hertz: found.hertz, from: text };
        fromInterval = found.interval;
        if (inline !== null) decimation = Number(inline[1]);
      }
    }
    if (rate === undefined) {
      const hz = sentence(text);
      if (hz !== undefined) rate = { hertz: hz, from: text };
    }
    if (
      facts.ordering === undefined &&
      /order|phase|lead|wiring|sequence|folge|reihenfolge|ordre|orden/i.test(text)
    ) {
      const orders = ordersIn(text);
      if (orders.length === 1) [facts.ordering] = orders;
    }
  }
  const { said, ...stated } = statedInLines(lines);
  if (said.length > 0) Object.assign(facts, stated, { said });
  if (rate !== undefined && fromInterval && decimation > 1)
    rate = { ...rate, hertz: rate.hertz / decimation };
  return { facts, rate, settings };
}

/** Key, value and unit of one line. */
function pairOf(text: string): [string, string] | undefined {
  const m = /^([^:=;,\t]{1,60}?)\s*(?:[:=;,\t]|\s{3,})\s*(.+)$/.exec(text);
  if (m === null) return undefined;
  const bracket = /^(.*?)\s*[[(]\s*([^\])]+)\s*[\])]$/.exec(m[1]);
  const words = (bracket?.[1] ?? m[1])
    .replace(/"/g, "")
    .trim()
    .replace(/([a-z])([A-Z])/g, "$1 $2");
  // A unit at the end of the key: `sample_time_ms`.
  const tail = bracket === null ? /^(.*\p{L}.*)[_ ](ns|us|ms|s|hz|khz)$/iu.exec(words) : null;
  const key = (tail?.[1] ?? words).toLowerCase().replace(/[_.-]+/g, " ");
  const value = m[2]
    .replace(/^[\s;,\t"]+/, "")
    .replace(/"\s*[,;\t]\s*"/g, " ")
    .replace(/"/g, "")
    .replace(/[;\t]+/g, " ")
    .trim();
  if (key === "" || value === "") return undefined;
  const unit = bracket?.[2] ?? tail?.[2];
  return [key, unit === undefined ? value : `${value} ${unit}`];
}

function rateOf(key: string, value: string): { hertz: number; interval: boolean } | undefined {
  const m = /^([+-]?[\d.,]+(?:e[+-]?\d+)?)[\s,]*([a-zµμ/]*)/i.exec(value);
  if (m === null) return undefined;
  const number = Number(m[1].replace(/,(?=\d)/, ".").replace(/,$/, ""));
  if (!(number > 0) || !Number.isFinite(number)) return undefined;
  const unit = m[2].toLowerCase().replace(/[µμ]/, "u");
  if (intervalKey.test(key)) {
    const rate = hertz[unit];
    if (rate !== undefined) return likely(number * rate, false);
    const size = unit === "" || unit === "sec" ? 1 : seconds[unit];
    return size === undefined ? undefined : likely(1 / (number * size), true);
  }
  if (rateKey.test(key)) {
    const interval = seconds[unit];
    if (interval !== undefined && unit !== "s") return likely(1 / (number * interval), true);
    const size = unit === "" ? 1 : hertz[unit];
    return size === undefined ? undefined : likely(number * size, false);
  }
  return undefined;
}

/** A rate that some logger may have: from a sample in weeks to ten in a nanosecond. */
function likely(rate: number, interval: boolean): { hertz: number; interval: boolean } | undefined {
  return rate >= 1e-6 && rate <= 1e10 ? { hertz: rate, interval } : undefined;
}

function sentence(text: string): number | undefined {
  const m = perRow.exec(text) ?? (ofSampling.test(text) ? cycled.exec(text) : null);
  if (m !== null) {
    const size = seconds[m[2].toLowerCase().replace(/[µμ]/, "u").replace("sec", "s")];
    const value = size === undefined ? 0 : Number(m[1].replace(",", ".")) * size;
    return value > 0 ? 1 / value : undefined;
  }
  const r = atRate.exec(text);
  // A frequency alone may be that of anything; one beside a word for sampling is its rate.
  if (r === null || !ofSampling.test(text)) return undefined;
  const value = Number(r[1].replace(",", ".")) * (r[2] === "k" ? 1e3 : r[2] === "M" ? 1e6 : 1);
  return value > 0 ? value : undefined;
}

function wholeOf(value: string): number | undefined {
  const m = /^(\d+)/.exec(value);
  return m === null || Number(m[1]) < 1 ? undefined : Number(m[1]);
}

/** Lead order, motor and title, as a descriptor would state them. */
function fact(
  key: string,
  value: string,
  facts: { ordering?: unknown; motor?: string; title?: string },
): void {
  if (
    /^(motor |drive )?((lead|phase|wiring|phases|leads) ?(order|ordering|sequence)|order|ordering|leads|wiring|phases|phasenfolge|anschlussfolge|verdrahtung|ordre des phases|orden de fases|ordine fasi|相序)$/.test(
      key,
    )
  ) {
    const written = readLeadOrder(value);
    if (written !== undefined) facts.ordering = written.order;
  } else if (/^(motor|motor id|serial|serial number|motor serial)$/.test(key)) facts.motor = value;
  else if (/^(title|titel|titre|name)$/.test(key)) facts.title = value;
}

/** Unit and label of the values of an oscilloscope's channel, from its settings. */
export function channelSettings(settings: ReadonlyMap<string, string>): {
  readonly unit?: string;
  readonly timeUnit?: string;
  readonly label?: string;
} {
  const get = (pattern: RegExp): string | undefined => [...settings].find(([key]) => pattern.test(key))?.[1];
  const known = (text: string | undefined): string | undefined =>
    text !== undefined && unitCode(text) !== undefined ? text : undefined;
  const label = [get(/^(source|channel|trace ?name|ch)$/), get(/^(label|name|comment|note)$/)]
    .filter((t) => t !== undefined)
    .join(" ");
  return {
    unit: scaleIn(label) ?? known(get(/^(vertical units?|y units?|v ?unit|ch\d units?|units?)$/)),
    timeUnit: known(get(/^(horizontal units?|x units?|h ?unit)$/)),
    label: label === "" ? undefined : label,
  };
}
