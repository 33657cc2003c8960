import { keptApartSql, type StampForm } from "./dayOrder.js";
import { someYear } from "./stampYears.js";
import { wordedForms } from "./wordedStamps.js";

export type { StampForm } from "./dayOrder.js";

const micro = (timestamp: string): string => `epoch_us(${timestamp})::DOUBLE`;
/** A colon before the fraction of a second, as some loggers write it, made a point. */
const pointed = (x: string): string => `regexp_replace(${x}, '(:\\d\\d:\\d\\d):(\\d+)$', '\\1.\\2')`;

/** A blank before AM and PM, and a fraction of a second to the microsecond. */
const spaced = (x: string): string =>
  `regexp_replace(regexp_replace(${x}, ' ?([APap][Mm])$', ' \\1'), '([.,]\\d{6})\\d+', '\\1')`;
/** ISO 8601-1:2019 calendar stamps, extended and basic, and what loggers make of them. Order matters: the first that
 * fits is taken. */
const stampForms: readonly StampForm[] = [
  {
    name: "ISO 8601",
    test: /^\d{4}-\d\d-\d\d[T _]\d\d:\d\d(:\d\d([.,:]\d+)?)?(Z|[+-]\d\d(:?\d\d)?)?$/i,
    // TIMESTAMPTZ takes the offset into account and means UTC where none is written.
    sql: (x) =>
      micro(
        `TRY_CAST(regexp_replace(replace(replace(${pointed(x)}, ',', '.'), '_', ' '), '([+-]\\d\\d)(\\d\\d)$', '\\1:\\2') AS TIMESTAMPTZ)`,
      ),
  },
  {
    name: "ISO 8601 basic",
    test: /^\d{8}T\d{6}([.,]\d+)?Z?$/i,
    sql: (x) =>
      micro(
        `TRY_CAST(regexp_replace(replace(${x}, ',', '.'), '^(\\d{4})(\\d\\d)(\\d\\d)T(\\d\\d)(\\d\\d)(\\d\\d)', '\\1-\\2-\\3 \\4:\\5:\\6') AS TIMESTAMPTZ)`,
      ),
  },
  {
    name: "day.month.year",
    test: /^\d\d?\.\d\d?\.\d{4}[ T]\d\d?:\d\d:\d\d([.,]\d+)?$/,
    sql: (x) =>
      micro(
        `TRY_CAST(regexp_replace(replace(${x}, ',', '.'), '^(\\d\\d?)\\.(\\d\\d?)\\.(\\d{4})[ T]', '\\3-\\2-\\1 ') AS TIMESTAMPTZ)`,
      ),
  },
  {
    name: "year/month/day",
    test: /^\d{4}\/\d\d?\/\d\d?[ T]\d\d?:\d\d:\d\d([.,]\d+)?$/,
    sql: (x) => micro(`TRY_CAST(replace(replace(${x}, '/', '-'), ',', '.') AS TIMESTAMPTZ)`),
  },
  {
    name: "year.month.day",
    test: /^\d{4}(?:\. ?\d\d?\. ?|[年년] ?\d\d?[月월] ?)\d\d?(?:\. ?|[日일] ?| )\d\d?:\d\d(:\d\d([.,]\d+)?)?$/,
    sql: (x) =>
      micro(
        `TRY_CAST(regexp_replace(replace(${x}, ',', '.'), '^(\\d{4})[^\\d]+(\\d\\d?)[^\\d]+(\\d\\d?)[^\\d]+(\\d.*)$', '\\1-\\2-\\3 \\4') AS TIMESTAMPTZ)`,
      ),
  },
  {
    name: "day/month/year",
    test: /^\d\d?[/-]\d\d?[/-]\d{4}[ T]\d\d?:\d\d(:\d\d([.,]\d+)?)?( ?[AP]M)?$/i,
    sql: (x) => keptApartSql(`replace(${spaced(x)}, ',', '.')`),
    apart: true,
  },
  {
    name: "day/month without a year",
    test: /^\d\d?[/-]\d\d?[ T]\d\d?:\d\d:\d\d([.,]\d+)?$/,
    sql: (x) =>
      keptApartSql(
        `regexp_replace(replace(${spaced(x)}, ',', '.'), '^(\\d\\d?)[/-](\\d\\d?)[ T]', '\\1/\\2/${someYear} ')`,
      ),
    apart: true,
  },
  {
    name: "day.month. without a year",
    test: /^\d\d?\.\d\d?\.[ T]?\d\d?:\d\d:\d\d([.,]\d+)?$/,
    sql: (x) =>
      micro(
        `TRY_CAST(regexp_replace(replace(${x}, ',', '.'), '^(\\d\\d?)\\.(\\d\\d?)\\.[ T]?', '${someYear}-\\2-\\1 ') AS TIMESTAMPTZ)`,
      ),
  },
  {
    name: "time of day",
    test: /^\d\d?:\d\d:\d\d([.,:]\d+)?$/,
    sql: (x) => micro(`TRY_CAST('1970-01-01 ' || replace(${pointed(x)}, ',', '.') AS TIMESTAMPTZ)`),
    clock: true,
  },
  {
    name: "time of day, 12 hours",
    test: /^\d\d?:\d\d:\d\d([.,]\d+)? ?[AP]M$/i,
    sql: (x) =>
      micro(
        `try_strptime('1970-01-01 ' || replace(${spaced(x)}, ',', '.'), ['%Y-%m-%d %I:%M:%S.%f %p', '%Y-%m-%d %I:%M:%S %p'])`,
      ),
    clock: true,
  },
  {
    name: "minutes and seconds",
    test: /^\d{1,2}:\d\d[.,]\d+$/,
    sql: (x) => micro(`TRY_CAST('1970-01-01 00:' || replace(lpad(${x}, 9, '0'), ',', '.') AS TIMESTAMPTZ)`),
  },
  ...wordedForms,
];

/** The form all samples are written in, or undefined. */
export function stampForm(samples: readonly string[]): StampForm | undefined {
  const kept = samples.map((s) => s.trim()).filter((s) => s !== "");
  if (kept.length === 0) return undefined;
  return stampForms.find((form) => kept.every((s) => form.test.test(s)));
}
