import { fileURLToPath } from "node:url";
import type { Piscina } from "piscina";

/**
 * Starts worker threads that run the default export of a module beside another.
 *
 * @param beside `import.meta.url` of the module that asks
 * @param name of the module to run, without its ending
 */
export async function startWorkers(beside: string, name: string, threads: number): Promise<Piscina> {
  const { Piscina } = await import("piscina");
  const ending = beside.endsWith(".ts") ? ".ts" : ".js";
  return new Piscina({
    filename: fileURLToPath(new URL(`./${name}${ending}`, beside)),
    minThreads: threads,
    maxThreads: threads,
    // The sources run as they are under a loader; the package itself is plain JavaScript.
    execArgv: ending === ".ts" ? ["--import", loader()] : [],
  });
}

/** A module that lets a worker thread load TypeScript as it is: for work on the sources only. */
function loader(): string {
  const api = import.meta.resolve("tsx/esm/api");
  return `data:text/javascript,import{register}from"${api}";register()`;
}
