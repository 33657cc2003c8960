/**
 * Text that came from outside (file names, column names, cells) made harmless before it is shown.
 */

/**
 * Replaces control characters (terminal escapes, line breaks, bidirectional overrides) by a visible `\xNN` form and cuts
 * what is too long, so that a name in a log cannot move the cursor, forge a line or fill a screen.
 *
 * @param longest most characters kept
 * @example
 * visible("run\u001b[2J.csv"); // => "run\\x1b[2J.csv"
 */
export function visible(text: string, longest = 200): string {
  const shown = text.replace(
    /[\u0000-\u001f\u007f-\u009f\u2028\u2029\u202a-\u202e\u2066-\u2069\u200b-\u200f\ufeff]/g,
    (c) => {
      const code = c.codePointAt(0) ?? 0;
      return code < 256
        ? `\\x${code.toString(16).padStart(2, "0")}`
        : `\\u${code.toString(16).padStart(4, "0")}`;
    },
  );
  return shown.length > longest ? `${shown.slice(0, longest - 1)}…` : shown;
}

/**
 * Escapes text for HTML element content and quoted attributes.
 *
 * @example
 * escapeHtml("<b>"); // => "&lt;b&gt;"
 */
export function escapeHtml(text: string): string {
  return text
    .replace(/&/g, "&amp;")
    .replace(/</g, "&lt;")
    .replace(/>/g, "&gt;")
    .replace(/"/g, "&quot;")
    .replace(/'/g, "&#39;");
}

/**
 * Makes one CSV field (RFC 4180): quotes it where needed, and keeps a spreadsheet from taking text for a formula by a
 * leading apostrophe. Numbers pass unchanged.
 *
 * @example
 * csvField("=1+1"); // => "'=1+1"
 */
export function csvField(value: string | number): string {
  if (typeof value === "number") return String(value);
  const harmless = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
  return /[",\r\n]/.test(harmless) ? `"${harmless.replace(/"/g, '""')}"` : harmless;
}
