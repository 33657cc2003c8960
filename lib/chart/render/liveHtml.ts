import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { gzipSync } from "node:zlib";
import { escapeHtml } from "../../units/text.js";
import type { ChartSpec } from "./spec.js";
import { canZoom, zoomHint } from "./zoomable.js";

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
 * A chart as a piece of HTML that needs no network: the picture with its description, and a script that puts the live
 * chart in its place. What draws (vega, vega-lite, vega-embed) goes with the first chart of a notebook, packed, and
 * again when that chart is shown again.
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
  const hint = canZoom(spec)
    ? `<div class="hint" style="display:none;font:12px sans-serif;opacity:.8">${zoomHint}</div>`
    : "";
  return `<div id="${id}"><div class="still">${image}</div><div class="live"></div>${hint}</div>
<script>(${start})("${id}","${packed}"${carries ? `,"${library}"` : ""})</script>`;
}

/**
 * Runs in the reader's browser: unpacks what draws, hands it the charts that wait, and draws those that come later at
 * once. The libraries are kept from the page's own loader (Notebook's defines `define`) and from the page's own copies
 * of them. What draws is remembered by the browser where that is allowed, so that charts are live too when the output
 * that carried it was cleared. Vega warns of an axis without values, as when all its points are moved out of sight:
 * only its errors are written (`logLevel`).
 */
const start = `function(id,spec,library){
var page=window,all=page.shaftwiseLive=page.shaftwiseLive||{waiting:[]},key="shaftwise-charts",names=["vega","vegaLite","vegaEmbed"];
var script=document.currentScript,before=script&&script.previousElementSibling,one={id:id,spec:spec,place:before&&before.id===id?before:null};
var unpack=function(text){var bytes=Uint8Array.from(atob(text),function(c){return c.charCodeAt(0)});
return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"))).text()};
var draw=function(one){unpack(one.spec).then(function(text){
var places=one.place?[one.place]:[].slice.call(document.querySelectorAll('[id="'+one.id+'"]'));
return Promise.all(places.map(function(place){
return all.embed(place.querySelector(".live"),JSON.parse(text),{mode:"vega-lite",ast:true,actions:false,renderer:"svg",logLevel:1}).then(function(){
var hint=place.querySelector(".hint");place.querySelector(".still").style.display="none";if(hint)hint.style.display=""})}))
}).catch(function(error){console.warn("chart stays a picture:",error)})};
var begin=function(packed){if(all.begun)return;all.begun=true;unpack(packed).then(function(code){
var own=names.map(function(name){return page[name]}),script=document.createElement("script");
script.textContent="(function(define,module,exports){"+code+"\\n}).call(window)";document.head.appendChild(script);
all.embed=page.vegaEmbed;names.forEach(function(name,i){page[name]=own[i]});
all.waiting.splice(0).forEach(draw);try{localStorage.setItem(key,packed)}catch(error){}
}).catch(function(error){all.begun=false;console.warn("charts stay pictures:",error)})};
if(all.embed){draw(one);return}
all.waiting.push(one);
if(library)begin(library);
else setTimeout(function(){if(all.begun)return;var kept;try{kept=localStorage.getItem(key)}catch(error){}if(kept)begin(kept)},1500)}`;

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

/** Texts of the scripts that draw live charts, in the order in which a page needs them. Throws where a package was left
 * out. */
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
