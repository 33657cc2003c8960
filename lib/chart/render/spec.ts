import { repainted } from "../marks/palette.js";
import { fontFamily, type ThemeName, themeConfig } from "../marks/theme.js";
import { type Showing, showsItself } from "./showsItself.js";

/**
 * A chart: a Vega-Lite specification (https://vega.github.io/vega-lite/) as plain data. `description` is its text for
 * those who cannot see it, and every builder writes one that says what is to be seen.
 */
export interface ChartSpec {
  readonly $schema: string;
  readonly title?: unknown;
  readonly description: string;
  readonly config: Readonly<Record<string, unknown>>;
  readonly [key: string]: unknown;
}

/** A chart as the builders make it: it shows itself in a notebook and can be saved. Neither is part of its data. */
export interface Chart extends ChartSpec {
  /**
   * Writes the chart as a picture (`.png`, `.svg`), as a page with the live chart in it that needs no network
   * (`.html`), or as its specification (`.json`).
   *
   * @returns The path.
   * @throws Error for another ending, and where what draws is not installed.
   */
  save(path: string): Promise<string>;
}

/** How a chart is shown at once and saved; set by what draws, which needs this file. */
let outputNow: (spec: ChartSpec) => Showing = (spec) => ({ data: { "text/plain": spec.description } });
let saveTo: (spec: ChartSpec, path: string) => Promise<string> = () =>
  Promise.reject(new Error("a chart is saved by the package as a whole: import from shaftwise"));

/** Says how charts show and save themselves. */
export function chartsShowBy(output: typeof outputNow, save: typeof saveTo): void {
  outputNow = output;
  saveTo = save;
}

function chartThatShows(spec: ChartSpec): Chart {
  const shown = showsItself(spec, () => outputNow(spec));
  return Object.defineProperty(shown, "save", {
    enumerable: false,
    value: (path: string) => saveTo(shown, path),
  }) as Chart;
}

/** Choices every chart builder takes. */
export interface ChartOptions {
  /** Title, instead of the builder's own; null for none. */
  readonly title?: string | null;
  /** Line below the title, instead of the builder's own. */
  readonly subtitle?: string | null;
  /** Width of the drawing area, pixels. */
  readonly width?: number;
  /** Height of the drawing area (of each panel), pixels. */
  readonly height?: number;
  readonly theme?: ThemeName;
}

/** Heading of a chart: what a builder would say, overridden by what the caller says. */
export interface Heading {
  readonly title: string;
  readonly subtitle?: string | readonly string[];
  readonly description: string;
}

/** Puts schema, title, text and theme around the body of a specification. */
export function chart(body: Record<string, unknown>, heading: Heading, options: ChartOptions = {}): Chart {
  const title = options.title === undefined ? heading.title : options.title;
  const subtitle = options.subtitle === undefined ? heading.subtitle : options.subtitle;
  return chartThatShows({
    $schema: "https://vega.github.io/schema/vega-lite/v6.json",
    ...(title === null
      ? {}
      : { title: { text: title, ...(subtitle === null || subtitle === undefined ? {} : { subtitle }) } }),
    description: heading.description,
    ...(options.theme === "dark" ? repainted(body, true) : body),
    config: themeConfig(options.theme),
  });
}

/**
 * The same chart in another theme.
 *
 * @example
 * const dark = withTheme(recordingChart(recording), "dark");
 */
export function withTheme(spec: ChartSpec, theme: ThemeName): Chart {
  return chartThatShows({ ...repainted({ ...spec }, theme === "dark"), config: themeConfig(theme) });
}

/**
 * Puts finished charts below each other, or beside each other with `across`, as one chart with one title.
 *
 * @example
 * stack([recordingChart(recording), recordingChart(recordings[1])], { title: "Two orders of one motor" });
 */
export function stack(
  charts: readonly ChartSpec[],
  options: ChartOptions & { readonly across?: boolean } = {},
): Chart {
  const parts = charts.map(({ $schema: _s, config: _c, params: _p, datasets: _d, ...part }) => part);
  // What the pointer selects, and the data it reads, are stated once for the whole picture.
  const params = charts.flatMap((part) => (part.params as object[] | undefined) ?? []);
  const datasets = Object.assign({}, ...charts.map((part) => part.datasets ?? {}));
  return chart(
    {
      ...(params.length > 0 ? { params, datasets } : {}),
      [options.across ? "hconcat" : "vconcat"]: parts,
      spacing: 24,
      resolve: { scale: { color: "independent" } },
    },
    {
      title: options.title ?? "",
      description: charts.map((part) => part.description).join(" "),
    },
    { ...options, title: options.title ?? null },
  );
}

export { fontFamily };
