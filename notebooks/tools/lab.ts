/**
 * Sets up the TypeScript kernel for the Jupyter that the user has, in the project's own folder (.jupyter), and opens
 * the notebooks.
 *
 *   npm run lab                       opens JupyterLab or Notebook, or says what to do when there is neither
 *   npm run lab -- --no-browser ...   passes what follows on to it
 *   npm run lab -- --setup            only sets up, and prints the line to use
 *
 * The package is built first only when a source is newer than what was built.
 */
import { spawn, spawnSync } from "node:child_process";
import { existsSync, readdirSync, statSync } from "node:fs";
import { delimiter, join } from "node:path";
import { notebookFolder, projectFolder, writeKernelSpec } from "./kernelSpec.js";

const onlySetUp = process.argv.includes("--setup");
const passedOn = process.argv.slice(2).filter((argument) => argument !== "--setup");

if (!built()) {
  const made = spawnSync("npm", ["run", "--silent", "build"], {
    cwd: projectFolder,
    stdio: "inherit",
    shell: process.platform === "win32",
  });
  if (made.status !== 0) process.exit(made.status ?? 1);
}
const folder = join(projectFolder, ".jupyter");
const spec = writeKernelSpec(folder);
const path = [folder, process.env.JUPYTER_PATH].filter(Boolean).join(delimiter);
console.log(`The TypeScript kernel is described in ${spec}.`);
console.log(`Any Jupyter finds it with JUPYTER_PATH=${path}\n`);

const lab = firstOnPath(["jupyter-lab", "jupyter-notebook"]);
if (lab === undefined) {
  console.log(`No JupyterLab was found on this machine. You can
  - install it (https://jupyter.org/install) and run "npm run lab" again;
  - open a notebook in VS Code with its Jupyter extension, started with the JUPYTER_PATH above, and pick the kernel "TypeScript with shaftwise";
  - read the notebooks as they are: they are stored with their results, and most code hosts and editors show them;
  - run them without Jupyter: "npm run notebooks".`);
} else if (onlySetUp) {
  console.log(`JUPYTER_PATH=${path} ${lab} ${notebookFolder}`);
} else {
  const child = spawn(lab, [notebookFolder, ...passedOn], {
    stdio: "inherit",
    env: { ...process.env, JUPYTER_PATH: path },
  });
  child.on("exit", (status) => {
    process.exitCode = status ?? 0;
  });
}

/** Whether what was built is not older than any source. */
function built(): boolean {
  const made = join(projectFolder, "dist", "index.js");
  const script = join(projectFolder, "dist", "explorer.js");
  if (!existsSync(made) || !existsSync(script)) return false;
  const since = statSync(made).mtimeMs;
  const sources = readdirSync(join(projectFolder, "lib"), { recursive: true, encoding: "utf8" });
  return sources.every((name) => statSync(join(projectFolder, "lib", name)).mtimeMs <= since);
}

/** The first of the programs that a folder of PATH holds: asking each for its version would take seconds. */
function firstOnPath(names: readonly string[]): string | undefined {
  const endings = process.platform === "win32" ? [".exe", ".cmd"] : [""];
  const folders = (process.env.PATH ?? "").split(delimiter).filter(Boolean);
  return names
    .flatMap((name) => folders.flatMap((place) => endings.map((ending) => join(place, name + ending))))
    .find((file) => existsSync(file));
}
