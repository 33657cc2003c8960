import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { type Damage, descriptor, shippedSet, written } from "./shippedDamages.js";

/** Writes some orders of the shipped set to a folder, damaged, with the descriptor of these logs or without. */
export function writeDamagedSet(
  folder: string,
  orders: readonly string[],
  change: Damage["change"],
  described = true,
): string {
  const isOne = (name: string): boolean => orders.some((order) => name.includes(order));
  mkdirSync(folder, { recursive: true });
  for (const log of shippedSet.filter(({ file }) => isOne(file)))
    writeFileSync(join(folder, log.file), written({ ...log, rows: change(log.rows) }));
  const resources = descriptor.resources.filter(({ path }: { path: string }) => isOne(path));
  if (described)
    writeFileSync(join(folder, "datapackage.json"), JSON.stringify({ ...descriptor, resources }));
  return folder;
}
