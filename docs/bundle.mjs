/**
 * Bundles, in place, what starts a process: the command line and the entries of child processes. They then load a few
 * files of dist/chunks instead of several hundred modules, which took a process as long as judging some ten short
 * recordings. What other programs import stays as the compiler wrote it. Run by `npm run build` over a fresh dist.
 */
import { existsSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, relative, resolve, sep } from "node:path";
import { build } from "esbuild";

const root = resolve(import.meta.dirname, "..");
const dist = join(root, "dist");
const entries = [
  "cli/main.js",
  "recording/limits/limitedChild.js",
  "recording/limits/readJobTask.js",
  "analysis/analyseJobWorker.js",
  "study/pipeline/judgeWorker.js",
  "study/pipeline/judgeFile.js",
  "study/pipeline/tablesWorker.js",
];

/** Packages that the bundles hold, since every judged recording needs them and they are many or large files; all others
 * are found where they are installed. */
const held = /^(@stdlib\/.*|ml-matrix|simple-statistics)$/;
const ownRequire = /^const require = createRequire\(import\.meta\.url\);$/m;

/** Text of a module as it works from a chunk: it goes on looking for its neighbours where it lay itself. */
function placed(path) {
  const text = readFileSync(path, "utf8");
  const place = relative(join(dist, "chunks"), path).split(sep).join("/");
  const asks = /require\("@stdlib\//.test(text);
  if (asks && !ownRequire.test(text)) throw new Error(`${path}: no line "const require = createRequire(...)"`);
  // Without a require of its own, the bundler follows the names.
  return (asks ? text.replace(ownRequire, "") : text).replaceAll(
    "import.meta.url",
    `new URL(${JSON.stringify(place)}, import.meta.url).href`,
  );
}

const plugin = {
  name: "in place",
  setup(build) {
    build.onResolve({ filter: /^[^./]/ }, ({ path, kind, importer }) => {
      if (kind === "entry-point") return undefined;
      // Held packages bring what they are built from; what they would say to somebody who traces them stays out.
      if (path === "debug") return { path, namespace: "silent" };
      const inside = importer.includes(`${sep}node_modules${sep}`);
      return held.test(path) || (inside && !path.startsWith("node:")) ? undefined : { path, external: true };
    });
    build.onLoad({ filter: /./, namespace: "silent" }, () => ({
      contents: "module.exports = () => () => {};",
    }));
    build.onLoad({ filter: /\.js$/ }, ({ path }) =>
      path.startsWith(dist + sep) ? { contents: placed(path), loader: "js" } : undefined,
    );
  },
};

const { metafile } = await build({
  absWorkingDir: dist,
  entryPoints: entries.map((name) => `./${name}`),
  outbase: dist,
  outdir: dist,
  allowOverwrite: true,
  bundle: true,
  splitting: true,
  chunkNames: "chunks/[hash]",
  format: "esm",
  platform: "node",
  target: "node20.19",
  minifyWhitespace: true,
  legalComments: "none",
  logLevel: "warning",
  metafile: true,
  plugins: [plugin],
});

for (const name of Object.keys(metafile.outputs)) {
  const text = readFileSync(join(dist, name), "utf8");
  if (!name.startsWith("chunks/") && text.includes("import.meta.url"))
    throw new Error(`dist/${name} holds a module that asks where it lies: import it, so that it lies in a chunk`);
  const asked = /__require\d*\("([^"]*)"/.exec(text);
  if (asked !== null) throw new Error(`dist/${name} cannot ask for ${asked[1]} from inside a bundle`);
}

/** Licences of what the bundles hold, as their terms ask; packages with the same text stand together. */
const packages = new Set(
  Object.keys(metafile.inputs).flatMap((path) => /^.*node_modules\/(?:@[^/]+\/)?[^/]+/.exec(path)?.[0] ?? []),
);
const licences = new Map();
for (const folder of [...packages].sort()) {
  const at = resolve(dist, folder);
  const { name, version, license } = JSON.parse(readFileSync(join(at, "package.json"), "utf8"));
  const texts = readdirSync(at).filter((file) => /^(licen[cs]e|notice)/i.test(file));
  if (texts.length === 0) throw new Error(`${name} comes without the text of its licence (${license})`);
  const text = texts.sort().map((file) => readFileSync(join(at, file), "utf8").trim()).join("\n\n");
  const same = licences.get(text.replace(/\s+/g, " ")) ?? { text, names: [] };
  licences.set(text.replace(/\s+/g, " "), same);
  same.names.push(`${name} ${version} (${license})`);
}
if (!existsSync(join(dist, "chunks"))) throw new Error("nothing was bundled");
writeFileSync(
  join(dist, "chunks/LICENCES.txt"),
  `The bundles beside this file hold code of these packages.\n\n${[...licences.values()]
    .map(({ text, names }) => `${names.join(", ")}:\n\n${text}\n`)
    .join("\n\n")}`,
);
