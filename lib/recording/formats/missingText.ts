const missing =
  /^(|nan|-?inf|[+-]?infinity|null|na|n\/a|#n\/a|[-\u2013\u2014]{1,6}|none|1\.#(qnan|inf|ind)|[*?.]{1,6}|\.\.\.)$/i;
/** Dashes in place of a number, with the unit that the number would have had. */
const dashed = /^[-\u2013\u2014]{1,6}\s?[\p{L}%°µΩ][^\s\d]{0,8}$/u;

/** True for an empty field and the words loggers write where a value is missing. */
export function isMissingText(text: string): boolean {
  return missing.test(text) || (text.length < 20 && dashed.test(text) && !/^-inf/i.test(text));
}
