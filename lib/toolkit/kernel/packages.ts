/**
 * Finds packages for a notebook that lies in any folder: first as Node.js and TypeScript would, from the notebook's own
 * folder upwards, and where they find nothing from the folder of this package, which knows itself and what it was
 * installed with.
 */
import { existsSync } from "node:fs";
import Module, { createRequire } from "node:module";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

/** The folder of this package: that of the nearest package.json. */
export function ownFolder(): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, "package.json")) && dirname(folder) !== folder) folder = dirname(folder);
  return folder;
}

/** Lets `require` (which is what an import in a cell becomes) fall back on the packages of this one. */
export function requireFallsBack(): void {
  const loader = Module as unknown as { _resolveFilename(request: string, ...rest: unknown[]): string };
  const usual = loader._resolveFilename;
  const own = createRequire(join(ownFolder(), "package.json"));
  loader._resolveFilename = function (this: unknown, request, ...rest) {
    try {
      return usual.call(this, request, ...rest);
    } catch (error) {
      if (!isPackageName(request) || (error as { code?: string }).code !== "MODULE_NOT_FOUND") throw error;
      try {
        return usual.call(this, own.resolve(request));
      } catch {
        throw error;
      }
    }
  };
}

/** What of TypeScript's access to files is used. */
export interface FileAccess {
  fileExists(path: string): boolean;
  readFile(path: string, encoding?: string): string | undefined;
  directoryExists(path: string): boolean;
  readDirectory(path: string, ...rest: unknown[]): string[];
  getDirectories(path: string): string[];
  realpath?(path: string): string;
  getModifiedTime?(path: string): Date | undefined;
}

/**
 * Lets TypeScript find the types of the same packages: a path `<folder>/node_modules/<package>/...` that does not exist
 * is read where the package is. TypeScript's resolution for scripts knows no other way than node_modules folders.
 *
 * @param folder - Folder of the notebook.
 */
export function typesFallBack(access: FileAccess, folder: string): void {
  const start = `${folder.replaceAll("\\", "/")}/node_modules/`;
  const places = new Map<string, string | undefined>();
  const moved = (path: string): string => {
    if (!path.startsWith(start)) return path;
    const name = /^(@[^/]+(?:\/[^/]+)?|[^/]+)/.exec(path.slice(start.length))?.[0];
    if (name === undefined) return path;
    if (!places.has(name)) places.set(name, placeOf(name, folder));
    const place = places.get(name);
    return place === undefined ? path : place + path.slice(start.length + name.length);
  };
  const usual = { ...access };
  Object.assign(access, {
    fileExists: (path: string) => usual.fileExists(moved(path)),
    readFile: (path: string, encoding?: string) => usual.readFile(moved(path), encoding),
    directoryExists: (path: string) => usual.directoryExists(moved(path)),
    readDirectory: (path: string, ...rest: unknown[]) => usual.readDirectory(moved(path), ...rest),
    getDirectories: (path: string) => usual.getDirectories(moved(path)),
    realpath: (path: string) => usual.realpath?.(moved(path)) ?? moved(path),
    getModifiedTime: (path: string) => usual.getModifiedTime?.(moved(path)),
  });
}

/** Where a package is that the folder does not have; undefined when it has it, or when nobody has. */
function placeOf(name: string, folder: string): string | undefined {
  if (upwards(folder).some((above) => existsSync(join(above, "node_modules", name)))) return undefined;
  const own = ownFolder();
  if (name === "shaftwise") return own.replaceAll("\\", "/");
  const found = upwards(own)
    .map((above) => join(above, "node_modules", name))
    .find((place) => existsSync(place));
  return found?.replaceAll("\\", "/");
}

function upwards(folder: string): string[] {
  const all = [resolve(folder)];
  while (dirname(all[all.length - 1]) !== all[all.length - 1]) all.push(dirname(all[all.length - 1]));
  return all;
}

function isPackageName(request: string): boolean {
  return !/^(\.|\/|[A-Za-z]:|node:|file:|#)/.test(request);
}
