/** The TypeScript kernel of Jupyter, started so that a cell finds this package wherever the notebook lies: `node
 * start.js <connection file>`. */
import { createRequire } from "node:module";
import { type FileAccess, requireFallsBack, typesFallBack } from "./packages.js";

requireFallsBack();
const require = createRequire(import.meta.url);
const kernel = createRequire(require.resolve("tslab/package.json"));
// The kernel's own compiler, changed before the kernel makes anything of it.
const { sys } = kernel("@tslab/typescript-for-tslab") as { sys: FileAccess };
typesFallBack(sys, process.cwd());
const { startKernel } = kernel("./dist/main.js") as {
  startKernel(options: { configPath: string; enableFindLocal: boolean }): void;
};
startKernel({ configPath: process.argv[2], enableFindLocal: false });
