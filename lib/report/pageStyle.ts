import { darkMarks, verdictColor } from "../chart/marks/palette.js";
import { fontFamily, themeColors, verdictInk } from "../chart/marks/theme.js";
import { colorNames, markName } from "./stillChart.js";

function colors(theme: "light" | "dark"): string {
  const color = themeColors[theme];
  const tones = Object.entries(verdictInk[theme]).map(([name, value]) => `--${name}:${value}`);
  const inks = Object.entries(colorNames).map(
    ([key, name]) => `--${name}:${color[key as keyof typeof color]}`,
  );
  const marks = Object.entries(darkMarks).map(
    ([light, dark]) => `--${markName(light)}:${theme === "dark" ? dark : light}`,
  );
  return `color-scheme:${theme};${inks.join(";")};--link:${theme === "dark" ? "#7cc4f0" : "#005a8e"};${tones.join(";")};${marks.join(";")}`;
}

/** The style sheet of a report, without the font. */
export const pageStyle = `
:root{${colors("light")}}
@media (prefers-color-scheme:dark){:root{${colors("dark")}}}
:root[data-theme=light]{${colors("light")}}
:root[data-theme=dark]{${colors("dark")}}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;scroll-behavior:smooth}
@media (prefers-reduced-motion:reduce){html{scroll-behavior:auto}}
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.5 ${fontFamily}}
.skip{position:absolute;left:-999px}.skip:focus{left:8px;top:8px;background:var(--paper);padding:8px;z-index:9}
.bar{display:flex;gap:4px 20px;align-items:center;flex-wrap:wrap;padding:10px 24px;border-bottom:1px solid var(--line);font-size:14px}
.bar strong{font-weight:600}.bar nav{display:flex;gap:4px 16px;flex-wrap:wrap;flex:1}
a{color:var(--link)}
button{font:inherit;color:var(--ink);background:var(--band);border:1px solid var(--quiet);border-radius:4px;padding:3px 10px;cursor:pointer}
:focus-visible{outline:3px solid var(--link);outline-offset:2px}
main{max-width:1128px;margin:0 auto;padding:8px 24px 40px}
h1{font-size:32px;line-height:1.2;font-weight:600;margin:28px 0 6px;max-width:24em}
h2{font-size:22px;font-weight:600;margin:26px 0 8px;padding-top:12px;border-top:1px solid var(--line)}
h3{font-size:18.5px;font-weight:600;margin:34px 0 6px}
h4{font-size:16px;font-weight:600;margin:22px 0 4px}
p{margin:6px 0;max-width:44em}.quiet{color:var(--quiet)}
ol.do{padding-left:26px;max-width:58em}ol.do li{margin:7px 0;padding-left:4px}ol.do li:first-child{font-weight:600}
.caution{border:1px solid var(--runaway);border-left-width:6px;border-radius:4px;padding:8px 14px;margin:18px 0;max-width:50em}
.caution strong{color:var(--runaway)}
.scroll{overflow-x:auto;margin:10px 0}
table{border-collapse:collapse;font-size:15px;line-height:1.4}
caption{text-align:left;color:var(--quiet);padding:2px 0 6px}
th{font-weight:600;text-align:left;vertical-align:bottom}
th,td{padding:6px 18px 6px 0;border-bottom:1px solid var(--line);vertical-align:top}
th.number,td.number{text-align:right;white-space:nowrap;font-variant-numeric:tabular-nums}
td.why{min-width:20em;max-width:46em}.dense{font-size:13.5px}.dense th{white-space:normal;vertical-align:bottom}.dense th,.dense td{padding:4px 12px 4px 0}.dense td{white-space:nowrap}
.beside{font-size:14px}.beside th,.beside td{padding:4px 14px 4px 0}.beside .quiet{font-size:12.5px}
.order{font-weight:600;font-size:17px}
.say{font-weight:600;white-space:nowrap}
${Object.keys(verdictColor)
  .map((name) => `.${name}{color:var(--${name})}`)
  .join("")}
.trial{border-left:4px solid var(--line);padding:1px 0 1px 16px;margin:18px 0}
.trial.tracking,.trial.reversed,.trial.runaway,.trial.blocked,.trial.undetermined{color:inherit}
${Object.keys(verdictColor)
  .map((name) => `.trial.${name}{border-color:var(--${name})}`)
  .join("")}
.trial h3{margin-top:2px;font-size:16px}.recording>h3{font-size:16px}
.cover{display:flex;flex-wrap:wrap;gap:2px 28px;margin:14px 0 0;color:var(--quiet);font-size:15px}.cover div{display:flex;gap:7px}.cover dd{margin:0;color:var(--ink)}
.wirings{display:grid;grid-template-columns:repeat(auto-fit,minmax(270px,1fr));gap:8px 18px;margin-top:14px}.wirings figure{margin:0}.wirings figure p{margin:2px 0 0}.wirings+p{max-width:none}.wirings figcaption{font-weight:600;color:var(--ink)}
.on-dark{display:none}@media (prefers-color-scheme:dark){:root:not([data-theme=light]) .on-dark{display:block}:root:not([data-theme=light]) .on-light{display:none}}
:root[data-theme=dark] .on-dark{display:block}:root[data-theme=dark] .on-light{display:none}
.recording{border-bottom:1px solid var(--line);margin:0;padding:5px 0}.recording>summary{width:auto;color:var(--ink);font-size:16px}.recording .name{display:inline-block;min-width:25em;font-weight:600}.recording>summary .say{margin-right:14px}
.licences pre{white-space:pre-wrap;overflow-wrap:anywhere;font-size:12px}details{margin:8px 0}summary{cursor:pointer;color:var(--link);font-size:15px;width:fit-content}
ul{padding-left:22px;max-width:48em}li{margin:3px 0}
figure{margin:16px 0;overflow-x:auto}
figure svg{display:block;max-width:100%;height:auto}
figcaption{color:var(--quiet);font-size:14px;margin-top:4px;max-width:48em}
.still{background:var(--paper);border-radius:4px;width:fit-content;max-width:100%}
.live{display:none}.is-live .live{display:block}.is-live .still{display:none}
.tip{position:fixed;z-index:8;background:var(--paper);color:var(--ink);border:1px solid var(--quiet);border-radius:4px;padding:4px 8px;pointer-events:none;box-shadow:0 2px 10px rgba(0,0,0,.18)}
.tip[hidden]{display:none}.tip table{font-size:13px}.tip td{border:0;padding:1px 10px 1px 0}.tip td+td{text-align:right;padding-right:0;font-variant-numeric:tabular-nums}
.still.small{display:none}
@media (max-width:640px){main{padding:4px 16px 48px}.bar{padding:8px 16px}.bar strong{flex:1}.bar nav{order:3;flex-basis:100%;font-size:13px;gap:2px 12px}h1{font-size:26px}
.still,.is-live .still,.live,.is-live .live{display:none}.still.small,.is-live .still.small{display:block}
.scroll table,.scroll tbody,.scroll tr,.scroll td{display:block}.scroll thead{display:none}.scroll tr{border-bottom:1px solid var(--line);padding:6px 0}
.scroll td,.scroll td.number{border:0;padding:1px 0;text-align:left;white-space:normal}.scroll td::before{content:attr(data-title) ": ";color:var(--quiet)}.scroll td.why{min-width:0}.scroll td:empty,.beside td:first-child::before{display:none}.beside td:first-child{font-weight:600}
.recording .name{min-width:0;display:inline}}
@media print{
:root,:root[data-theme]{${colors("light")}}
@page{margin:12mm}
body{font-size:9.5pt}main{max-width:none;padding:0}.bar nav,button,.skip,.tip,.evidence,.licences{display:none}summary{break-after:avoid}summary{list-style:none;color:inherit}.on-dark,:root[data-theme] .on-dark{display:none!important}.on-light,:root[data-theme] .on-light{display:block!important}.bar{padding:0 0 6px}
h1{font-size:21pt;margin-top:10px}h2{font-size:15pt;margin:22px 0 6px;break-after:avoid}h3,h4{break-after:avoid}
.live,.is-live .live{display:none!important}.still,.is-live .still{display:block;max-width:100%}figure svg{max-width:132mm}.still.small,.is-live .still.small{display:none}.wirings{grid-template-columns:repeat(3,1fr)}.wirings svg{max-width:100%}
.recording.alike>:not(summary){display:none}.recording figure svg{max-width:90mm}.recording .name{min-width:0}.recording li.note{display:none}#constants~details,#made~details{display:none}.beside{font-size:8.4pt}th,td{padding:3px 14px 3px 0}.trial{margin:8px 0}figure{margin:8px 0}li,p{margin:2px 0}
figure,.trial,tr,.caution,ol.do li{break-inside:avoid}table{font-size:8.8pt}.scroll{overflow:visible}td.why{min-width:0}a{color:inherit;text-decoration:none}
}
`;
