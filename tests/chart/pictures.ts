/** Writes every sample chart as PNG, to be looked at: npx tsx tests/chart/pictures.ts <folder> [theme] */
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { chartPng, type ThemeName } from "../../lib/chart/index.js";
import { samples } from "./samples.js";

const [folder = "out/pictures", theme] = process.argv.slice(2);
mkdirSync(folder, { recursive: true });
for (const [name, spec] of Object.entries(samples)) {
  writeFileSync(join(folder, `${name}.png`), await chartPng(spec, { scale: 1.5, theme: theme as ThemeName }));
}
