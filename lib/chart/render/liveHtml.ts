import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { gzipSync } from "node:zlib";
import { escapeHtml } from "../../units/text.js";
import type { ChartSpec } from "./spec.js";

/** A picture to show where scripts do not run. */
export interface StillPicture {
  /** PNG, base64. */
  readonly data: string;
  readonly width: string;
  readonly height: string;
}

/** Charts shown so far by this process, and the one that carried what draws. */
const shown = { count: 0, carrier: "" };

/**
 * A chart as a piece of HTML that needs no network: the picture with its description, and a script that puts the live chart in its place. What draws
 * (vega, vega-lite, vega-embed) goes with the first chart of a notebook, packed, and again when that chart is shown again.
 *
 * @returns Undefined where the packages that draw are not installed.
 */
export function liveHtml(spec: ChartSpec, picture: StillPicture | undefined): string | undefined {
  const mark = createHash("sha256").update(JSON.stringify(spec)).digest("hex").slice(0, 10);
  if (shown.carrier === "") shown.carrier = mark;
  return livePiece(spec, picture, `chart-${mark}-${shown.count++}`, shown.carrier === mark);
}

/** The piece itself, under an id that the page has once, with or without what draws. */
export function livePiece(
  spec: ChartSpec,
  picture: StillPicture | undefined,
  id: string,
  carries: boolean,
): string | undefined {
  const library = packedLibrary();
  if (library === undefined) return undefined;
  const packed = pack(JSON.stringify(spec));
  const size = picture ? ` width="${picture.width}" height="${picture.height}"` : "";
  const image = picture
    ? `<img alt="${escapeHtml(spec.description)}"${size} style="max-width:100%;height:auto" src="data:image/png;base64,${picture.data}">`
    : `<p>${escapeHtml(spec.description)}</p>`;
  const carried = carries ? `(${start})("${library}");` : "";
  return `<div id="${id}"><div class="still">${image}</div><div class="live"></div></div>
<script>(window.shaftwiseCharts=window.shaftwiseCharts||[]).push(["${id}","${packed}"]);${carried}</script>`;
}

/**
 * Runs in the reader's browser: unpacks what draws, hands it the charts that wait, and draws those that come later at once. The libraries are kept
 * from the page's own loader (Notebook's defines `define`) and from the page's own copies of them.
 */
const start = `function(library){
var page=window;if(page.shaftwiseCharts.ready)return;
var waiting=page.shaftwiseCharts;page.shaftwiseCharts={ready:true,push:function(one){waiting.push(one)}};
var unpack=function(text){var bytes=Uint8Array.from(atob(text),function(c){return c.charCodeAt(0)});
return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"))).text()};
var draw=function(one){unpack(one[1]).then(function(text){var place=document.getElementById(one[0]);if(!place)return;
return ours(place.querySelector(".live"),JSON.parse(text),{mode:"vega-lite",ast:true,actions:false,renderer:"svg"})
.then(function(){place.querySelector(".still").style.display="none"})}).catch(function(error){console.warn("chart stays a picture:",error)})};
var ours;unpack(library).then(function(code){var names=["vega","vegaLite","vegaEmbed"],before=names.map(function(name){return page[name]});
var script=document.createElement("script");script.textContent="(function(define,module,exports){"+code+"\\n}).call(window)";document.head.appendChild(script);
ours=page.vegaEmbed;names.forEach(function(name,i){page[name]=before[i]});
page.shaftwiseCharts.push=draw;waiting.forEach(draw)}).catch(function(error){console.warn("charts stay pictures:",error)})}`;

let library: string | undefined | null;

/** The scripts that draw, packed; read once. */
function packedLibrary(): string | undefined {
  if (library === undefined) {
    try {
      library = pack(
        drawingScripts()
          .map((text) => `${text}\n`)
          .join(";"),
      );
    } catch {
      library = null;
    }
  }
  return library ?? undefined;
}

/** Texts of the scripts that draw live charts, in the order in which a page needs them. Throws where a package was left out. */
function drawingScripts(): readonly string[] {
  const require = createRequire(import.meta.url);
  const files = [
    ["vega", "build/vega.min.js"],
    ["vega-lite", "build/vega-lite.min.js"],
    ["vega-embed", "build/vega-embed.min.js"],
  ] as const;
  return files.map(([name, file]) => {
    let folder = dirname(require.resolve(name));
    while (!folder.endsWith(join("node_modules", name)) && dirname(folder) !== folder)
      folder = dirname(folder);
    return readFileSync(join(folder, file), "utf8").replace(/\n?\/\/# sourceMappingURL=\S+\s*$/, "");
  });
}

function pack(text: string): string {
  return gzipSync(text, { level: 9 }).toString("base64");
}
