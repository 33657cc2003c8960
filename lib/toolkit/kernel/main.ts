#!/usr/bin/env node
/** `shaftwise-kernel`: tells the user's Jupyter about the kernel, so that `import "shaftwise"` works in a notebook in any folder. */
import { userDataFolder, writeKernelSpec } from "./kernelSpec.js";

const help = `shaftwise-kernel [folder]

Tells Jupyter about a TypeScript kernel that finds shaftwise from a notebook in any folder: writes kernels/shaftwise/kernel.json below Jupyter's
data folder of the user, or below the folder given (to be named in JUPYTER_PATH). Needs the package tslab beside shaftwise.`;

const [folder, ...more] = process.argv.slice(2);
try {
  if (folder === "--help" || folder === "-h") console.log(help);
  else if (more.length > 0 || folder?.startsWith("-"))
    throw new Error(`unknown argument ${more[0] ?? folder}; see shaftwise-kernel --help`);
  else {
    console.log(
      `The kernel "TypeScript with shaftwise" is described in ${writeKernelSpec(folder ?? userDataFolder())}.`,
    );
    console.log("Start Jupyter and choose it for a notebook.");
  }
} catch (error) {
  console.error(`shaftwise-kernel: ${error instanceof Error ? error.message : error}`);
  process.exitCode = 1;
}
