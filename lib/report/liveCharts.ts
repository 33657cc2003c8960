import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";

/** The scripts that draw live charts, in the order in which a page needs them; empty where a package was left out. */
export function chartScripts(): readonly string[] {
  const require = createRequire(import.meta.url);
  const files: readonly (readonly [string, string])[] = [
    ["vega", "build/vega.min.js"],
    ["vega-lite", "build/vega-lite.min.js"],
    ["vega-embed", "build/vega-embed.min.js"],
  ];
  try {
    return files.map(([name, file]) => {
      const text = readFileSync(join(packageFolder(require, name), file), "utf8");
      return inlineScript(text.replace(/\n?\/\/# sourceMappingURL=\S+\s*$/, ""));
    });
  } catch {
    return [];
  }
}

/** Script text that cannot end its own element. */
export function inlineScript(text: string): string {
  return text.replace(/<\/(script)/gi, "<\\/$1").replace(/<!--/g, "<\\!--");
}

/** Packages that hide their package.json are found by their main file. */
export function packageFolder(require: NodeJS.Require, name: string): string {
  let folder = dirname(require.resolve(name));
  while (!folder.endsWith(join("node_modules", name)) && dirname(folder) !== folder) folder = dirname(folder);
  return folder;
}
