/** How the TypeScript kernel is started, for our own runner and for a Jupyter that the user has. */
import { existsSync, lstatSync, mkdirSync, readlinkSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join, resolve } from "node:path";

/** The project's own folder. */
export const projectFolder = resolve(import.meta.dirname, "../..");

/** Where the notebooks lie. */
export const notebookFolder = join(projectFolder, "notebooks");

/** Command line of the kernel for a connection file. */
export function kernelCommand(connectionFile: string): string[] {
  const tslab = dirname(createRequire(import.meta.url).resolve("tslab/package.json"));
  // Node 20 warns that loading an ES module by require() is new; in a notebook that warning is noise.
  return [
    process.execPath,
    "--disable-warning=ExperimentalWarning",
    join(tslab, "bin", "tslab"),
    "kernel",
    "--config-path",
    connectionFile,
  ];
}

/** Writes the kernel's description below `folder` (a folder for JUPYTER_PATH) and returns that folder. */
export function writeKernelSpec(folder: string): string {
  const kernel = join(folder, "kernels", "tslab");
  mkdirSync(kernel, { recursive: true });
  writeFileSync(
    join(kernel, "kernel.json"),
    `${JSON.stringify(
      {
        argv: kernelCommand("{connection_file}"),
        display_name: "TypeScript",
        language: "typescript",
        interrupt_mode: "signal",
      },
      null,
      2,
    )}\n`,
  );
  return folder;
}

/**
 * Makes `import { ... } from "shaftwise"` work in a cell, with types. The kernel's TypeScript looks for packages in node_modules folders
 * only (classic Node resolution, blind to a package's own name), so the project is linked into notebooks/node_modules.
 */
export function linkPackage(): void {
  const main = join(projectFolder, "dist", "index.js");
  if (!existsSync(main)) throw new Error(`${main} is not there: run "npm run build" first`);
  const folder = join(notebookFolder, "node_modules");
  const link = join(folder, "shaftwise");
  mkdirSync(folder, { recursive: true });
  const there = lstatSync(link, { throwIfNoEntry: false });
  if (there?.isSymbolicLink() && resolve(folder, readlinkSync(link)) === projectFolder) return;
  if (there) rmSync(link, { recursive: true });
  symlinkSync(projectFolder, link, process.platform === "win32" ? "junction" : "dir");
}
