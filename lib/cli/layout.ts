import { styleText } from "node:util";
import stringWidth from "string-width";
import wrapAnsi from "wrap-ansi";
import { findingText } from "../recording/findingText.js";
import type { Finding } from "../recording/types.js";
import { visible } from "../units/text.js";
import type { Io } from "./io.js";

/** Colours by meaning; a word always stands beside the colour. */
export type Tone = "good" | "bad" | "warn" | "dim" | "strong";

const styles = { good: "green", bad: "red", warn: "yellow", dim: "dim", strong: "bold" } as const;

/** Text in the colour of its meaning, or plain where the terminal has none. */
export function paint(io: Pick<Io, "color">, tone: Tone, text: string): string {
  // The caller has decided about colour; Node is not to look at its own stream again.
  return io.color ? styleText(styles[tone], text, { validateStream: false }) : text;
}

/** Width a text is set to: the terminal's, at most 100 characters, at least 40. */
export function pageWidth(io: Pick<Io, "columns">): number {
  return Math.max(40, Math.min(100, io.columns));
}

/**
 * Wraps a paragraph to `width`, every line indented; the first line may carry a lead such as `1. `.
 *
 * @example
 * paragraph("one two three", 10, "- "); // "- one two\n  three"
 */
export function paragraph(text: string, width: number, lead = ""): string {
  const indent = " ".repeat(stringWidth(lead));
  // A per cent sign stays with its number.
  const glued = text.replaceAll(" %", "\u00a0%");
  const lines = wrapAnsi(glued, width - indent.length, { hard: true })
    .replaceAll("\u00a0", " ")
    .split("\n");
  return lines.map((line, i) => (i === 0 ? lead : indent) + line).join("\n");
}

/** What puts a log in doubt, a line each; nothing where nothing does. */
export function attentionLines(findings: readonly Finding[] = [], width: number): string[] {
  return findings.map((finding) => paragraph(visible(findingText(finding), 1000), width, "  check first: "));
}

/**
 * A table of cells, columns as wide as their widest cell; when the whole is wider than `width`, the widest column is
 * wrapped. A cell may carry colour codes: they do not count as width. Blanks at the start of a cell indent all of its
 * lines. A row of one cell in a table of several columns is a heading: it runs across them.
 *
 * @example
 * table([["order", "verdict"], ["UVW", "tracking"]], 80);
 */
export function table(rows: readonly (readonly string[])[], width: number, gap = 2): string {
  const count = Math.max(...rows.map((row) => row.length));
  const isHeading = (row: readonly string[]): boolean => row.length === 1 && count > 1;
  const widths = Array.from({ length: count }, (_, c) =>
    Math.max(0, ...rows.map((row) => (isHeading(row) ? 0 : stringWidth(row[c] ?? "")))),
  );
  const room = width - gap * (count - 1);
  while (widths.reduce((a, b) => a + b, 0) > room) {
    const widest = widths.indexOf(Math.max(...widths));
    if (widths[widest] <= 8) break;
    widths[widest] -= 1;
  }
  const lines: string[] = [];
  for (const row of rows) {
    if (isHeading(row)) {
      lines.push(...wrapCell(row[0], width));
      continue;
    }
    const cells = widths.map((w, c) => wrapCell(row[c] ?? "", w));
    const height = Math.max(...cells.map((cell) => cell.length));
    for (let h = 0; h < height; h += 1) {
      const line = cells.map((cell, c) => {
        const text = cell[h] ?? "";
        return c === count - 1 ? text : text + " ".repeat(Math.max(0, widths[c] - stringWidth(text)));
      });
      lines.push(line.join(" ".repeat(gap)).trimEnd());
    }
  }
  return lines.join("\n");
}

/** The lines of a cell, each with the blanks the cell begins with. */
function wrapCell(text: string, width: number): string[] {
  const indent = /^ */.exec(text)?.[0] ?? "";
  const lines = wrapAnsi(text.slice(indent.length), Math.max(1, width - indent.length), { hard: true });
  return lines.split("\n").map((line) => indent + line);
}

/**
 * Sets a help text anew to `width`: paragraphs are filled, and what an option means hangs under the column where it
 * begins.
 *
 * @example
 * fillHelp("  --out <folder>  a long line ...", 80);
 */
export function fillHelp(text: string, width: number): string {
  const out: string[] = [];
  let open: { lead: string; text: string; column: number } | undefined;
  const close = (): void => {
    if (open) out.push(paragraph(open.text, width, open.lead));
    open = undefined;
  };
  for (const line of text.split("\n")) {
    const indent = line.length - line.trimStart().length;
    // An entry: indented, a term, two blanks or more, what it means.
    const entry = /^(\s+\S+(?: \S+)*?\s{2,})(\S.*)$/.exec(line);
    if (line.trim() === "") {
      close();
      out.push("");
    } else if (open && indent === open.column && !entry) open.text += ` ${line.trim()}`;
    else {
      close();
      const lead = entry ? entry[1] : line.slice(0, indent);
      // Indented lines without a term are commands to copy: they stay as they are.
      if (indent > 0 && !entry && line.length <= width) out.push(line);
      else open = { lead, text: entry ? entry[2] : line.trim(), column: lead.length };
    }
  }
  close();
  return out.join("\n");
}
