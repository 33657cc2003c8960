import { stampForm } from "../columns/stamps.js";
import { isMissingText } from "./missingText.js";
import { isNumberLike, isPlainNumber, numberWithUnit } from "./numberWithUnit.js";

/** What the text of a cell is, whatever the locale it was written in. */
export type CellKind = "number" | "stamp" | "missing" | "word";

/** What a cell holds, its outer blanks taken off. */
export function cellKind(text: string): CellKind {
  if (text === "") return "missing";
  const c = text.charCodeAt(0);
  // Digits, signs and points begin numbers and stamps; nothing else does but the name of a month or a day.
  if (!((c >= 48 && c <= 57) || (c >= 43 && c <= 46))) {
    if (text.length > 10 && text.length < 60 && text.includes(":") && stampForm([text]) !== undefined)
      return "stamp";
    return isMissingText(text) || /^#[A-Z/0]+[!?]?$/.test(text) ? "missing" : "word";
  }
  if (isPlainNumber(text)) return "number";
  if (text.length > 60) return "word";
  if (isNumberLike(text)) return "number";
  if (isMissingText(text)) return "missing";
  if (stampForm([text]) !== undefined) return "stamp";
  return numberWithUnit(text) === undefined ? "word" : "number";
}
