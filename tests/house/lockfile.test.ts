import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";

const root = join(import.meta.dirname, "../..");
interface Lock {
  packages: Record<
    string,
    {
      version?: string;
      dev?: boolean;
      optional?: boolean;
      license?: string;
      hasInstallScript?: boolean;
      resolved?: string;
    }
  >;
}
const lock = JSON.parse(readFileSync(join(root, "package-lock.json"), "utf8")) as Lock;
const shipped = Object.entries(lock.packages).filter(([path, entry]) => path !== "" && !entry.dev);

test("the lock file carries no download addresses", () => {
  expect(Object.values(lock.packages).filter((entry) => entry.resolved !== undefined)).toEqual([]);
});

test("what a user of the package installs needs no install script (optional accelerators aside)", () => {
  const scripts = shipped
    .filter(([, entry]) => entry.hasInstallScript && !entry.optional)
    .map(([path]) => path);
  expect(scripts).toEqual([]);
});

test("every package a user installs has a permissive licence", () => {
  const permissive = new Set([
    "MIT",
    "ISC",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "Apache-2.0",
    "0BSD",
    "Unlicense",
    "BlueOak-1.0.0",
    "Python-2.0",
    "CC0-1.0",
    "MPL-2.0",
    "OFL-1.1",
    "Zlib",
    "BSL-1.0",
    "BSL-1.0",
    "WTFPL",
  ]);
  // States its licence in a file: that of NIST software and the HDF Group's BSD-style one, both permissive (read on
  // 2026-11-25).
  const readByHand = new Set(["node_modules/h5wasm", "node_modules/@lhncbc/ucum-lhc"]);
  // An expression such as "(MIT OR CC0-1.0)": every licence it names is permissive.
  const fine = (licence: string) =>
    licence
      .split(/[()\s]+|AND|OR/)
      .filter(Boolean)
      .every((one) => permissive.has(one));
  const others = shipped
    .filter(([path, entry]) => !readByHand.has(path) && !(entry.license !== undefined && fine(entry.license)))
    .map(([path, entry]) => `${path}: ${entry.license ?? "none stated"}`);
  expect(others).toEqual([]);
});

test("every direct dependency has its line in DEVELOPERS.md", () => {
  const manifest = JSON.parse(readFileSync(join(root, "package.json"), "utf8"));
  const guide = readFileSync(join(root, "DEVELOPERS.md"), "utf8");
  const names = Object.keys({
    ...manifest.dependencies,
    ...manifest.devDependencies,
    ...manifest.optionalDependencies,
    ...manifest.peerDependencies,
  });
  expect(names.filter((name) => !guide.includes(`\`${name}\``))).toEqual([]);
});

test("every optional peer is installed here too, and at the same range", () => {
  const manifest = JSON.parse(readFileSync(join(root, "package.json"), "utf8"));
  for (const [name, range] of Object.entries(manifest.peerDependencies)) {
    expect(manifest.peerDependenciesMeta[name]).toEqual({ optional: true });
    expect(manifest.devDependencies[name]).toBe(range);
    expect(Object.keys(manifest.dependencies)).not.toContain(name);
  }
});
