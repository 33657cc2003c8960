import { createHash } from "node:crypto";
import { type ThemeName, themeColors, themeConfig } from "../marks/theme.js";
import { loadDrawing, loadPng } from "./drawingPackages.js";
import { fontFiles } from "./fonts.js";
import type { ChartSpec } from "./spec.js";
import { textMeasure } from "./textWidth.js";

/** Choices of a picture. */
export interface PictureOptions {
  /** Theme, instead of the chart's own. */
  readonly theme?: ThemeName;
  /** Pixels of the PNG per pixel of the chart; 2 when absent. */
  readonly scale?: number;
}

/**
 * Draws a chart as SVG text, without a browser. Text stays text (selectable, searchable) in the charts' own font with fallbacks.
 *
 * @throws Error that says what to install when the drawing packages (optional peers of this one) are not there.
 * @example
 * await writeFile(`${folder}/trace.svg`, await chartSvg(recordingChart(recording)));
 */
export async function chartSvg(spec: ChartSpec, options: PictureOptions = {}): Promise<string> {
  // Loaded when the first picture is drawn: these packages take most of a second.
  const [vega, vegaLite] = await measuredDrawing();
  const themed = options.theme ? { ...spec, config: themeConfig(options.theme) } : spec;
  const compiled = vegaLite.compile(still(themed) as never, { logger: quiet });
  const view = new vega.View(vega.parse(compiled.spec), { renderer: "none", logger: quiet as never });
  try {
    return tidy(await view.toSVG());
  } finally {
    view.finalize();
  }
}

/**
 * Draws a chart as PNG, without a browser and with a font of its own, so that the picture is the same on every machine.
 *
 * @throws Error that says what to install when the drawing packages (optional peers of this one) are not there.
 * @example
 * await writeFile(`${folder}/trace.png`, await chartPng(recordingChart(recording), { scale: 2 }));
 */
export async function chartPng(spec: ChartSpec, options: PictureOptions = {}): Promise<Uint8Array> {
  return svgPng(await chartSvg(spec, options), options);
}

/** Draws SVG text of ours as PNG. */
export async function svgPng(svg: string, options: PictureOptions = {}): Promise<Uint8Array> {
  const { Resvg } = await loadPng();
  const files = fontFiles();
  const image = new Resvg(svg, {
    fitTo: { mode: "zoom", value: options.scale ?? 2 },
    background: options.theme ? themeColors[options.theme].background : undefined,
    font: {
      fontFiles: [...files],
      loadSystemFonts: files.length === 0,
      defaultFontFamily: "Source Sans 3",
      sansSerifFamily: "Source Sans 3",
    },
  }).render();
  return image.asPng();
}

/** The chart without what only a pointer can reach (layers named `hover...`). */
export function still(value: unknown): unknown {
  if (Array.isArray(value)) {
    return value
      .filter((part) => !(typeof part?.name === "string" && part.name.startsWith("hover") && "mark" in part))
      .map((part) => (typeof part === "object" ? still(part) : part));
  }
  if (value === null || typeof value !== "object") return value;
  const made: Record<string, unknown> = {};
  for (const [key, part] of Object.entries(value))
    made[key] = key === "data" || key === "config" ? part : still(part);
  return made;
}

let ready: ReturnType<typeof loadDrawing> | undefined;

async function measuredDrawing(): ReturnType<typeof loadDrawing> {
  ready ??= (async () => {
    const [[vega, vegaLite], measure] = await Promise.all([loadDrawing(), textMeasure()]);
    // Without a canvas Vega guesses widths at 0.8 em a character, which leaves gaps; its hook takes our font's widths.
    const metrics = (
      vega as unknown as { textMetrics: { width: (item: TextItem, text?: unknown) => number } }
    ).textMetrics;
    metrics.width = (item, text) => {
      const shown = text ?? item.text;
      return shown === null || shown === undefined
        ? 0
        : measure(String(shown), Number(item.fontSize ?? 11), weightOf(item));
    };
    return [vega, vegaLite] as const;
  })();
  return ready;
}

interface TextItem {
  readonly text?: unknown;
  readonly fontSize?: unknown;
  readonly fontWeight?: unknown;
}

function weightOf(item: TextItem): number {
  return item.fontWeight === "bold" ? 700 : Number(item.fontWeight) || 400;
}

/**
 * Makes the text independent of what was drawn before, and harmless beside other pictures on one page: names of clips carry a mark of the
 * picture itself, and the unused link namespace goes.
 */
function tidy(svg: string): string {
  const plain = svg
    .replace(' xmlns:xlink="http://www.w3.org/1999/xlink"', "")
    .replace(
      / (?:role="graphics-\w+"|aria-roledescription="[^"]*"|aria-label="[^"]*"|aria-hidden="true")/g,
      "",
    );
  const places = new Map<string, number>();
  const numbered = plain.replace(/\b(clip|gradient_)(\d+)\b/g, (name) => {
    const place = places.get(name) ?? places.size;
    places.set(name, place);
    return `part@${place}`;
  });
  const mark = createHash("sha256").update(numbered).digest("hex").slice(0, 8);
  return numbered.replace(/part@(\d+)/g, (_, place) => `p${mark}-${place}`);
}

/** Warnings of the compiler are for the authors of charts: the tests listen to them, users do not. */
const quiet = {
  level: () => quiet,
  error: (...args: unknown[]) => {
    throw new Error(args.map(String).join(" "));
  },
  warn: () => quiet,
  info: () => quiet,
  debug: () => quiet,
};
