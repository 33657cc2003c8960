/**
 * Packs the package, installs it in an empty project as a user would, and holds what the user then has against what is
 * promised:
 * `npm run build && npx tsx tests/package/consume.ts`. Needs the registry that npm is set to. Prints the sizes; exit status 1 on a broken promise.
 */
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import {
  cpSync,
  existsSync,
  lstatSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { drawingPackages } from "../../lib/chart/render/drawingPackages.js";
import { startKernel } from "../../notebooks/tools/kernel.js";

const root = join(import.meta.dirname, "../..");
const work = mkdtempSync(join(tmpdir(), "shaftwise-consumer-"));
const runs = join(root, "datasets/parcel-sorter");

/** Runs a program in the consumer's project; its output, or an error with everything it said when the status is not the
 * expected one. */
function run(program: string, args: readonly string[], expected = 0, folder = work): string {
  const done = spawnSync(program, args, { cwd: folder, encoding: "utf8", maxBuffer: 2 ** 28 });
  const said = `${done.stdout}${done.stderr}`;
  assert.equal(done.status, expected, `${program} ${args.join(" ")}: ${said.slice(-3000)}`);
  return said;
}

function bytesIn(path: string): number {
  const entry = lstatSync(path);
  if (!entry.isDirectory()) return entry.size;
  return readdirSync(path).reduce((sum, name) => sum + bytesIn(join(path, name)), 0);
}

function megabytes(bytes: number): string {
  return `${(bytes / 1e6).toFixed(1)} MB`;
}

function installed(): { packages: number; size: string } {
  const listed = run("npm", ["ls", "--all", "--parseable"]).trim().split("\n");
  return { packages: listed.length - 1, size: megabytes(bytesIn(join(work, "node_modules"))) };
}

try {
  const [packed] = JSON.parse(
    spawnSync("npm", ["pack", "--json", "--pack-destination", work], { cwd: root, encoding: "utf8" }).stdout,
  ) as { filename: string; size: number; unpackedSize: number; files: { path: string }[] }[];
  const strays = packed.files.filter(
    ({ path }) => !/^(dist\/|README|CHANGELOG|LICENSE|package\.json)/.test(path),
  );
  assert.deepEqual(strays, []);
  console.log(
    `packed ${megabytes(packed.size)}, unpacked ${megabytes(packed.unpackedSize)}, ${packed.files.length} files`,
  );

  writeFileSync(join(work, "package.json"), JSON.stringify({ name: "consumer", private: true }));
  run("npm", ["install", "--ignore-scripts", "--no-audit", "--no-fund", join(work, packed.filename)]);
  const plain = installed();
  console.log(`plain install, no install scripts: ${plain.packages} packages, ${plain.size}`);
  for (const name of [...drawingPackages, "@resvg/resvg-js", "bullmq", "ioredis", "danfojs-node"])
    assert(!existsSync(join(work, "node_modules", name)), `${name} is part of the plain install`);

  // The commands of a plain install, and what those that need more say.
  assert.match(run("npx", ["shaftwise", "diagnose", runs]), /UVW/);
  for (const command of ["inspect", "fit", "loop"])
    run("npx", ["shaftwise", command, join(runs, "order-uvw.csv")]);
  run("npx", ["shaftwise", "study", "run", join(runs, "*.csv"), "--out", "study", "--threads", "1"]);
  const report = run("npx", ["shaftwise", "report", runs], 1).trim();
  assert.match(report, /^shaftwise: .*npm install vega vega-lite .*$/);
  const worker = run(
    "npx",
    ["shaftwise", "study", "worker", "--queue", "redis://127.0.0.1:1", "--shared", "."],
    1,
  );
  assert.match(worker.trim(), /^shaftwise: .*npm install bullmq ioredis.*$/);
  console.log(
    "commands: diagnose, inspect, fit, loop, study run; report and study worker say what to install",
  );

  cpSync(join(import.meta.dirname, "consumers"), work, { recursive: true });
  for (const file of ["run.mjs", "run.cjs"]) {
    const lines = run("node", ["--no-warnings", file, runs]).trim().split("\n");
    const result = JSON.parse(lines.at(-1) ?? "");
    assert.deepEqual(result.usable, ["UVW"], file);
    assert.deepEqual(result.danfo, ["fromFrame", "toFrame"], file);
    assert.equal(result.rooms, "function", file);
  }
  console.log("run from an ES module and from CommonJS");

  // Declarations are checked whole (no skipLibCheck), with Node's types at hand and nothing else.
  mkdirSync(join(work, "node_modules/@types"), { recursive: true });
  for (const name of ["@types/node", "undici-types"])
    if (!existsSync(join(work, "node_modules", name)))
      cpSync(join(root, "node_modules", name), join(work, "node_modules", name), { recursive: true });
  const tsc = join(root, "node_modules/typescript/lib/tsc.js");
  cpSync(join(work, "consumer.ts"), join(work, "consumer.mts"));
  cpSync(join(work, "consumer.ts"), join(work, "consumer.cts"));
  const kinds: readonly (readonly [string, string, string])[] = [
    ["consumer.mts", "node16", "node16"],
    ["consumer.mts", "nodenext", "nodenext"],
    ["consumer.cts", "nodenext", "nodenext"],
    ["consumer.mts", "esnext", "bundler"],
    ["consumer.ts", "preserve", "bundler"],
  ];
  for (const [file, module, resolution] of kinds) {
    const options = ["--noEmit", "--strict", "--target", "es2022", "--types", "node"];
    options.push("--module", module, "--moduleResolution", resolution, file);
    // Errors inside other packages' declarations (arquero has some) are not ours to mend.
    const said = spawnSync("node", [tsc, ...options], { cwd: work, encoding: "utf8" }).stdout;
    const others = /^(node_modules\/(?!shaftwise\/)|\s|$)/;
    assert.deepEqual(
      said.split("\n").filter((line) => !others.test(line)),
      [],
    );
    console.log(`types: ${file}, module ${module}, resolution ${resolution}`);
  }

  // With the optional packages beside it the rest works too.
  run("npm", [
    "install",
    "--ignore-scripts",
    "--no-audit",
    "--no-fund",
    ...drawingPackages,
    "@resvg/resvg-js",
  ]);
  const full = installed();
  console.log(`with what draws: ${full.packages} packages, ${full.size}`);
  run("npx", ["shaftwise", "report", runs, "--out", "report"]);
  assert(lstatSync(join(work, "report/report.html")).size > 100_000);
  console.log("report written");

  // A notebook kernel that finds the package from a folder of its own.
  run("npm", ["install", "--ignore-scripts", "--no-audit", "--no-fund", "tslab"]);
  run("npx", ["shaftwise-kernel", join(work, "jupyter")]);
  const spec = JSON.parse(readFileSync(join(work, "jupyter/kernels/shaftwise/kernel.json"), "utf8"));
  const elsewhere = mkdtempSync(join(tmpdir(), "shaftwise-elsewhere-"));
  const kernel = await startKernel(elsewhere, (file) =>
    spec.argv.map((part: string) => part.replace("{connection_file}", file)),
  );
  try {
    const { ok, outputs } = await kernel.run(
      'import { leadOrders } from "shaftwise/motor"; leadOrders.length',
    );
    assert(ok && JSON.stringify(outputs).includes("6"), JSON.stringify(outputs));
  } finally {
    await kernel.close();
    rmSync(elsewhere, { recursive: true, force: true });
  }
  console.log("imported in a notebook cell of another folder");
} finally {
  if (!process.env.KEEP) rmSync(work, { recursive: true, force: true });
}
