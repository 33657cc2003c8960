import { existsSync } from "node:fs";
import { dirname, join } from "node:path";

/**
 * A folder of the reference data that lies beside a checkout (not part of the project): `SHAFTWISE_SHARED`, or a folder
 * `shared` beside this checkout or beside one of its parents. Undefined, with a printed reason, where it is absent.
 */
export function sharedFolder(name: string): string | undefined {
  const candidates = process.env.SHAFTWISE_SHARED ? [process.env.SHAFTWISE_SHARED] : [];
  for (let at = join(import.meta.dirname, "../.."); dirname(at) !== at; at = dirname(at)) {
    candidates.push(join(dirname(at), "shared"));
  }
  const found = candidates.map((folder) => join(folder, name)).find((folder) => existsSync(folder));
  if (found === undefined)
    console.log(`skipped: no folder shared/${name} beside this checkout (set SHAFTWISE_SHARED)`);
  return found;
}
