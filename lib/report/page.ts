import { createHash } from "node:crypto";
import { darkMarks } from "../chart/marks/palette.js";
import { themeConfig } from "../chart/marks/theme.js";
import { fontFaces } from "../chart/render/fonts.js";
import type { ChartSpec } from "../chart/render/spec.js";
import { escapeHtml, jsonText, visible } from "../units/text.js";
import type { Drawing } from "./figures.js";
import { licencesHtml } from "./licences.js";
import { chartScripts, inlineScript } from "./liveCharts.js";
import { pageScript } from "./pageScript.js";
import { pageStyle } from "./pageStyle.js";
import { stillChart } from "./stillChart.js";

/** A page that is being put together: its sections in order, and the charts in it. */
export class Page {
  readonly #charts: Record<string, ChartSpec> = {};
  readonly #sections: string[] = [];
  readonly #nav: string[] = [];

  /** A chart with its caption: a picture, that the page's script makes live. */
  readonly figure = async (
    name: string,
    drawing: Drawing | null | undefined,
    caption: string,
  ): Promise<string> => {
    if (!drawing) return "";
    const { spec, narrow } = drawing;
    this.#charts[name] = spec;
    const label = escapeHtml(visible(spec.description, 2000));
    const svg = await stillChart(spec);
    return `<figure data-chart="${name}" tabindex="0" aria-label="${escapeHtml(visible(caption, 300))}">
<div class="still" role="img" aria-label="${label}">${svg}</div><div class="still small" role="img" aria-label="${label}">${await stillChart(narrow)}</div><div class="live" role="img" aria-label="${label}"></div>
<figcaption>${escapeHtml(visible(caption, 300))}</figcaption></figure>`;
  };

  /** A section with its place in the navigation; nothing when it is empty. */
  section(id: string, title: string, inside: string): void {
    if (inside === "") return;
    this.#nav.push(`<a href="#${id}">${title}</a>`);
    this.#sections.push(`<section aria-labelledby="${id}"><h2 id="${id}">${title}</h2>\n${inside}</section>`);
  }

  /**
   * The whole page: no network, opens from disk, its own font and charts inside, scripts and styles allowed by their
   * hashes alone.
   *
   * @param title - of the browser's tab, plain text
   * @param head - HTML before the sections: heading with the id `answer`, summary, caution
   * @param subject - plain text of the bar
   */
  html(title: string, head: string, subject: string): string {
    const scripts = [...chartScripts(), inlineScript(pageScript)];
    const faces = fontFaces();
    const style = `${faces}\n${pageStyle}`;
    const inside = [
      ...(scripts.length > 1 ? ["vega", "vega-lite", "vega-embed"] : []),
      ...(faces === "" ? [] : ["@fontsource/source-sans-3"]),
    ];
    const policy = [
      "default-src 'none'",
      `script-src ${scripts.map(hash).join(" ")}`,
      `style-src ${hash(style)}`,
      "font-src data:",
      "img-src data:",
      "base-uri 'none'",
      "form-action 'none'",
    ].join("; ");
    const bare = Object.fromEntries(
      Object.entries(this.#charts).map(([name, { config: _, ...spec }]) => [name, spec]),
    );
    return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<title>${escapeHtml(visible(title))}</title>
<style>${style}</style>
</head>
<body>
<a class="skip" href="#answer">To the answer</a>
<header class="bar"><strong>${escapeHtml(visible(subject))}</strong><nav aria-label="Sections">${this.#nav.join("")}</nav><button id="theme" type="button" hidden>Theme</button></header>
<main>
${head}
${this.#sections.join("\n")}
${licencesHtml(inside)}
</main>
<script type="application/json" id="chart-specs">${jsonInside(bare)}</script>
<script type="application/json" id="chart-themes">${jsonInside({ light: themeConfig("light"), dark: themeConfig("dark"), marks: darkMarks })}</script>
${scripts.map((script) => `<script>${script}</script>`).join("\n")}
</body>
</html>
`;
  }
}

function hash(text: string): string {
  return `'sha256-${createHash("sha256").update(text, "utf8").digest("base64")}'`;
}

/** JSON that cannot end its element. */
function jsonInside(value: unknown): string {
  return jsonText(value, 0).replace(/</g, "\\u003c");
}
