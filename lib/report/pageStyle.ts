import { verdictColor } from "../chart/marks/palette.js";
import { fontFamily, themeColors } from "../chart/marks/theme.js";

/** Verdict colours as text need more contrast than as graphics. */
const textTone = {
  light: { tracking: "#00694a", runaway: "#a83c00", blocked: "#4f46a0", undetermined: "#565d66" },
  dark: { tracking: "#3fc79a", runaway: "#ff9a62", blocked: "#a9a2ee", undetermined: "#a9b1bb" },
} as const;

function colors(theme: "light" | "dark"): string {
  const color = themeColors[theme];
  const tones = Object.entries(textTone[theme]).map(([name, value]) => `--${name}:${value}`);
  return `color-scheme:${theme};--paper:${color.background};--ink:${color.ink};--quiet:${color.quiet};--line:${color.grid};--band:${color.band};--link:${theme === "dark" ? "#7cc4f0" : "#005a8e"};${tones.join(";")}`;
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
main{max-width:892px;margin:0 auto;padding:8px 24px 64px}
h1{font-size:32px;line-height:1.2;font-weight:600;margin:28px 0 6px;max-width:24em}
h2{font-size:23px;font-weight:600;margin:48px 0 10px;padding-top:14px;border-top:1px solid var(--line)}
h3{font-size:18.5px;font-weight:600;margin:34px 0 6px}
h4{font-size:16px;font-weight:600;margin:22px 0 4px}
p{margin:6px 0;max-width:44em}.quiet{color:var(--quiet)}
ol.do{padding-left:26px;max-width:46em}ol.do li{margin:7px 0;padding-left:4px}ol.do li:first-child{font-weight:600}
.caution{border:1px solid var(--runaway);border-left-width:6px;border-radius:4px;padding:8px 14px;margin:18px 0;max-width:50em}
.caution strong{color:var(--runaway)}
.scroll{overflow-x:auto;margin:10px 0}
table{border-collapse:collapse;font-size:15px;line-height:1.4}
caption{text-align:left;color:var(--quiet);padding:2px 0 6px}
th{font-weight:600;text-align:left;vertical-align:bottom}
th,td{padding:6px 18px 6px 0;border-bottom:1px solid var(--line);vertical-align:top}
th.number,td.number{text-align:right;white-space:nowrap;font-variant-numeric:tabular-nums}
td.why{min-width:20em;max-width:34em}
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
.trial h4{margin-top:2px}
details{margin:8px 0}summary{cursor:pointer;color:var(--link);font-size:15px;width:fit-content}
ul{padding-left:22px;max-width:48em}li{margin:3px 0}
figure{margin:16px 0;overflow-x:auto}
figure svg{display:block;max-width:100%;height:auto}
figcaption{color:var(--quiet);font-size:14px;margin-top:4px;max-width:48em}
.still{background:#fff;border-radius:4px;width:fit-content;max-width:100%}
.live{display:none}.is-live .live{display:block}.is-live .still{display:none}
.tip{position:fixed;z-index:8;background:var(--paper);color:var(--ink);border:1px solid var(--quiet);border-radius:4px;padding:4px 8px;pointer-events:none;box-shadow:0 2px 10px rgba(0,0,0,.18)}
.tip[hidden]{display:none}.tip table{font-size:13px}.tip td{border:0;padding:1px 10px 1px 0}.tip td+td{text-align:right;padding-right:0;font-variant-numeric:tabular-nums}
@media (max-width:640px){main{padding:4px 16px 48px}.bar{padding:8px 16px}h1{font-size:26px}figure svg{max-width:none}.still{max-width:none}}
@media print{
:root,:root[data-theme]{${colors("light")}}
@page{margin:16mm 14mm}
body{font-size:10.5pt}main{max-width:none;padding:0}.bar nav,button,.skip,.tip,summary{display:none}.bar{padding:0 0 6px}
h1{font-size:21pt;margin-top:10px}h2{font-size:15pt;margin:22px 0 6px;break-after:avoid}h3,h4{break-after:avoid}
.live,.is-live .live{display:none}.still,.is-live .still{display:block;max-width:100%}figure svg{max-width:100%}
figure,.trial,tr{break-inside:avoid}table{font-size:9.5pt}.scroll{overflow:visible}td.why{min-width:0}a{color:inherit;text-decoration:none}
}
`;
