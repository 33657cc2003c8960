import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { escapeHtml } from "../../units/text.js";
import { fontFamily, themeColors, verdictInk } from "../marks/theme.js";
import { type ExplorerMachine, type ExplorerSettings, explore } from "./model.js";
import { panels } from "./pictures.js";

/** How the explorer starts. */
export interface ExplorerOptions {
  readonly settings?: Partial<ExplorerSettings>;
}

/** Settings at the start: an order moved on by one terminal, not aligned again. */
const first: ExplorerSettings = { offset: 120, kp: 0.03, ki: 0.3, reference: 120 };

/**
 * The pictures of a speed loop at an offset error, with sliders for offset error, kp, ki and reference: a piece of HTML
 * that carries its script and its style, needs no network, and shows still pictures of the first settings where scripts
 * do not run.
 *
 * @throws Error when the browser script was not built (`npm run build`).
 * @example
 * const html = explorerHtml({ inertia: 1.4e-4, torqueConstant: 0.093, viscousFriction: 8e-5, coulombFriction: 0.025, currentLimit: 3 });
 */
export function explorerHtml(machine: ExplorerMachine, options: ExplorerOptions = {}): string {
  const settings = { ...first, ...options.settings };
  const still = panels(machine, settings, explore(machine, settings))
    .map(({ title, svg, says }) => `<figure><h3>${title}</h3>${svg}<figcaption>${says}</figcaption></figure>`)
    .join("");
  return `<div class="explorer" data-machine="${escapeHtml(JSON.stringify(machine))}"><style>${style()}</style>
<svg width="0" height="0" aria-hidden="true"><defs><marker id="tip" viewBox="0 0 8 8" refX="6" refY="4" markerWidth="5" markerHeight="5" orient="auto"><path d="M0 0L8 4L0 8z" fill="context-stroke"/></marker></defs></svg>
<div class="sliders">${sliders(settings)}</div>
<p class="verdict" aria-live="polite"></p>
<div class="panels">${still}</div>
<script>${script()}</script></div>`;
}

/**
 * The explorer as a page of its own.
 *
 * @throws Error when the browser script was not built (`npm run build`).
 * @example
 * await writeFile(`${folder}/explorer.html`, explorerPage({ inertia: 1.4e-4, torqueConstant: 0.093, viscousFriction: 8e-5, coulombFriction: 0.025, currentLimit: 3 }));
 */
export function explorerPage(machine: ExplorerMachine, options: ExplorerOptions = {}): string {
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width,initial-scale=1">
<title>Passes torque, fails speed</title></head><body class="explorer-page">
<h1>Why an order that passes torque can still fail speed control</h1>
<p>Turn the offset error past 90°: under torque control the shaft still spins and still reverses. The speed loop runs away.</p>
<p><strong>Caution.</strong> A runaway spins a shaft to the speed that the supply allows. On a real bench: shaft unloaded and guarded, current limited,
an independent means of removing power at hand, qualified people, local rules and codes. This page is a model, never a clearance to run.</p>
${explorerHtml(machine, options)}
</body></html>
`;
}

function sliders({ offset, kp, ki, reference }: ExplorerSettings): string {
  const slider = (name: string, label: string, value: number, min: number, max: number, step: number) =>
    `<label>${label} <output for="${name}"></output><input type="range" name="${name}" min="${min}" max="${max}" step="${step}" value="${value}"></label>`;
  return [
    slider("offset", "Offset error ε", offset, -180, 180, 1),
    slider("kp", "Gain kp", Number(Math.log10(kp).toFixed(2)), -3, 0, 0.01),
    slider("ki", "Gain ki", Number(Math.log10(ki).toFixed(2)), -2, 1.5, 0.01),
    slider("reference", "Speed asked for", reference, -200, 200, 5),
  ].join("");
}

/** The browser script, as the build made it. */
function script(): string {
  for (const place of ["../../explorer.js", "../../../dist/explorer.js"])
    try {
      return readFileSync(fileURLToPath(new URL(place, import.meta.url)), "utf8").replace(
        /<\/script/gi,
        "<\\/script",
      );
    } catch {
      // The next place: a source tree keeps the built script in dist.
    }
  throw new Error("explorer: the browser script dist/explorer.js is missing; run npm run build");
}

function style(): string {
  const colours = (theme: "light" | "dark") => {
    const { background, ink, quiet, grid, rule } = themeColors[theme];
    const { tracking, runaway } = verdictInk[theme];
    return `--bg:${background};--ink:${ink};--quiet:${quiet};--grid:${grid};--rule:${rule};--good:${tracking};--bad:${runaway};--current:${theme === "light" ? "#0072b2" : "#5ab4e6"}`;
  };
  return `.explorer{${colours("light")};font:16px/1.45 ${fontFamily};color:var(--ink);background:var(--bg);padding:12px;border-radius:6px}
@media (prefers-color-scheme:dark){.explorer{${colours("dark")}}.explorer-page{background:${themeColors.dark.background};color:${themeColors.dark.ink}}}
.explorer-page{font:17px/1.5 ${fontFamily};max-width:1240px;margin:0 auto;padding:18px}.explorer-page h1{font-size:26px;line-height:1.25}
.explorer .sliders{display:grid;grid-template-columns:repeat(auto-fit,minmax(220px,1fr));gap:6px 24px}
.explorer label{display:block}.explorer output{float:right;font-variant-numeric:tabular-nums;font-weight:600}
.explorer input{width:100%;accent-color:var(--current)}
.explorer .verdict{font-weight:600;min-height:1.5em;margin:10px 0}
.explorer .panels{display:grid;grid-template-columns:repeat(auto-fit,minmax(300px,1fr));gap:14px 22px}
.explorer figure{margin:0}.explorer h3{font-size:16px;margin:0 0 2px}.explorer figcaption{font-size:14px;color:var(--quiet);min-height:3em}
.explorer svg{display:block;width:100%;height:auto;overflow:hidden}
.explorer svg text{font-size:12.5px;fill:var(--ink)}.explorer svg text.tick{fill:var(--quiet);font-size:11.5px}.explorer svg text.word{font-weight:600}
.explorer svg text.good{fill:var(--good)}.explorer svg text.bad{fill:var(--bad)}
.explorer svg path{fill:none;stroke-width:2}.explorer svg marker path{fill:context-stroke;stroke:none}.explorer .grid{stroke:var(--grid);stroke-width:1}.explorer .zero{stroke:var(--rule);stroke-width:1}
.explorer path.good{stroke:var(--good)}.explorer path.bad{stroke:var(--bad)}.explorer path.none{stroke:var(--quiet)}.explorer path.quiet{stroke:var(--quiet);stroke-width:1.4}
.explorer path.current{stroke:var(--current)}.explorer path.word{stroke:var(--ink)}.explorer .thick{stroke-width:3}.explorer .mark{stroke-width:3.4}.explorer .dash{stroke-dasharray:5 4}
.explorer circle.good,.explorer rect.good{fill:var(--good)}.explorer circle.bad,.explorer rect.bad{fill:var(--bad)}.explorer rect.none{fill:var(--quiet)}
.explorer .trail{opacity:.35}.explorer circle.hollow{fill:var(--bg);stroke:var(--bad);stroke-width:2}.explorer rect.current{fill:var(--current)}
.explorer .ring{fill:none;stroke:var(--rule)}.explorer .rotor{fill:var(--grid);stroke:var(--quiet)}.explorer .unstable{fill:var(--bad);opacity:.09}`;
}
