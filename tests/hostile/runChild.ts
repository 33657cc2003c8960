import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { deserialize } from "node:v8";
import { type Attempt, attempt, type Kind } from "./attempt.js";
import type { SeedFile } from "./seeds.js";

/** What the process that reads damaged files tells the one that watches it. */
export type RunMessage =
  | { readonly kind: "ready" }
  | { readonly kind: "starts"; readonly number: number }
  | { readonly kind: "result"; readonly result: Attempt; readonly megabytes: number }
  | { readonly kind: "end"; readonly megabytes: number };

/** Reads the numbers it is asked for, one piece after another: `<file of seeds> <kind of damage>`. */
const [stored, kind] = process.argv.slice(2);
const send = (message: RunMessage): void => void process.send?.(message);
const megabytes = (): number => Math.round(process.memoryUsage.rss() / 2 ** 20);

const folder = mkdtempSync(join(tmpdir(), "shaftwise-hostile-"));
const seeds = deserialize(readFileSync(stored)) as SeedFile[];
process.on("message", async ({ from, to }: { readonly from: number; readonly to: number }) => {
  for (let number = from; number < to; number += 1) {
    send({ kind: "starts", number });
    send({
      kind: "result",
      result: await attempt(seeds, number, folder, kind as Kind),
      megabytes: megabytes(),
    });
  }
  send({ kind: "end", megabytes: megabytes() });
});
process.on("disconnect", () => {
  rmSync(folder, { recursive: true, force: true });
  process.exit();
});
send({ kind: "ready" });
