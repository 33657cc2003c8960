import { keptApart } from "./dayOrder.js";
import { civilYear, someYear } from "./stampYears.js";
import { inFigures } from "./wordedStamps.js";

/** A stamp in signs that no calendar form has (`2024年8月13日`, `2024. 8. 13.`), or without its year, in figures with
 * one. */
function withYear(text: string): string {
  const parted = /^(\d{4})[.年년] ?(\d\d?)[.月월] ?(\d\d?)[.日일]? ?(?=\d\d?:)/.exec(text);
  if (parted !== null) return `${parted.slice(1).join("-")} ${text.slice(parted[0].length)}`;
  return text.replace(
    /^(\d\d?)(?:([/-])(\d\d?)[ T]|(\.)(\d\d?)\.[ T]?)(?=\d\d?:)/,
    (_, first, mark, second, point, last) =>
      point === undefined ? `${first}${mark}${second}${mark}${someYear} ` : `${first}.${last}.${someYear} `,
  );
}

/**
 * Moments written as text, in microseconds after 1970 (UTC where no offset is written); a time of day counts from
 * midnight. For tables that are read cell by cell; the column engine has the same forms as expressions (see
 * `stampForms`).
 */
const calendar =
  /^(?:(\d{4})[-/.](\d\d?)[-/.](\d\d?)|(\d\d?)[./-](\d\d?)[./-](\d{4}))[T _](?:(\d\d?)[:.-](\d\d)(?:[:.-](\d\d)(?:[.,:](\d+))?)?)\s*(AM|PM)?\s*(Z|[+-]\d\d:?\d\d|[+-]\d\d)?$/i;
const basic = /^(\d{4})(\d\d)(\d\d)T(\d\d)(\d\d)(\d\d)(?:[.,](\d+))?Z?$/i;
const clock = /^(?:(\d\d?):)?(\d\d?):(\d\d)(?:[.,:](\d+))?\s*(AM|PM)?$/i;

/**
 * Microseconds of one text; NaN where it is no moment. Behind slashes and hyphens with the year last, day and month are
 * kept apart: the column is to be settled (`settleDays`), as `apart` of its form says. Behind points the day comes
 * first (common practice).
 */
export function stampMoment(text: string): number {
  const m = calendar.exec(text);
  if (m?.[6] !== undefined && !/^\d\d?\./.test(text))
    return keptApart(
      [Number(m[6]), Number(m[4]), Number(m[5])],
      m[11] !== undefined,
      ofDay(m[7], m[8], m[9], m[10], m[11]),
    );
  if (m !== null) {
    const swapped = Number(m[5]) > 12;
    const [year, month, day] =
      m[1] !== undefined ? [m[1], m[2], m[3]] : swapped ? [m[6], m[4], m[5]] : [m[6], m[5], m[4]];
    if (Number(month) < 1 || Number(month) > 12 || Number(day) < 1 || Number(day) > 31) return Number.NaN;
    const days = Date.UTC(civilYear(Number(year)), Number(month) - 1, Number(day)) * 1000;
    return days + ofDay(m[7], m[8], m[9], m[10], m[11]) - offset(m[12]);
  }
  const b = basic.exec(text);
  if (b !== null)
    return Date.UTC(Number(b[1]), Number(b[2]) - 1, Number(b[3])) * 1000 + ofDay(b[4], b[5], b[6], b[7]);
  const c = clock.exec(text);
  if (c !== null) return ofDay(c[1], c[2], c[3], c[4], c[5]);
  const dated = inFigures(text) ?? withYear(text);
  return dated === text ? Number.NaN : stampMoment(dated);
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
