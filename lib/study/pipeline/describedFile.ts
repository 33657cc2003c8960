import { statSync } from "node:fs";
import { readFile } from "node:fs/promises";
import { basename, dirname, join } from "node:path";

/** What a `datapackage.json` beside a file says about it. */
export interface DescribedFile {
  /** The text that matters for the identity of the file's result. */
  readonly text: string;
  /** Facts for a study, from the property `shaftwise` of the resource or of the package. */
  readonly about: AboutRecording;
}

/** When and where a recording was made. */
export interface AboutRecording {
  readonly batch?: string;
  readonly rig?: string;
  /** ISO 8601 date. */
  readonly date?: string;
  /** Degrees Celsius. */
  readonly temperature?: number;
  /** Hours of use up to then. */
  readonly hours?: number;
}

interface Folder {
  readonly stamp: string;
  readonly common: unknown;
  readonly resources: ReadonlyMap<string, unknown[]>;
  /** A descriptor that is no JSON, as it stands. */
  readonly broken?: string;
}

const folders = new Map<string, Folder>();

/** Looks up a file in the descriptor of its folder, which is read once as long as it does not change. */
export async function describedFile(path: string): Promise<DescribedFile> {
  const at = join(dirname(path), "datapackage.json");
  let stamp: string;
  try {
    const found = statSync(at);
    // A pipe of that name would wait for a writer for ever.
    if (!found.isFile()) return { text: "", about: {} };
    const { mtimeMs, size } = found;
    stamp = `${mtimeMs} ${size}`;
  } catch {
    return { text: "", about: {} };
  }
  let folder = folders.get(at);
  if (folder?.stamp !== stamp) {
    folder = await readFolder(at, stamp);
    if (folders.size >= 16) folders.clear();
    folders.set(at, folder);
  }
  if (folder.broken !== undefined) return { text: folder.broken, about: {} };
  const own = folder.resources.get(basename(path)) ?? [];
  const facts = [folder.common, ...own].map((part) => (part as { shaftwise?: unknown } | null)?.shaftwise);
  return { text: JSON.stringify([folder.common, own]), about: aboutOf(facts) };
}

async function readFolder(at: string, stamp: string): Promise<Folder> {
  const text = await readFile(at, "utf8");
  let document: unknown;
  try {
    document = JSON.parse(text);
  } catch {
    // A broken descriptor is part of what the reader sees.
    return { stamp, common: null, resources: new Map(), broken: text };
  }
  if (typeof document !== "object" || document === null)
    return { stamp, common: document, resources: new Map() };
  const { resources, ...common } = document as { resources?: unknown };
  const byName = new Map<string, unknown[]>();
  for (const resource of Array.isArray(resources) ? resources : []) {
    const of = (resource as { path?: unknown } | null)?.path;
    for (const name of Array.isArray(of) ? of : [of])
      if (typeof name === "string") {
        const known = byName.get(name);
        if (known === undefined) byName.set(name, [resource]);
        else if (known.at(-1) !== resource) known.push(resource);
      }
  }
  return { stamp, common, resources: byName };
}

/** The later facts win. */
function aboutOf(facts: readonly unknown[]): AboutRecording {
  const about: { batch?: string; rig?: string; date?: string; temperature?: number; hours?: number } = {};
  for (const fact of facts) {
    if (typeof fact !== "object" || fact === null) continue;
    const { batch, rig, date, temperature, hours } = fact as Record<string, unknown>;
    if (typeof batch === "string") about.batch = batch;
    if (typeof rig === "string") about.rig = rig;
    if (typeof date === "string") about.date = date;
    if (typeof temperature === "number") about.temperature = temperature;
    if (typeof hours === "number") about.hours = hours;
  }
  return about;
}
