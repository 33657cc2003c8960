/**
 * Draws docs/diagnose.svg: the terminal picture in the README, from a real run of `shaftwise diagnose` on the shipped
 * data set. Run with `npx tsx docs/terminalPicture.ts` (after `npm run build`); a test compares the stored picture with
 * a fresh one.
 */
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { run } from "../lib/cli/diagnose.js";
import { escapeHtml } from "../lib/units/text.js";

const root = join(import.meta.dirname, "..");
const inks: Readonly<Record<string, string>> = {
  "1": 'font-weight="bold"',
  "2": 'fill="#8b949e"',
  "31": 'fill="#ff8f70"',
  "32": 'fill="#56d4a8"',
  "33": 'fill="#f0c75e"',
};

/** Terminal text with colour codes as an SVG picture. */
export function terminalSvg(command: string, text: string): string {
  const lines = [`$ ${command}`, "", ...text.trimEnd().split("\n")];
  const [charWidth, lineHeight, margin] = [8.43, 19, 18];
  const longest = Math.max(80, ...lines.map((line) => line.replace(/\x1b\[\d+m/g, "").length));
  const width = Math.ceil(longest * charWidth + 2 * margin);
  const height = lines.length * lineHeight + 2 * margin;
  const rows = lines.map((line, i) => {
    let ink = "";
    let column = 0;
    let spans = "";
    for (const part of line.split(/(\x1b\[\d+m)/)) {
      const code = /^\x1b\[(\d+)m$/.exec(part);
      if (code) ink = inks[code[1]] ?? "";
      else if (part !== "") {
        const x = (margin + column * charWidth).toFixed(1);
        const length = (part.length * charWidth).toFixed(1);
        spans += `<tspan x="${x}" textLength="${length}" ${ink}>${escapeHtml(part)}</tspan>`;
        column += part.length;
      }
    }
    return `<text y="${margin + 14 + i * lineHeight}" xml:space="preserve">${spans}</text>`;
  });
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" aria-label="Output of ${escapeHtml(command)}">
<rect width="100%" height="100%" rx="8" fill="#16191f"/>
<g font-family="DejaVu Sans Mono, Menlo, Consolas, monospace" font-size="14" fill="#e6e6e6">
${rows.join("\n")}
</g>
</svg>
`;
}

/** The picture of a run on the shipped data set. */
export async function diagnosePicture(): Promise<string> {
  let text = "";
  await run([join(root, "datasets/parcel-sorter")], {
    out: (part) => {
      text += part;
    },
    err: () => {},
    color: true,
    columns: 80,
    live: false,
  });
  return terminalSvg("npx shaftwise diagnose datasets/parcel-sorter", text);
}

if (process.argv[1] === import.meta.filename) {
  writeFileSync(join(root, "docs/diagnose.svg"), await diagnosePicture());
}
