import { readFileSync } from "node:fs";
import { fontFiles } from "./fonts.js";

interface Font {
  readonly unitsPerEm: number;
  charToGlyph(character: string): { readonly advanceWidth: number };
}

interface Parser {
  readonly parse: (bytes: ArrayBufferLike) => Font;
}

/** Measures text, px, in the font of the charts. Without a browser's canvas the layout of a chart needs it. */
export type TextMeasure = (text: string, size: number, weight: number) => number;

let ready: Promise<TextMeasure> | undefined;

/** Loads the font's widths once; without the font or its reader, an average width of 0.5 em is assumed. */
export function textMeasure(): Promise<TextMeasure> {
  ready ??= load();
  return ready;
}

async function load(): Promise<TextMeasure> {
  const files = fontFiles();
  // The package carries no types: the part of it that is used is stated here.
  const name: string = "opentype.js";
  const loaded = (await import(name).catch(() => null)) as (Parser & { readonly default?: Parser }) | null;
  if (files.length < 2 || loaded === null) return (text, size) => 0.5 * size * text.length;
  const parse = loaded.default?.parse ?? loaded.parse;
  const [regular, strong] = files.map((file): Font => {
    const bytes = readFileSync(file);
    return parse(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length));
  });
  const widths = new Map<string, number>();
  return (text, size, weight) => {
    const font = weight >= 550 ? strong : regular;
    let sum = 0;
    for (const character of text) {
      const key = `${font === strong ? "s" : "r"}${character}`;
      let width = widths.get(key);
      if (width === undefined) {
        width = font.charToGlyph(character).advanceWidth / font.unitsPerEm;
        widths.set(key, width);
      }
      sum += width;
    }
    return sum * size;
  };
}
