/** The description by which a Jupyter finds and starts the kernel
 * (https://jupyter-client.readthedocs.io/en/stable/kernels.html). */
import { mkdirSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { homedir } from "node:os";
import { join } from "node:path";
import { ownFolder } from "./packages.js";

/** Name under which a notebook asks for the kernel. */
export const kernelName = "shaftwise";

/** Command line of the kernel for a connection file. */
export function kernelCommand(connectionFile: string): string[] {
  // Node 20 warns that loading an ES module by require() is new; in a notebook that warning is noise.
  return [
    process.execPath,
    "--disable-warning=ExperimentalWarning",
    join(ownFolder(), "dist/toolkit/kernel/start.js"),
    connectionFile,
  ];
}

/**
 * Writes the kernel's description below `folder` (one of Jupyter's data folders) and returns where.
 *
 * @throws Error that says what to install when the kernel itself is missing.
 */
export function writeKernelSpec(folder: string): string {
  try {
    createRequire(import.meta.url).resolve("tslab/package.json");
  } catch {
    throw new Error("the TypeScript kernel is not installed beside shaftwise: npm install tslab");
  }
  const place = join(folder, "kernels", kernelName);
  mkdirSync(place, { recursive: true });
  const spec = {
    argv: kernelCommand("{connection_file}"),
    display_name: "TypeScript with shaftwise",
    language: "typescript",
    interrupt_mode: "signal",
  };
  writeFileSync(join(place, "kernel.json"), `${JSON.stringify(spec, null, 2)}\n`);
  return place;
}

/** Jupyter's data folder of the user (https://docs.jupyter.org/en/latest/use/jupyter-directories.html). */
export function userDataFolder(env: NodeJS.ProcessEnv = process.env, platform = process.platform): string {
  if (env.JUPYTER_DATA_DIR) return env.JUPYTER_DATA_DIR;
  if (platform === "win32" && env.APPDATA) return join(env.APPDATA, "jupyter");
  if (platform === "darwin") return join(homedir(), "Library", "Jupyter");
  return join(env.XDG_DATA_HOME ?? join(homedir(), ".local", "share"), "jupyter");
}
