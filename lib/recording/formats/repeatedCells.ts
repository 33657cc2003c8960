/** Surplus cells that a sheet may have beyond what its written ones warrant. */
const free = 1_000_000;
/** Repetitions of each written cell: some equal columns side by side are usual, a million are not. */
const each = 50;
const longestTag = 4096;
const part = /<(?:[a-z]+:)?(table-row|table-cell)\b([^>]*)>/g;

/**
 * Counts how many cells a sheet of an open document (OASIS OpenDocument 1.2, part 1, 19.675) stands for: a cell says
 * how often it is repeated, and so does its row, so that a file of a few hundred bytes may claim sixteen thousand
 * million of them.
 */
export class RepeatedCells {
  #left = "";
  #rows = 1;
  #written = 0;
  #all = 0;
  #closedValues = false;

  /** Takes the next piece of the text. */
  add(piece: string): void {
    const text = this.#left + piece;
    for (const [, kind, attributes] of text.matchAll(part)) {
      if (kind === "table-row") this.#rows = repeats(attributes, "rows");
      // A cell that is closed at once holds no text; what it may hold is its value.
      else if (attributes.endsWith("/") && !/value=/.test(attributes)) continue;
      else {
        this.#closedValues ||= attributes.endsWith("/");
        this.#written += 1;
        this.#all += this.#rows * repeats(attributes, "columns");
      }
    }
    this.#left = text.slice(Math.max(text.lastIndexOf(">") + 1, text.length - longestTag));
  }

  /** Whether a cell that is closed at once has a value (19.385 and others of that name). */
  get closedValues(): boolean {
    return this.#closedValues;
  }

  /** Cells that it claims, when these are too many for what is written; undefined otherwise. */
  get tooMany(): number | undefined {
    return this.#all > free + each * this.#written ? this.#all : undefined;
  }
}

function repeats(attributes: string, what: "rows" | "columns"): number {
  const found = new RegExp(`number-${what}-repeated=["'](\\d+)`).exec(attributes);
  return Math.max(1, Number(found?.[1] ?? 1));
}

/**
 * The content of an open document with cells that hold a value, and are closed at once, opened and closed instead: both
 * mean the same, but the workbook library reads a value only at the end of a cell. Bytes as characters.
 */
export function withOpenCells(content: string): string {
  return content.replace(/<((?:[a-z]+:)?table-cell)\b([^<>]*)\/>/g, (all, tag: string, attributes: string) =>
    /value=/.test(attributes) ? `<${tag}${attributes}></${tag}>` : all,
  );
}
