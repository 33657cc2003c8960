import { statSync } from "node:fs";
import { readFile, realpath } from "node:fs/promises";
import { basename, dirname, isAbsolute, join, normalize, relative, resolve, sep } from "node:path";
import type { DriveFacts, EncoderFacts, LeadOrder, MachineFacts } from "../motor/facts.js";
import { leadOrders } from "../motor/facts.js";
import { readLeadOrder } from "../motor/leadLetters.js";
import { visible } from "../units/text.js";
import { isColumnRole, meanings } from "./columns/roles.js";
import { stampOf } from "./formats/fileBytes.js";
import { type Finding, type TrialKind, trialKinds } from "./types.js";

/** What a person or a descriptor states about one recording. */
export interface StatedFacts {
  readonly ordering?: LeadOrder;
  readonly motor?: string;
  readonly title?: string;
  readonly machine: MachineFacts;
  readonly drive: DriveFacts;
  readonly encoder: EncoderFacts;
  readonly trials?: readonly { readonly kind: TrialKind; readonly start: number; readonly end: number }[];
}

/** One field of a resource's schema, as far as it matters here. */
export interface DescribedField {
  readonly name: string;
  readonly unit?: string;
  readonly role?: string;
}

/** One resource of a data package: the files of one recording, and what is stated about it. */
export interface DescribedResource {
  readonly name: string;
  readonly files: readonly string[];
  readonly fields: readonly DescribedField[];
  readonly facts: StatedFacts;
  /** Samples per second, where the table has a counter or no time at all. */
  readonly rate?: number;
}

/** A descriptor read from disk. */
export interface Descriptor {
  readonly path: string;
  readonly resources: readonly DescribedResource[];
  readonly problems: readonly Finding[];
}

const descriptorName = "datapackage.json";
/** A larger descriptor than this describes something else. */
const mostBytes = 16 * 2 ** 20;
type Plain = Readonly<Record<string, unknown>>;

/** Descriptors read lately, so that thousands of files of one folder do not each read it again. */
const lately = new Map<string, { readonly stamp: string; readonly descriptor: Promise<Descriptor> }>();
const mostLately = 16;

/**
 * Reads the Data Package descriptor (Frictionless Data Package, an open standard) of a folder, once as long as it does
 * not change. Undefined when there is none. Paths that leave the folder are refused, as the standard asks; whether a
 * path is a link that leaves it is asked of a resource when it is read: see `leavingLink`.
 */
export async function readDescriptor(folder: string): Promise<Descriptor | undefined> {
  const path = join(folder, descriptorName);
  let stamp: string;
  try {
    const found = statSync(path);
    if (!found.isFile()) throw new Error("it is no regular file");
    if (found.size > mostBytes)
      throw new Error(`it has ${Math.round(found.size / 2 ** 20)} MiB, more than the 16 that are read`);
    stamp = stampOf(found);
  } catch (error) {
    lately.delete(path);
    if (
      (error as NodeJS.ErrnoException).code === "ENOENT" ||
      (error as NodeJS.ErrnoException).code === "ENOTDIR"
    )
      return undefined;
    return unopened(path, error);
  }
  const known = lately.get(path);
  if (known?.stamp === stamp) return known.descriptor;
  const descriptor = readFile(path, "utf8").then(
    (text) => descriptorFrom(folder, path, text),
    (error: unknown) => unopened(path, error),
  );
  if (lately.size >= mostLately) lately.delete(lately.keys().next().value as string);
  lately.set(path, { stamp, descriptor });
  return descriptor;
}

function unopened(path: string, error: unknown): Descriptor {
  return {
    path,
    resources: [],
    problems: [problem(path, `the descriptor cannot be opened: ${reason(error)}`)],
  };
}

function descriptorFrom(folder: string, path: string, text: string): Descriptor {
  let json: unknown;
  try {
    json = JSON.parse(text.replace(/^\ufeff/, ""));
  } catch (error) {
    return {
      path,
      resources: [],
      problems: [
        problem(
          path,
          `the descriptor is not JSON: ${visible(reason(error), 120)}; the files are read without it`,
        ),
      ],
    };
  }
  const problems: Finding[] = [];
  const root = asObject(json);
  const listed = root?.resources;
  if (root === undefined || !Array.isArray(listed)) {
    return {
      path,
      resources: [],
      problems: [problem(path, "the descriptor has no list of resources; the files are read without it")],
    };
  }
  const common = asObject(root.shaftwise) ?? {};
  const resources: DescribedResource[] = [];
  for (const [i, entry] of listed.entries()) {
    const resource = asObject(entry);
    if (resource === undefined) {
      problems.push(problem(path, `resource ${i + 1} is no object`));
      continue;
    }
    const name = typeof resource.name === "string" ? resource.name : `resource ${i + 1}`;
    const named = (Array.isArray(resource.path) ? resource.path : [resource.path]).filter(
      (p): p is string => typeof p === "string" && p !== "",
    );
    const paths = [...new Set(named)];
    if (paths.length < named.length)
      problems.push(
        problem(path, `resource "${visible(name, 60)}" names a file more than once; each is read once`),
      );
    if (paths.length === 0) {
      problems.push(problem(path, `resource "${visible(name, 60)}" has no path`));
      continue;
    }
    const leaving = paths.find(
      (p) => isAbsolute(p) || normalize(p).split(/[\\/]/)[0] === ".." || /^[a-z][a-z0-9+.-]+:\/\//i.test(p),
    );
    if (leaving !== undefined) {
      problems.push(
        problem(
          path,
          `the path "${visible(leaving, 80)}" of resource "${visible(name, 60)}" leaves the folder; it is not read`,
        ),
      );
      continue;
    }
    const own = asObject(resource.shaftwise) ?? {};
    const facts = statedFacts(common, own, `resource "${visible(name, 60)}"`, path, problems);
    const title = typeof resource.title === "string" ? resource.title : undefined;
    resources.push({
      name,
      files: paths.map((p) => join(folder, p)),
      fields: fieldsOf(resource, `resource "${visible(name, 60)}"`, path, problems),
      facts: { ...facts, title: facts.title ?? title },
      rate: positive(own.rate) ?? positive(common.rate),
    });
  }
  return { path, resources, problems };
}

/** Facts of the package with those of the resource laid over them; what cannot be right is left out and told. */
export function statedFacts(
  common: Plain,
  own: Plain,
  where: string,
  file: string,
  problems: Finding[],
): StatedFacts {
  const pick = (key: string): unknown => own[key] ?? common[key];
  const merged = (key: string): Record<string, unknown> => ({
    ...asObject(common[key]),
    ...asObject(own[key]),
  });
  const ordering = pick("ordering");
  let order: LeadOrder | undefined;
  if (typeof ordering === "string") {
    order = readLeadOrder(ordering)?.order;
    if (order === undefined) {
      problems.push(
        problem(
          file,
          `"${visible(ordering, 40)}" (${where}) is no order of the leads; write one of ${leadOrders.join(", ")}, or the same in A, B, C, R, S, T, L1, L2, L3 or 1, 2, 3`,
        ),
      );
    }
  }
  const trials: { kind: TrialKind; start: number; end: number }[] = [];
  const list = pick("trials");
  if (Array.isArray(list)) {
    for (const [i, entry] of list.entries()) {
      const trial = asObject(entry);
      const kind = trialKinds.find((k) => k === trial?.kind);
      const start = Number(trial?.start);
      const end = Number(trial?.end);
      if (kind === undefined || !(end > start)) {
        problems.push(
          problem(
            file,
            `trial ${i + 1} of ${where} needs a kind (${trialKinds.join(", ")}) and start before end; it is left out`,
          ),
        );
      } else trials.push({ kind, start, end });
    }
  }
  return {
    ordering: order,
    motor:
      typeof pick("motor") === "string" || typeof pick("motor") === "number"
        ? String(pick("motor"))
        : undefined,
    title: typeof pick("title") === "string" ? (pick("title") as string) : undefined,
    machine: numbersOnly(merged("machine"), where, file, problems) as MachineFacts,
    drive: numbersOnly(merged("drive"), where, file, problems) as DriveFacts,
    encoder: numbersOnly(merged("encoder"), where, file, problems) as EncoderFacts,
    trials: trials.length > 0 ? trials : undefined,
  };
}

/** Keeps finite positive numbers (zero for friction), booleans and the known words; tells what it drops. */
function numbersOnly(
  values: Record<string, unknown>,
  where: string,
  file: string,
  problems: Finding[],
): Plain {
  const kept: Record<string, unknown> = {};
  for (const [key, value] of Object.entries(values)) {
    if (value === null || value === undefined) continue;
    const mayBeZero = /friction|kp|ki/i.test(key);
    if (typeof value === "number" && Number.isFinite(value) && (value > 0 || (mayBeZero && value === 0)))
      kept[key] = value;
    else if (typeof value === "boolean") kept[key] = value;
    else if (key === "modulation" && (value === "space-vector" || value === "sine")) kept[key] = value;
    else if (key === "speedLoop" && asObject(value) !== undefined) {
      const { kp, ki } = asObject(value) as { kp?: unknown; ki?: unknown };
      if (typeof kp === "number" && typeof ki === "number" && Number.isFinite(kp) && Number.isFinite(ki))
        kept[key] = { kp, ki };
    } else {
      problems.push(
        problem(
          file,
          `"${visible(key, 40)}" of ${where} is ${visible(JSON.stringify(value) ?? "", 40)}, no positive number; it is left out`,
        ),
      );
    }
  }
  return kept;
}

/** What is wrong when a path of a resource is, or passes through, a link to somewhere outside the folder: what a
 * package brings along must lie in it. @param known real paths asked for before */
export async function leavingLink(
  descriptor: Descriptor,
  resource: DescribedResource,
  known: Map<string, string | undefined> = new Map(),
): Promise<Finding | undefined> {
  // Thousands of resources may name one file.
  const where = async (path: string): Promise<string | undefined> => {
    if (!known.has(path)) known.set(path, await realpath(path).catch(() => undefined));
    return known.get(path);
  };
  const folder = dirname(descriptor.path);
  const home = (await where(folder)) ?? resolve(folder);
  for (const file of resource.files) {
    const target = await where(file);
    if (target !== undefined && target !== home && !target.startsWith(home.endsWith(sep) ? home : home + sep))
      return problem(
        descriptor.path,
        `the path "${visible(relative(folder, file), 80)}" of resource "${visible(resource.name, 60)}" is a link that leaves the folder; it is not read`,
      );
  }
  return undefined;
}

/** Resources of a descriptor by the full paths of their files. */
const byFile = new WeakMap<Descriptor, ReadonlyMap<string, DescribedResource>>();

/** The resource of a descriptor that names this file. */
export function resourceOf(descriptor: Descriptor | undefined, file: string): DescribedResource | undefined {
  if (descriptor === undefined) return undefined;
  let files = byFile.get(descriptor);
  if (files === undefined) {
    // The first resource that names a file has it.
    files = new Map(
      descriptor.resources.flatMap((r) => r.files.map((f) => [resolve(f), r] as const)).reverse(),
    );
    byFile.set(descriptor, files);
  }
  return files.get(resolve(file));
}

/** Folder whose descriptor may name this file. */
export function folderOf(file: string): string {
  return dirname(file);
}

/** True for the descriptor file itself. */
export function isDescriptor(file: string): boolean {
  return basename(file) === descriptorName;
}

function fieldsOf(resource: Plain, where: string, file: string, problems: Finding[]): DescribedField[] {
  const fields = asObject(resource.schema)?.fields;
  if (!Array.isArray(fields)) return [];
  const out: DescribedField[] = [];
  const wrong: string[] = [];
  for (const entry of fields) {
    const field = asObject(entry);
    if (typeof field?.name !== "string") continue;
    const role = typeof field.role === "string" ? field.role : undefined;
    if (role !== undefined && role !== "" && !isColumnRole(role))
      wrong.push(`"${visible(role, 40)}" of "${visible(field.name, 40)}"`);
    out.push({ name: field.name, unit: typeof field.unit === "string" ? field.unit : undefined, role });
  }
  if (wrong.length > 0) problems.push(wrongRoles(wrong, where, file));
  return out;
}

/** Roles that are none, in one finding for a resource. */
function wrongRoles(wrong: readonly string[], where: string, file: string): Finding {
  const some = `${wrong.slice(0, 4).join(", ")}${wrong.length > 4 ? ` and ${wrong.length - 4} more` : ""}`;
  const roles = meanings.filter((m) => m !== "other").join(", ");
  return problem(
    file,
    `${some} (${where}) ${wrong.length === 1 ? "is no role; the column is" : "are no roles; the columns are"} told by name and numbers instead; the roles are ${roles}`,
  );
}

function asObject(value: unknown): Plain | undefined {
  return typeof value === "object" && value !== null && !Array.isArray(value) ? (value as Plain) : undefined;
}

function positive(value: unknown): number | undefined {
  return typeof value === "number" && Number.isFinite(value) && value > 0 ? value : undefined;
}

function problem(file: string, message: string): Finding {
  return { severity: "warning", code: "descriptor", message, file };
}

function reason(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
