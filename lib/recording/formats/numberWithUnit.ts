import { unitCode } from "../../units/unitCode.js";
import { specialUnit } from "../columns/specialUnits.js";
import { isBare, isPlain } from "./plainNumber.js";

const grouped = /^[+-]?[1-9]\d{0,2}(([., '’_\u00a0\u202f])\d{3})(\2\d{3})*([.,]\d+)?$/;
const measured = /^([+-]?(?:\d[\d.,]*|[.,]\d+)(?:[eE][+-]?\d+)?)\s?([^\s\d.,;:+\-"'()[\]{}][^\s"';:]{0,11})$/;

const knownUnits = new Map<string, boolean>();

/** A number with its unit in one cell, as in `12.3 A`; undefined for anything else. */
export function numberWithUnit(text: string): { readonly number: string; readonly unit: string } | undefined {
  if (text.length > 40 || isBare(text)) return undefined;
  const m = measured.exec(text);
  // `1/min` is a unit itself.
  if (m === null || m[2].startsWith("/") || !isNumberLike(m[1])) return undefined;
  let known = knownUnits.get(m[2]);
  if (known === undefined) {
    known = unitCode(m[2]) !== undefined || specialUnit(m[2]) !== undefined;
    if (knownUnits.size > 500) knownUnits.clear();
    knownUnits.set(m[2], known);
  }
  return known ? { number: m[1], unit: m[2] } : undefined;
}

/** True for a number in any usual form: decimal point or comma, thousands grouped or not, with an exponent. */
export function isNumberLike(text: string): boolean {
  return isPlain(text) || grouped.test(text);
}

/** True for a number whose digits are not grouped. */
export function isPlainNumber(text: string): boolean {
  return isPlain(text);
}
