import { writeFile } from "node:fs/promises";
import { extname } from "node:path";
import { escapeHtml, visible } from "../../units/text.js";
import { livePiece } from "./liveHtml.js";
import { chartSvg, svgPng } from "./render.js";
import type { ChartSpec } from "./spec.js";
import { zoomable } from "./zoomable.js";

/**
 * Writes a chart to a file, by the ending of its name.
 *
 * @throws Error for an ending that is none of .png, .svg, .html, .json, and where what draws is not installed.
 */
export async function saveChart(spec: ChartSpec, path: string): Promise<string> {
  const ending = extname(path).toLowerCase();
  if (![".png", ".svg", ".html", ".json"].includes(ending))
    throw new Error(
      `${visible(path)}: a chart is saved as .png, .svg, .html or .json; choose one of these endings`,
    );
  if (ending === ".json") {
    await writeFile(path, `${JSON.stringify(spec, null, 1)}\n`);
    return path;
  }
  const svg = await chartSvg(spec);
  if (ending === ".svg") await writeFile(path, svg);
  else if (ending === ".png") await writeFile(path, await svgPng(svg));
  else await writeFile(path, await page(spec, svg));
  return path;
}

async function page(spec: ChartSpec, svg: string): Promise<string> {
  const [, width = "", height = ""] = /width="(\d+)" height="(\d+)"/.exec(svg) ?? [];
  const data = Buffer.from(await svgPng(svg)).toString("base64");
  const piece = livePiece(zoomable(spec), { data, width, height }, "chart", true);
  if (piece === undefined)
    throw new Error("a live chart needs the packages vega, vega-lite and vega-embed: npm install them");
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>${escapeHtml(spec.description.slice(0, 80))}</title></head><body>
${piece}
</body></html>
`;
}
