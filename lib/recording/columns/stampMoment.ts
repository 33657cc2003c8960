/**
 * Moments written as text, in microseconds after 1970 (UTC where no offset is written); a time of day counts from
 * midnight. For tables that are read cell by cell; the column engine has the same forms as expressions (see
 * `stampForms`).
 */
const calendar =
  /^(?:(\d{4})[-/.](\d\d?)[-/.](\d\d?)|(\d\d?)[./-](\d\d?)[./-](\d{4}))[T _](?:(\d\d?)[:.-](\d\d)(?:[:.-](\d\d)(?:[.,:](\d+))?)?)\s*(AM|PM)?\s*(Z|[+-]\d\d:?\d\d|[+-]\d\d)?$/i;
const basic = /^(\d{4})(\d\d)(\d\d)T(\d\d)(\d\d)(\d\d)(?:[.,](\d+))?Z?$/i;
const clock = /^(?:(\d\d?):)?(\d\d?):(\d\d)(?:[.,:](\d+))?\s*(AM|PM)?$/i;

/** Order of day and month where the year comes last. */
export type DayOrder = "day first" | "month first";

/** Microseconds of one text; NaN where it is no moment. */
export function stampMoment(text: string, order: DayOrder = "day first"): number {
  const m = calendar.exec(text);
  if (m !== null) {
    const [year, month, day] =
      m[1] !== undefined
        ? [m[1], m[2], m[3]]
        : order === "day first"
          ? [m[6], m[5], m[4]]
          : [m[6], m[4], m[5]];
    if (Number(month) < 1 || Number(month) > 12 || Number(day) < 1 || Number(day) > 31) return Number.NaN;
    const days = Date.UTC(Number(year), Number(month) - 1, Number(day)) * 1000;
    return days + ofDay(m[7], m[8], m[9], m[10], m[11]) - offset(m[12]);
  }
  const b = basic.exec(text);
  if (b !== null)
    return Date.UTC(Number(b[1]), Number(b[2]) - 1, Number(b[3])) * 1000 + ofDay(b[4], b[5], b[6], b[7]);
  const c = clock.exec(text);
  return c === null ? Number.NaN : ofDay(c[1], c[2], c[3], c[4], c[5]);
}

/** Day and month of stamps whose year comes last: the month is the part that never exceeds twelve. */
export function dayOrder(texts: readonly string[]): DayOrder {
  for (const text of texts) {
    const m = /^(\d\d?)([./-])(\d\d?)[./-]\d{4}/.exec(text);
    if (m === null) continue;
    if (Number(m[1]) > 12) return "day first";
    if (Number(m[3]) > 12) return "month first";
  }
  return texts.some((t) => /^\d\d?\/\d\d?\/\d{4}.*[AP]M$/i.test(t)) ? "month first" : "day first";
}

function ofDay(
  hours: string | undefined,
  minutes: string,
  seconds: string | undefined,
  fraction: string | undefined,
  half?: string,
): number {
  let h = Number(hours ?? 0);
  if (half !== undefined) h = (h % 12) + (half.toUpperCase() === "PM" ? 12 : 0);
  const micros = fraction === undefined ? 0 : Number(`0.${fraction}`) * 1e6;
  return ((h * 60 + Number(minutes)) * 60 + Number(seconds ?? 0)) * 1e6 + micros;
}

function offset(text: string | undefined): number {
  if (text === undefined || /^z$/i.test(text)) return 0;
  const m = /^([+-])(\d\d):?(\d\d)?$/.exec(text);
  if (m === null) return 0;
  return (m[1] === "-" ? -1 : 1) * (Number(m[2]) * 60 + Number(m[3] ?? 0)) * 60e6;
}
