import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { globSync } from "tinyglobby";
import { commandOptions } from "../../lib/cli/completion.js";

/** A name in a page that is found nowhere. */
export interface StaleName {
  readonly page: string;
  readonly name: string;
}

/**
 * What stands between two of these comments tells of an earlier state of the project in the names of that day: results
 * that cannot be made again. Commands and options are held there too.
 */
const earlierNames = /<!-- names of the day -->[\s\S]*?<!-- names of today -->/g;

/** Pieces of code in a text: in the line, and each line of a block. */
function codeOf(text: string): string[] {
  const blocks = [...text.matchAll(/^```[^\n]*\n([\s\S]*?)^```/gm)].flatMap(([, block]) => block.split("\n"));
  const inline = [...text.replaceAll(/^```[\s\S]*?^```/gm, "").matchAll(/`([^`]+)`/g)];
  return [...blocks, ...inline.map(([, code]) => code.replaceAll(/\s+/g, " "))];
}

const root = join(import.meta.dirname, "../..");
const roots = readdirSync(root, { withFileTypes: true })
  .filter(
    (entry) => entry.isDirectory() && !["node_modules", "dist", ".git", "coverage"].includes(entry.name),
  )
  .map(({ name }) => name);
const files = globSync(["**/*", ".ci/**/*"], {
  cwd: root,
  ignore: ["**/node_modules/**", "dist/**"],
  onlyFiles: false,
}).map((name) => name.replace(/\/$/, ""));
const known = new Set(files);
const baseNames = files.filter((name) => name.endsWith(".ts"));

/** Whether a path of the repository is there; `<name>`, `*` and `{a,b}` stand for some of it. */
function exists(path: string): boolean {
  if (known.has(path.replace(/\/$/, ""))) return true;
  const pattern = path.replaceAll(/<[^>]*>/g, "*").replaceAll(/[()[\]]/g, "\\$&");
  return /[*{]/.test(pattern) && globSync(pattern, { cwd: root, onlyFiles: false }).length > 0;
}

function pathsIn(code: string): string[] {
  const found = code.match(/(?<![\w./<-])[\w.-]+\/[\w./*<>{},-]+/g) ?? [];
  return found
    .map((path) => path.replace(/[.,]+$/, ""))
    .filter((path) => roots.includes(path.split("/")[0]) && path.split("/")[0] !== "notebooks");
}

/** Source files named by the end of their path alone, such as `columns/units.ts`. */
function sourcesIn(code: string): string[] {
  return (code.match(/(?<![\w./*<>-])[\w./-]+\.ts\b/g) ?? []).filter(
    (name) => !roots.includes(name.split("/")[0]) && !name.startsWith("."),
  );
}

const isSource = (name: string): boolean =>
  baseNames.some((file) => file === name || file.endsWith(`/${name}`));

/** Options that the scripts of this repository, and the tools it calls, take. */
let scripts: string | undefined;
function isScriptOption(option: string): boolean {
  scripts ??= [
    ...globSync(["tests/**/*.ts", "docs/*.ts", "datasets/**/*.ts", "lib/cli/*.ts"], {
      cwd: root,
      ignore: ["tests/house/pageNames*"],
    }),
    "package.json",
  ]
    .map((file) => readFileSync(join(root, file), "utf8"))
    .join("\n");
  const name = option.slice(2);
  return new RegExp(`--${name}\\b|["']?${name}["']?: \\{ type:`).test(scripts);
}

/** Options of tools that are not ours. */
const foreign = new Set(["--project", "--strict", "--write", "--if-present"]);

function optionsIn(code: string): string[] {
  const options = [...code.matchAll(/(?<![\w-])--[a-z][a-z-]*[a-z]/g)].map(([option]) => option);
  const command = /\bshaftwise (\w+)/.exec(code)?.[1];
  const own = command === undefined ? undefined : commandOptions[command];
  return options.filter((option) => {
    if (own !== undefined) return !own.includes(option);
    const ours = Object.values(commandOptions).some((list) => list.includes(option));
    return !ours && !foreign.has(option) && !isScriptOption(option);
  });
}

/** Names in a page's code that are found nowhere: paths, source files, options. */
export function staleNames(page: string, text: string): StaleName[] {
  const today = text.replaceAll(earlierNames, "");
  const paths = codeOf(today).flatMap((code) => [
    ...pathsIn(code).filter((path) => !exists(path)),
    ...sourcesIn(code).filter((name) => !isSource(name)),
  ]);
  const options = codeOf(text).flatMap(optionsIn);
  return [...new Set([...paths, ...options])].map((name) => ({ page, name }));
}

/** The pages for people: the guides, and those at the root but for the history of changes. */
export const pages = (): string[] =>
  globSync(["*.md", "docs/**/*.md", "datasets/**/*.md"], { cwd: root, ignore: ["CHANGELOG.md"] });

/** Text of a page. */
export const pageText = (page: string): string => readFileSync(join(root, page), "utf8");
