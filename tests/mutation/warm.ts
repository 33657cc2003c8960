/**
 * A process that keeps the library loaded and runs test files again and again, each time with another mutant switched
 * on. Started by `run.ts` in the copy of the project; `MUTANT` switches one on from the first line.
 */

import { join } from "node:path";
import { pathToFileURL } from "node:url";

/** Before the name of a case of recorded answers, which is asked like a test file. */
export const answersTo = "answers: ";

/** A question: run these test files or cases, in this order, with this mutant (-1: none). */
export interface Asked {
  readonly mutant: number;
  readonly files: readonly string[];
  /** Whether all files are to be run, whatever fails. */
  readonly all: boolean;
}
export type WarmMessage =
  | { readonly kind: "ready"; readonly reached: readonly number[]; readonly shown: readonly number[] }
  | { readonly kind: "starts"; readonly file: string; readonly test: string }
  | {
      readonly kind: "file";
      readonly file: string;
      readonly failed?: string;
      readonly seconds: number;
      readonly reached: readonly number[];
      /** Mutants whose value would have been another than the original's. */
      readonly shown: readonly number[];
    }
  | { readonly kind: "end"; readonly megabytes: number };

let active = -1;
let epoch = 0;
const reached = new Set<number>();
const shown = new Set<number>();
/** A weak map that forgets everything when another mutant is switched on. */
class FreshMap<K extends object, V> {
  #map = new WeakMap<K, V>();
  #epoch = -1;
  #own(): WeakMap<K, V> {
    if (this.#epoch !== epoch) this.#map = new WeakMap();
    this.#epoch = epoch;
    return this.#map;
  }
  get(key: K): V | undefined {
    return this.#own().get(key);
  }
  has(key: K): boolean {
    return this.#own().has(key);
  }
  set(key: K, value: V): this {
    this.#own().set(key, value);
    return this;
  }
  delete(key: K): boolean {
    return this.#own().delete(key);
  }
}
/** The same for what is kept by text. */
class FreshTextMap<V> {
  #map = new Map<string, V>();
  #epoch = -1;
  #own(): Map<string, V> {
    if (this.#epoch !== epoch) this.#map = new Map();
    this.#epoch = epoch;
    return this.#map;
  }
  get size(): number {
    return this.#own().size;
  }
  get(key: string): V | undefined {
    return this.#own().get(key);
  }
  has(key: string): boolean {
    return this.#own().has(key);
  }
  set(key: string, value: V): this {
    this.#own().set(key, value);
    return this;
  }
  delete(key: string): boolean {
    return this.#own().delete(key);
  }
  clear(): void {
    this.#own().clear();
  }
}
Object.assign(globalThis, { FreshMap, FreshTextMap });
/** Which mutants are met is kept only where none is on: it takes longer. */
function switchOn(mutant: number): void {
  active = mutant;
  Object.assign(globalThis, {
    mutantOn:
      mutant >= 0
        ? (id: number) => id === mutant
        : (id: number) => {
            reached.add(id);
            return false;
          },
    mutantShows:
      mutant >= 0
        ? (_: number, sound: unknown) => sound
        : (id: number, sound: unknown, slip: unknown) => {
            // A condition is fixed to true or false, whatever it is made of.
            const same = typeof slip === "boolean" ? Boolean(sound) === slip : Object.is(sound, slip);
            if (!same) shown.add(id);
            return sound;
          },
  });
}
switchOn(Number(process.env.MUTANT ?? -1));

const { collected, runGroup } = await import("./vitestStandIn.js");
const send = (message: WarmMessage): void => void process.send?.(message);
const root = join(import.meta.dirname, "../..");
const { answersOf } = await import("../answers/answersOf.js");
const { cases } = await import("../answers/list.js");
const { differences, readRecorded } = await import("../answers/recorded.js");
const recorded = readRecorded();

/** What differs from the recorded answers, undefined for nothing. */
async function runCase(name: string): Promise<string | undefined> {
  epoch += 1;
  const one = cases.find((other) => other.name === name);
  if (one === undefined) return "there is no such case";
  // What is made once for all mutants is made without any.
  const on = active;
  switchOn(-1);
  one.prepare?.();
  switchOn(on);
  send({ kind: "starts", file: `${answersTo}${name}`, test: name });
  reached.clear();
  shown.clear();
  const [first] = differences(recorded.get(name) ?? [], await answersOf(one));
  return first && `${first.where}: ${first.before} -> ${first.now}`.slice(0, 600);
}

async function runFile(file: string): Promise<string | undefined> {
  epoch += 1;
  const starts = (test: string): void => send({ kind: "starts", file, test });
  starts("(reading the file)");
  try {
    const url = `${pathToFileURL(join(root, file)).href}?turn=${epoch}`;
    await runGroup(await collected(() => import(url)), starts);
    return undefined;
  } catch (error) {
    return String(error instanceof Error ? (error.stack ?? error.message) : error).slice(0, 600);
  }
}

const found = () => ({ reached: [...reached], shown: [...shown] });
process.on("unhandledRejection", () => undefined);
process.on("message", async ({ mutant, files, all }: Asked) => {
  switchOn(mutant);
  for (const file of files) {
    reached.clear();
    shown.clear();
    const began = process.cpuUsage();
    const failed = await (file.startsWith(answersTo) ? runCase(file.slice(answersTo.length)) : runFile(file));
    const { user, system } = process.cpuUsage(began);
    const seconds = (user + system) / 1e6;
    send({ kind: "file", file, seconds, ...found(), ...(failed ? { failed } : {}) });
    if (failed !== undefined && !all) break;
  }
  send({ kind: "end", megabytes: Math.round(process.memoryUsage.rss() / 2 ** 20) });
});
process.on("disconnect", () => process.exit());
await import(pathToFileURL(join(root, "lib/index.ts")).href);
send({ kind: "ready", ...found() });
