import { defineConfig } from "vitest/config";

export default defineConfig({
  test: {
    include: ["tests/**/*.test.ts"],
    testTimeout: 60_000,
    hookTimeout: 120_000,
    pool: "forks",
    maxWorkers: 2,
    // In CI the counts are also written down, so that .ci/run can print them as its closing line.
    reporters: process.env.CI ? ["default", ["json", { outputFile: "reports/tests.json" }]] : ["default"],
  },
});
