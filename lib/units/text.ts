/**
 * Text that came from outside (file names, column names, cells) made harmless before it is shown.
 */

/** Control characters, and those that turn the direction of writing, join lines or cannot be seen at all. */
const harmful =
  /[\u0000-\u001f\u007f-\u009f\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb\u{e0000}-\u{e007f}]/gu;

/**
 * Replaces control characters (terminal escapes, line breaks, bidirectional overrides) by a visible `\xNN` form and
 * cuts what is too long, so that a name in a log cannot move the cursor, forge a line or fill a screen.
 *
 * @param longest most characters kept
 * @example
 * visible("run\u001b[2J.csv"); // => "run\\x1b[2J.csv"
 */
export function visible(text: string, longest = 200): string {
  // What is cut off anyway need not be looked at.
  const shown = text.slice(0, longest + 1).replace(harmful, (c) => {
    const code = c.codePointAt(0) ?? 0;
    return code < 256 ? `\\x${code.toString(16).padStart(2, "0")}` : escaped(c);
  });
  return shown.length > longest ? `${shown.slice(0, longest - 1)}…` : shown;
}

/** A character as JSON and JavaScript write it. */
function escaped(c: string): string {
  return Array.from(
    { length: c.length },
    (_, i) => `\\u${c.charCodeAt(i).toString(16).padStart(4, "0")}`,
  ).join("");
}

/**
 * Text from outside for Markdown: it stays one line of plain words. It becomes no markup and no HTML, calls nobody
 * (`@everyone`), refers to no ticket (`#12`), and no address in it becomes a link by itself.
 *
 * @example
 * markdownText("@everyone see https://example.org"); // => "(at)everyone see https:\\/\\/example.org"
 */
export function markdownText(text: string): string {
  return visible(text, 3000)
    .replace(/(^|[^\p{L}\p{N}])@(?=[\p{L}\p{N}])/gu, "$1(at)")
    .replace(/([#!])(?=\d)/g, "$1 ")
    .replace(/[\\`*_[\]<>|#~]|(?<=:)\/\/|(?<=\bwww)\./gi, (c) =>
      c === "<" ? "&lt;" : c === ">" ? "&gt;" : c === "//" ? "\\/\\/" : `\\${c}`,
    );
}

/**
 * A value as JSON text that is harmless in a terminal too: JSON itself lets through some control characters and those
 * that turn the direction of writing. Whoever reads it as JSON gets the same value.
 *
 * @param indent blanks of each level; on one line when 0
 * @example
 * jsonText({ name: "a\u009b31m" }, 0); // => '{"name":"a\\u009b31m"}'
 */
export function jsonText(value: unknown, indent = 2): string {
  return JSON.stringify(value, null, indent).replace(harmful, (c) => (c === "\n" ? c : escaped(c)));
}

/** Colours and emphasis that we ask a terminal for, and the erasing of a line that shows progress. */
const ours = /(\u001b\[(?:0|1|2|22|31|32|33|39)m)|(\r?\u001b\[2?K)/g;

/**
 * A text of ours as it may go to a terminal: whatever controls it, but for line breaks, tabs and what is asked for, is
 * made visible. The last of two hedges: names are made harmless where they are put into a text.
 *
 * @param asked whether the text may colour, and whether it may erase the line it stands in
 * @example
 * terminalText("done\u001b[2J\n", { colour: false, erase: false }); // => "done\\u001b[2J\n"
 */
export function terminalText(
  text: string,
  asked: { readonly colour: boolean; readonly erase: boolean },
): string {
  let out = "";
  let at = 0;
  const safe = (part: string): string =>
    part.replace(harmful, (c) => (c === "\n" || c === "\t" ? c : escaped(c)));
  for (const match of text.matchAll(ours)) {
    if (match[1] !== undefined ? !asked.colour : !asked.erase) continue;
    out += safe(text.slice(at, match.index)) + match[0];
    at = match.index + match[0].length;
  }
  return out + safe(text.slice(at));
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
