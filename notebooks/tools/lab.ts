/**
 * Sets up the TypeScript kernel for the Jupyter that the user has, in the project's own folder (.jupyter), and opens the notebooks.
 *
 *   npm run lab                opens JupyterLab, or says what to do when there is none
 *   npm run lab -- --setup     only sets up, and prints the line to use
 */
import { spawn, spawnSync } from "node:child_process";
import { join } from "node:path";
import { linkPackage, notebookFolder, projectFolder, writeKernelSpec } from "./kernelSpec.js";

linkPackage();
const folder = writeKernelSpec(join(projectFolder, ".jupyter"));
const path = [folder, process.env.JUPYTER_PATH]
  .filter(Boolean)
  .join(process.platform === "win32" ? ";" : ":");
console.log(`The TypeScript kernel is described in ${join(folder, "kernels", "tslab")}.`);
console.log(`Any Jupyter finds it with JUPYTER_PATH=${path}\n`);

const lab = firstThatRuns(["jupyter-lab", "jupyter-notebook"]);
if (lab === undefined) {
  console.log(`No JupyterLab was found on this machine. You can
  - install it (https://jupyter.org/install) and run "npm run lab" again;
  - open a notebook in VS Code with its Jupyter extension, started with the JUPYTER_PATH above, and pick the kernel "TypeScript";
  - read the notebooks as they are: they are stored with their results, and most code hosts and editors show them;
  - run them without Jupyter: "npm run notebooks".`);
} else if (process.argv.includes("--setup")) {
  console.log(`JUPYTER_PATH=${path} ${lab} ${notebookFolder}`);
} else {
  const child = spawn(lab, [notebookFolder], {
    stdio: "inherit",
    env: { ...process.env, JUPYTER_PATH: path },
  });
  child.on("exit", (status) => {
    process.exitCode = status ?? 0;
  });
}

function firstThatRuns(names: readonly string[]): string | undefined {
  return names.find((name) => spawnSync(name, ["--version"], { stdio: "ignore" }).status === 0);
}
