import { defineConfig } from "vitest/config";
import type { TestSpecification } from "vitest/node";

/** Runs test files one after the other in the order of MUTATION_ORDER, so that the likeliest to notice a slip comes
 * first. */
class NamedOrder {
  shard(files: TestSpecification[]): TestSpecification[] {
    return files;
  }

  sort(files: TestSpecification[]): TestSpecification[] {
    const order = (process.env.MUTATION_ORDER ?? "").split(",");
    const place = (file: TestSpecification) => order.findIndex((name) => file.moduleId.endsWith(name));
    return [...files].sort((a, b) => place(a) - place(b));
  }
}

export default defineConfig({
  test: {
    include: ["tests/**/*.test.ts"],
    testTimeout: 40_000,
    hookTimeout: 120_000,
    pool: "forks",
    maxWorkers: 1,
    isolate: false,
    bail: 1,
    sequence: { sequencer: NamedOrder as never },
    experimental: { fsModuleCache: true, fsModuleCachePath: ".module-cache" },
  },
});
