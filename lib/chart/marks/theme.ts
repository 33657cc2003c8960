import type { verdictColor } from "./palette.js";

/** Where a chart is shown. `print` is `light` on paper white, with heavier lines. */
export type ThemeName = "light" | "dark" | "print";

/** The typeface of every chart and page (SIL Open Font License), with what to use where it is missing. */
export const fontFamily =
  "'Source Sans 3', 'Source Sans Pro', system-ui, 'Segoe UI', 'Noto Sans', sans-serif";

/** Colours of page and ink. */
export const themeColors = {
  light: {
    background: "#ffffff",
    ink: "#1c2024",
    quiet: "#565d66",
    grid: "#e4e7ea",
    rule: "#8a9099",
    band: "#eef1f4",
  },
  dark: {
    background: "#15191e",
    ink: "#e8eaed",
    quiet: "#a9b1bb",
    grid: "#2c333b",
    rule: "#7e8893",
    band: "#20262d",
  },
  print: {
    background: "#ffffff",
    ink: "#000000",
    quiet: "#333333",
    grid: "#dddddd",
    rule: "#777777",
    band: "#eeeeee",
  },
} as const satisfies Record<ThemeName, Record<string, string>>;

/** Inks of words that are a verdict, or a side of stability, for text on the background of each theme (WCAG 2.2: 4.5
 * to 1). */
export const verdictInk = {
  light: inks("#007a55", "#a81d67", "#b84300", "#5f56ad", "#5c6066"),
  dark: inks("#35c495", "#f27db8", "#ff8f52", "#aba4f4", "#a6aab0"),
  print: inks("#006b4a", "#96185b", "#a33b00", "#534a9e", "#4f5358"),
} as const satisfies Record<ThemeName, Record<keyof typeof verdictColor, string>>;

function inks(tracking: string, reversed: string, runaway: string, blocked: string, undetermined: string) {
  return { tracking, reversed, runaway, blocked, undetermined };
}

/** The style of a text mark that says a verdict: bold, in the verdict's ink of whatever theme the chart is shown in. */
export function verdictStyle(verdict: keyof typeof verdictColor): readonly string[] {
  return ["strong", `verdict-${verdict}`];
}

/**
 * The Vega-Lite `config` of a theme. Charts draw everything that is not data through the named styles given here, so
 * that changing the theme of a chart is replacing its `config`.
 *
 * @example
 * const { background } = themeConfig("dark");
 */
export function themeConfig(theme: ThemeName = "light"): Record<string, unknown> {
  const color = themeColors[theme];
  const width = theme === "print" ? 1.6 : 1.5;
  return {
    background: color.background,
    // A chart is one picture with one description; naming each of its thousand marks would drown it.
    aria: false,
    font: fontFamily,
    padding: { left: 8, right: 14, top: 8, bottom: 8 },
    view: { stroke: null },
    axis: {
      domainColor: color.rule,
      tickColor: color.rule,
      gridColor: color.grid,
      labelColor: color.quiet,
      titleColor: color.ink,
      labelFontSize: 12,
      titleFontSize: 12.5,
      titleFontWeight: 400,
      titlePadding: 8,
      tickSize: 4,
      labelPadding: 4,
      labelOverlap: "greedy",
    },
    axisX: { grid: false },
    title: {
      color: color.ink,
      subtitleColor: color.quiet,
      fontSize: 16,
      fontWeight: 600,
      subtitleFontSize: 13,
      subtitleFontWeight: 400,
      subtitleLineHeight: 17,
      anchor: "start",
      frame: "group",
      offset: 12,
      subtitlePadding: 5,
    },
    legend: {
      labelColor: color.ink,
      titleColor: color.quiet,
      labelFontSize: 12.5,
      titleFontSize: 12.5,
      titleFontWeight: 400,
      orient: "top",
      direction: "horizontal",
      title: null,
      symbolSize: 90,
      symbolStrokeWidth: 2,
      symbolOpacity: 1,
      labelLimit: 320,
      columnPadding: 16,
      offset: 6,
    },
    header: {
      labelColor: color.ink,
      titleColor: color.ink,
      labelFontSize: 13,
      labelFontWeight: 600,
      labelAnchor: "start",
      title: null,
      labelPadding: 6,
    },
    line: { strokeWidth: width, strokeJoin: "round" },
    point: { size: 60, filled: true },
    text: { color: color.ink, fontSize: 12.5 },
    rule: { color: color.rule },
    style: {
      // `cell` is the frame of every plot.
      cell: { stroke: null },
      ink: { color: color.ink },
      command: { color: color.quiet, strokeWidth: 1.3, strokeDash: [5, 3] },
      limit: { color: color.quiet, strokeWidth: 1, strokeDash: [2, 3] },
      zero: { color: color.rule, strokeWidth: 1 },
      band: { color: color.band },
      strip: { stroke: color.grid, fill: color.band },
      note: { color: color.quiet, fontSize: 12 },
      label: { color: color.ink, fontSize: 12.5 },
      strong: { color: color.ink, fontSize: 12.5, fontWeight: 600 },
      ...Object.fromEntries(
        Object.entries(verdictInk[theme]).map(([verdict, ink]) => [`verdict-${verdict}`, { color: ink }]),
      ),
    },
  };
}
