import { visible } from "../../units/text.js";
import type { SourceColumn, SourceData, SourceTable } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";
import { usualStep } from "./clockWraps.js";
import { nameEvidence } from "./nameEvidence.js";
import { mayBeTime, resampled } from "./timeBases.js";
import { splitHeading } from "./unitText.js";

const tagName =
  /tag|signal|variable|channel|(^|[^a-z])name|parameter|point|item|topic|sensor|metric|(^|[^a-z])key|kanal|gr(ö|oe)(ß|ss)e|messstelle|measure|quantity|field|object|objekt|变量|信号|信号名|名称/i;
const valueName =
  /value|(^|[^a-z])val|wert|valeur|valor|valore|waarde|värde|verdi|værdi|arvo|hodnota|wartość|değer|reading|(^|[^a-z])data|数值|値|值|값|значение/i;
const sourceName =
  /(^|[^a-z])(id|motor|axis|node|device|dev|unit|joint|servo|drive|wheel|controller|host|source|achse|antrieb|knoten|axe|moteur|eje|asse|motore)([^a-z]|$)|电机|轴|モータ|軸|모터|축/i;
const unitName =
  /^(units?|einheit|uom|unité|unidad|unidade|unità|eenheid|enhet|enhed|yksikkö|jednotka|jednostka|birim|単位|单位|단위|ед\.?( ?изм\.?)?|единица)$/i;
const mostTags = 64;

interface Long {
  readonly tag: number;
  readonly value: number;
  readonly time: number;
  readonly unit?: number;
  /** Columns of words that say which device, or other source, the signal is of. */
  readonly of: readonly number[];
}

/** The three columns of a table that holds one value a row, with the name of its signal beside it. */
function longColumns(columns: readonly SourceColumn[]): Long | undefined {
  if (columns.length < 3 || columns.length > 8) return undefined;
  const text = columns
    .map((c, k) => ({ c, k }))
    .filter(({ c }) => c.kind === "text" && !unitName.test(c.name));
  const time = columns.findIndex(mayBeTime);
  const tags = text.filter(({ c }) => repeats(c.samples));
  const tag = tags.find(({ c }) => tagName.test(c.name)) ?? tags.find(({ c }) => holdsHeadings(c.samples));
  const numeric = columns.flatMap((c, k) => (c.kind === "number" && k !== time ? [k] : []));
  const named = numeric.find((k) => valueName.test(columns[k].name));
  // The one column of numbers beside what is surely a list of signals holds their values, whatever it is called.
  const alone = tag !== undefined && numeric.length === 1 && holdsHeadings(tag.c.samples);
  const value = named ?? (alone ? numeric[0] : -1);
  if (tag === undefined || value < 0 || time < 0 || value === time) return undefined;
  // More numbers beside would belong to no signal.
  const numbers = columns.filter(
    (c, k) =>
      c.kind === "number" &&
      k !== value &&
      k !== time &&
      !/qual|status|flag|^table$|series|(^|_)id$|index|nr|no/i.test(c.name),
  );
  if (numbers.length > 0) return undefined;
  const unit = columns.findIndex((c) => unitName.test(c.name) && c.kind === "text");
  // A column of a few words of their own tells signals of one name and moment apart, whatever it is called.
  const of = text
    .filter(
      ({ k, c }) => k !== tag.k && repeats(c.samples) && (sourceName.test(c.name) || numbered(c.samples)),
    )
    .map(({ k }) => k);
  return { tag: tag.k, value, time, of, ...(unit < 0 ? {} : { unit }) };
}

/** Words that number things of one kind: `MV1`, `AB2`. */
function numbered(samples: readonly string[]): boolean {
  return samples.every((word) => /^\p{L}[\p{L} ._#-]{0,15}\d{1,3}$/u.test(word.trim()));
}

function repeats(samples: readonly string[]): boolean {
  return samples.length >= 4 && new Set(samples).size < samples.length;
}

/**
 * Words that would be headings of a table with a column for each: two or more of them name a quantity, none is a
 * number (a list of settings beside the rows has those), and they come again and again.
 */
function holdsHeadings(samples: readonly string[]): boolean {
  const words = [...new Set(samples)];
  if (words.length > samples.length / 2 || words.some((w) => Number.isFinite(Number(w)))) return false;
  const names = words.filter((w) => {
    const { words: rest, unit } = splitHeading(w);
    return unit !== undefined || nameEvidence(rest).namesQuantity;
  });
  return names.length >= 2 && names.length >= 0.5 * words.length;
}

/**
 * Turns a table of signal, time and value (one value a row) into one of columns on the time of the signal that was
 * sampled finest. Undefined for any other table.
 */
export async function wideTable(table: SourceTable): Promise<SourceTable | undefined> {
  const long = longColumns(table.columns);
  if (long === undefined) return undefined;
  const plain = [long.time, long.tag, long.value, ...(long.unit === undefined ? [] : [long.unit])];
  const data = await table.read([...plain, ...long.of]);
  const [time, plainTags, values] = data.columns;
  const units = long.unit === undefined ? undefined : data.columns[3];
  const { tags, words } = withSources(data, plainTags, long, plain.length);
  if (words.length < 2 || words.length > mostTags) return undefined;
  const rows = words.map(() => [] as number[]);
  for (let i = 0; i < tags.length; i += 1) if (!Number.isNaN(tags[i])) rows[tags[i]].push(i);
  const unitWords = long.unit === undefined ? [] : (data.words.get(long.unit) ?? []);
  const pick = (from: Float64Array, own: readonly number[]): Float64Array =>
    Float64Array.from(own, (i) => from[i]);
  const clocks = rows.map((own) => pick(time, own));
  let finest = 0;
  for (const [k, clock] of clocks.entries()) {
    const [a, b] = [usualStep(clock), usualStep(clocks[finest])];
    if (a > 0 && (!(b > 0) || a < 0.99 * b || (a < 1.01 * b && clock.length > clocks[finest].length)))
      finest = k;
  }
  const clock = clocks[finest];
  const timeColumn = table.columns[long.time];
  const columns: SourceColumn[] = [
    timeColumn,
    ...words.map((name, k): SourceColumn => {
      const unit = units === undefined ? undefined : unitWords[units[rows[k][0]]];
      const samples = rows[k].slice(0, 20).map((i) => String(values[i]));
      return {
        name,
        kind: "number",
        samples,
        unit,
        unitFrom: unit === undefined ? undefined : "column of units",
      };
    }),
  ];
  const read = async (indices: readonly number[]): Promise<SourceData> => ({
    columns: indices.map((k) =>
      k === 0
        ? clock.slice()
        : k - 1 === finest
          ? pick(values, rows[finest])
          : resampled(clocks[k - 1], pick(values, rows[k - 1]), clock),
    ),
    words: new Map(),
    origins: new Map([...data.origins].filter(([k]) => k === long.time).map(([, v]) => [0, v] as const)),
    findings: data.findings,
    owned: true,
  });
  return {
    ...table,
    columns,
    findings: [...table.findings, told(table, words, rows, finest)],
    nameless: false,
    read,
  };
}

/** Tags with the device they are of before them, where a log has several. */
function withSources(
  data: SourceData,
  plain: Float64Array,
  long: Long,
  from: number,
): { readonly tags: Float64Array; readonly words: readonly string[] } {
  const own = data.words.get(long.tag) ?? [];
  const several = long.of.map((k, j) => ({ words: data.words.get(k) ?? [], codes: data.columns[from + j] }));
  const sources = several.filter(({ words }) => words.length > 1 && words.length <= mostTags);
  if (sources.length === 0) return { tags: plain, words: own };
  const known = new Map<string, number>();
  const tags = plain.map((tag, i) => {
    if (Number.isNaN(tag)) return tag;
    const word = [...sources.map(({ words, codes }) => words[codes[i]] ?? ""), own[tag]].join(" ").trim();
    const code = known.get(word) ?? known.size;
    known.set(word, code);
    return code;
  });
  return { tags, words: [...known.keys()] };
}

function told(
  table: SourceTable,
  words: readonly string[],
  rows: readonly (readonly number[])[],
  finest: number,
): Finding {
  const counts = words.map((w, k) => `${visible(w, 40)} ${rows[k].length}`).slice(0, 10);
  return {
    severity: "note",
    code: "one-value-a-row",
    message: `the table holds one value a row, of ${words.length} signals (values: ${counts.join(", ")}); they were brought onto the time of "${visible(words[finest], 40)}"`,
    value: words.length,
    meaning: "between their values the other signals are interpolated, or held where they stay constant",
    file: table.path,
  };
}
