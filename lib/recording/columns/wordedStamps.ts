import type { StampForm } from "./dayOrder.js";
import { civilYear, civilYearSql, someYear } from "./stampYears.js";
import { longestStem, monthOf, monthStems } from "./tables/monthStems.js";

/** Parts of a stamp, in the order in which its pattern has them. */
type Part = "year" | "month" | "day" | "clock" | "half" | "zone";

interface Worded {
  readonly name: string;
  readonly pattern: string;
  readonly parts: readonly Part[];
}

const month = String.raw`(\p{L}[\p{L}\p{M}.]{1,14})`;
const weekday = String.raw`(?:\p{L}[\p{L}\p{M}]{1,12}[.,]{0,2} )?`;
const day = String.raw`(\d\d?)`;
/** Two digits are a year of this century. */
const year = String.raw`(\d{4}|\d\d)`;
const gap = `(?:[-/_.]|[.,]? {0,2}(?:de |di )?)`;
const clock = String.raw`(\d\d?:\d\d(?::\d\d(?:[.,:]\d+)?)?)`;
const clockEnds = String.raw`${clock}(?: ?([AaPp])[Mm])?(?: ?(Z|UTC|GMT|[+-]\d\d:?\d\d))?`;
const before = "(?:T|[ _]{1,2}|, )";
const ends = ["clock", "half", "zone"] as const;

/** Stamps with the name of the month, in any language of `monthStems`. */
const worded: readonly Worded[] = [
  {
    name: "day month year",
    pattern: `${weekday}${day}${gap}${month}${gap}${year}${before}${clockEnds}`,
    parts: ["day", "month", "year", ...ends],
  },
  {
    name: "common log",
    pattern: `${day}/${month}/(\\d{4}):${clockEnds}`,
    parts: ["day", "month", "year", ...ends],
  },
  {
    name: "month day year",
    pattern: `${weekday}${month}${gap}${day}(?:st|nd|rd|th)?(?:[-/_.]|,? )(\\d{4})${before}${clockEnds}`,
    parts: ["month", "day", "year", ...ends],
  },
  {
    name: "year month day",
    pattern: `(\\d{4})${gap}${month}${gap}${day}${before}${clockEnds}`,
    parts: ["year", "month", "day", ...ends],
  },
  {
    name: "month day clock year",
    pattern: `${weekday}${month} {1,2}${day} ${clock} (\\d{4})`,
    parts: ["month", "day", "clock", "year"],
  },
  {
    name: "day and month without a year",
    pattern: `${weekday}${day}${gap}${month}${before}${clockEnds}`,
    parts: ["day", "month", ...ends],
  },
  {
    name: "month and day without a year",
    pattern: `${weekday}${month}${gap}${day}${before}${clockEnds}`,
    parts: ["month", "day", ...ends],
  },
];

const compiled = worded.map((form) => ({ form, test: new RegExp(`^${form.pattern}$`, "u") }));

type Found = Partial<Record<Part, string>>;

function partsIn(text: string, { form, test }: (typeof compiled)[number]): Found | undefined {
  const m = test.exec(text);
  if (m === null) return undefined;
  const found: Found = Object.fromEntries(form.parts.map((part, k) => [part, m[k + 1]]));
  return found.month !== undefined && monthOf(found.month) !== undefined ? found : undefined;
}

/** Letters beside digits: whatever has none of them is written in another form. */
const maybe = /^(?=[^\d]{0,40}\d)(?=.{0,40}\p{L})[\p{L}\d]/u;

/** A moment written with the name of its month; its parts are as they stand. */
function wordedParts(text: string): Found | undefined {
  if (text.length > 60 || !maybe.test(text)) return undefined;
  for (const form of compiled) {
    const found = partsIn(text, form);
    if (found !== undefined) return found;
  }
  return undefined;
}

/**
 * A moment with the name of its month as other forms write it: `2024-08-13 06:02:04`, or with another year where it has
 * none; undefined for any other text.
 *
 * @example
 * inFigures("13-Aug-2024 06:02:04"); // => "2024-08-13 06:02:04"
 */
export function inFigures(text: string): string | undefined {
  const found = wordedParts(text);
  if (found === undefined) return undefined;
  const { year: y, month: m = "", day: d, clock: c, half, zone } = found;
  const whole = y === undefined ? someYear : civilYear(Number(y));
  const sign = zone === undefined || /^[A-Z]/.test(zone) ? "" : zone;
  const [month = "", date = ""] = [monthOf(m), d].map((part) => String(part).padStart(2, "0"));
  return `${whole}-${month}-${date} ${c}${half === undefined ? "" : ` ${half}M`}${sign}`;
}

/** The same for the column engine: microseconds of the text expression `x`; NULL where it does not parse. */
function sqlOf({ pattern, parts }: Worded): StampForm["sql"] {
  const quoted = pattern.replaceAll("'", "''");
  const stems = [...monthStems.keys()].map((stem) => `'${stem}'`).join(",");
  const months = [...monthStems.values()].join(",");
  return (x) => {
    const part = (name: Part): string => {
      const k = parts.indexOf(name);
      return k < 0 ? "''" : `regexp_extract(${x}, '^${quoted}$', ${k + 1})`;
    };
    const word = `replace(lower(${part("month")}), '.', '')`;
    const beginnings = Array.from({ length: longestStem - 1 }, (_, k) => longestStem - k);
    const found = beginnings.map((n) => `list_position([${stems}], left(${word}, ${n}))`);
    const monthSql = `[${months}][coalesce(${found.join(", ")})]`;
    const years = part("year");
    const yearSql = `CASE WHEN ${years} = '' THEN ${someYear} ELSE ${civilYearSql(`TRY_CAST(${years} AS INT)`)} END`;
    const time = `regexp_replace(replace(${part("clock")}, ',', '.'), '(:\\d\\d:\\d\\d):(\\d+)$', '\\1.\\2')`;
    const date = `${yearSql} || '-' || ${monthSql} || '-' || ${part("day")}`;
    const zone = `regexp_replace(regexp_replace(${part("zone")}, '^[A-Z]+$', ''), '([+-]\\d\\d):?(\\d\\d)', '\\1:\\2')`;
    const half = part("half");
    const halves = `try_strptime(${date} || ' ' || ${time} || ' ' || upper(${half}) || 'M', ['%Y-%m-%d %I:%M:%S.%f %p', '%Y-%m-%d %I:%M:%S %p', '%Y-%m-%d %I:%M %p'])`;
    const whole = `TRY_CAST(${date} || ' ' || ${time} || ${zone} AS TIMESTAMPTZ)`;
    return `CASE WHEN ${half} = '' THEN epoch_us(${whole})::DOUBLE ELSE epoch_us(${halves})::DOUBLE END`;
  };
}

/** The forms of stamps with the name of a month. */
export const wordedForms: readonly StampForm[] = compiled.map((one) => ({
  name: one.form.name,
  test: { test: (text: string) => text.length <= 60 && maybe.test(text) && partsIn(text, one) !== undefined },
  sql: sqlOf(one.form),
}));
