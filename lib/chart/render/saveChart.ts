import { randomBytes } from "node:crypto";
import { lstat, rename, rm, writeFile } from "node:fs/promises";
import { dirname, extname, join } from "node:path";
import { draftPrefix } from "../../recording/outputFolder.js";
import { escapeHtml, visible } from "../../units/text.js";
import { livePiece } from "./liveHtml.js";
import { chartSvg, svgPng } from "./render.js";
import type { ChartSpec } from "./spec.js";
import { zoomable } from "./zoomable.js";

/**
 * Writes a chart to a file, by the ending of its name. A draft is written beside it and moved into its place, so that
 * what stood there is whole until the new one is; a link is not written through.
 *
 * @throws Error for an ending that is none of .png, .svg, .html, .json, for a link, and where what draws is not
 *   installed.
 * @example
 * await saveChart(recordingChart(recording), `${folder}/trace.svg`);
 */
export async function saveChart(spec: ChartSpec, path: string): Promise<string> {
  const ending = extname(path).toLowerCase();
  const write = contentBy[ending];
  if (write === undefined)
    throw new Error(
      `${visible(path)}: a chart is saved as .png, .svg, .html or .json; choose one of these endings`,
    );
  const there = await lstat(path).catch(() => undefined);
  if (there !== undefined && !there.isFile())
    throw new Error(
      `${visible(path)} is ${there.isSymbolicLink() ? "a link, and links are not written through" : "no regular file"}: name another file`,
    );
  const content = await write(spec);
  const draft = join(dirname(path), `${draftPrefix}${randomBytes(6).toString("hex")}${ending}`);
  try {
    await writeFile(draft, content, { flag: "wx" });
    await rename(draft, path);
  } finally {
    await rm(draft, { force: true });
  }
  return path;
}

/** What is written, by the ending. */
const contentBy: Readonly<Record<string, (spec: ChartSpec) => Promise<string | Uint8Array>>> = {
  ".json": async (spec) => `${JSON.stringify(spec, null, 1)}\n`,
  ".svg": chartSvg,
  ".png": async (spec) => svgPng(await chartSvg(spec)),
  ".html": async (spec) => page(spec, await chartSvg(spec)),
};

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
