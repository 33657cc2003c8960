import { darkMarks } from "../chart/marks/palette.js";
import { themeColors, verdictInk } from "../chart/marks/theme.js";
import { chartSvg } from "../chart/render/render.js";
import type { ChartSpec } from "../chart/render/spec.js";

/** Names of the page's style sheet for the colours of a theme. */
export const colorNames = {
  background: "paper",
  ink: "ink",
  quiet: "quiet",
  grid: "line",
  rule: "rule",
  band: "band",
} as const satisfies Record<keyof typeof themeColors.light, string>;

/** Name in the page's style sheet of the colour of a mark. */
export function markName(color: string): string {
  return `mark-${color.slice(1)}`;
}

/** Every colour of the light theme with its name in the page. */
const named = new Map<string, string>([
  ...Object.entries(colorNames).map(
    ([key, name]) => [themeColors.light[key as keyof typeof colorNames], name] as const,
  ),
  ...Object.keys(darkMarks).map((color) => [color, markName(color)] as const),
  ...Object.entries(verdictInk.light).map(([name, ink]) => [ink, name] as const),
]);

/** A chart as a still picture whose paper, inks and rules follow the theme of the page that it stands in, without a
 * script. */
export async function stillChart(spec: ChartSpec): Promise<string> {
  const svg = await chartSvg(spec, { theme: "light" });
  return svg.replace(/"(#[0-9a-f]{6}|#[0-9a-f]{3}|white)"/gi, (whole, color: string) => {
    const full = color === "white" || color.toLowerCase() === "#fff" ? "#ffffff" : color.toLowerCase();
    const name = named.get(full);
    return name === undefined ? whole : `"var(--${name})"`;
  });
}
