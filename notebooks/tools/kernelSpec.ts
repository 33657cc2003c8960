/** Where the project's kernel and notebooks are; the kernel itself is lib/toolkit/kernel. */
import { existsSync } from "node:fs";
import { join, resolve } from "node:path";

export { kernelCommand, writeKernelSpec } from "../../lib/toolkit/kernel/kernelSpec.js";

/** The project's own folder. */
export const projectFolder = resolve(import.meta.dirname, "../..");

/** Where the notebooks lie. */
export const notebookFolder = join(projectFolder, "notebooks");

/** Says what to do when the package, which a cell imports, was not built. */
export function needBuild(): void {
  const main = join(projectFolder, "dist", "index.js");
  if (!existsSync(main)) throw new Error(`${main} is not there: run "npm run build" first`);
}
