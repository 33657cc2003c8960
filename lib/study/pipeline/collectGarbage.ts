import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";

let collect: (() => void) | undefined;

/**
 * Collects garbage now. The engine waits until the heap has grown to several times what is alive, which a process that
 * works through many results in one go always reaches: its memory would grow with their number.
 */
export function collectGarbage(): void {
  if (collect === undefined) {
    setFlagsFromString("--expose-gc");
    const found: unknown = runInNewContext("globalThis.gc");
    setFlagsFromString("--no-expose-gc");
    collect = typeof found === "function" ? (found as () => void) : () => {};
  }
  collect();
}
