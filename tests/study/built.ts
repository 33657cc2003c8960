import { rmSync } from "node:fs";
import { join, resolve } from "node:path";
import { build } from "esbuild";

const root = resolve(import.meta.dirname, "../..");

/**
 * Bundles the study's processes as plain JavaScript, so that the tests which start many of them do not wait for a
 * compiler each time. Returns the folder; `remove` takes it away.
 */
export async function builtStudy(): Promise<{ folder: string; remove: () => void }> {
  const folder = join(root, "dist", `.study-tests-${process.pid}`);
  await build({
    entryPoints: {
      run: join(root, "tests/study/jobs/run.ts"),
      standIn: join(root, "tests/study/jobs/standIn.ts"),
      limitedChild: join(root, "lib/recording/limits/limitedChild.ts"),
      tablesWorker: join(root, "lib/study/pipeline/tablesWorker.ts"),
      judgeWorker: join(root, "lib/study/pipeline/judgeWorker.ts"),
    },
    bundle: true,
    packages: "external",
    format: "esm",
    platform: "node",
    target: "node20",
    outdir: folder,
    logLevel: "error",
  });
  return { folder, remove: () => rmSync(folder, { recursive: true, force: true }) };
}
