import { createHash } from "node:crypto";
import { type ThemeName, themeColors } from "../marks/theme.js";
import { loadDrawing, loadPng } from "./drawingPackages.js";
import { drawnOnce } from "./drawnOnce.js";
import { fontFiles } from "./fonts.js";
import { palettePng } from "./palettePng.js";
import { type ChartSpec, withTheme } from "./spec.js";
import { textMeasure } from "./textWidth.js";

/** Choices of a picture. */
export interface PictureOptions {
  /** Theme, instead of the chart's own. */
  readonly theme?: ThemeName;
  /** Pixels of the PNG per pixel of the chart; 2 when absent. */
  readonly scale?: number;
}

/**
 * Draws a chart as SVG text, without a browser. Text stays text (selectable, searchable) in the charts' own font with
 * fallbacks.
 *
 * @throws Error that says what to install when the drawing packages (optional peers of this one) are not there.
 * @example
 * await writeFile(`${folder}/trace.svg`, await chartSvg(recordingChart(recording)));
 */
export async function chartSvg(spec: ChartSpec, options: PictureOptions = {}): Promise<string> {
  // Loaded when the first picture is drawn: these packages take most of a second.
  return drawSvg(await measuredDrawing(), spec, options);
}

/**
 * The same at once, where the drawing packages have been loaded before (`loadDrawingSoon`); undefined where they are
 * not there yet.
 */
export function chartSvgNow(spec: ChartSpec, options: PictureOptions = {}): string | undefined {
  return loaded && drawSvg(loaded, spec, options);
}

/** Begins to load what draws, so that a chart can later be drawn at once; quiet where the packages are missing. */
export async function loadDrawingSoon(): Promise<void> {
  await measuredDrawing().catch(() => undefined);
  resvg ??= await loadPng().catch(() => undefined);
}

type Drawing = Awaited<ReturnType<typeof loadDrawing>>;

/** Compiles and draws; Vega evaluates a chart without outside data in one go, so that its scene can be written at
 * once. */
function drawSvg([vega, vegaLite]: Drawing, spec: ChartSpec, options: PictureOptions): string {
  const shown = still(options.theme ? withTheme(spec, options.theme) : spec);
  return drawnOnce(JSON.stringify(shown), () => {
    const compiled = vegaLite.compile(shown as never, { logger: quiet });
    const view = new vega.View(vega.parse(compiled.spec), { renderer: "none", logger: quiet as never });
    try {
      view.run();
      return tidy(sceneSvg(vega, view as unknown as Scene));
    } finally {
      view.finalize();
    }
  });
}

/** What of a view is read to write its scene. */
interface Scene {
  padding(): { readonly left: number; readonly right: number; readonly top: number; readonly bottom: number };
  background(): string;
  loader(): unknown;
  scenegraph(): { readonly root: unknown };
  readonly _viewWidth: number;
  readonly _viewHeight: number;
  readonly _origin: readonly [number, number];
}

interface SvgWriter {
  initialize(
    element: null,
    width: number,
    height: number,
    origin: readonly number[],
    scale: number,
  ): SvgWriter;
  background(color: string): SvgWriter;
  render(root: unknown): unknown;
  svg(): string;
}

function sceneSvg(vega: Drawing[0], view: Scene): string {
  const { left, right, top, bottom } = view.padding();
  const Writer = (vega as unknown as { SVGStringRenderer: new (loader: unknown) => SvgWriter })
    .SVGStringRenderer;
  const writer = new Writer(view.loader());
  const origin = [left + view._origin[0], top + view._origin[1]];
  writer
    .initialize(
      null,
      Math.max(0, view._viewWidth + left + right),
      Math.max(0, view._viewHeight + top + bottom),
      origin,
      1,
    )
    .background(view.background());
  writer.render(view.scenegraph().root);
  return writer.svg();
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
  resvg ??= await loadPng();
  return drawPng(resvg, svg, options);
}

/** The same at once, where the package has been loaded before; undefined where it is not there yet. */
export function svgPngNow(svg: string, options: PictureOptions = {}): Uint8Array | undefined {
  return resvg && drawPng(resvg, svg, options);
}

let resvg: Awaited<ReturnType<typeof loadPng>> | undefined;

function drawPng({ Resvg }: NonNullable<typeof resvg>, svg: string, options: PictureOptions): Uint8Array {
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
  return palettePng(image.pixels, image.width, image.height) ?? image.asPng();
}

/** The chart without what only a pointer can reach: layers and views named `hover...`, selections, and what depends on
 * them. */
export function still(value: unknown): unknown {
  if (Array.isArray(value)) {
    return value
      .filter(
        (part) => !(typeof part?.name === "string" && part.name.startsWith("hover") && !("select" in part)),
      )
      .map((part) => (typeof part === "object" ? still(part) : part));
  }
  if (value === null || typeof value !== "object") return value;
  const made: Record<string, unknown> = {};
  for (const [key, part] of Object.entries(value)) {
    if (key === "domainRaw" || (key === "opacity" && typeof part?.condition?.test === "string")) continue;
    if (key === "params" || key === "datasets") continue;
    made[key] = key === "data" || key === "config" ? part : still(part);
  }
  return made;
}

let ready: ReturnType<typeof loadDrawing> | undefined;
let loaded: Drawing | undefined;

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
    loaded = [vega, vegaLite] as const;
    return loaded;
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
 * Makes the text independent of what was drawn before, and harmless beside other pictures on one page: names of clips
 * carry a mark of the picture itself, and the unused link namespace goes.
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
