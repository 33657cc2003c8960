import { defineConfig } from "vitest/config";
import { lateOptimising } from "./lib/recording/limits/lateOptimising.js";

/** Tests that start processes, threads, browsers, kernels or servers, or flood this one: they are slow, and run one
 * file at a time. */
const processTests = [
  "tests/study/{run,hostile,queue,queueHostile,largeTables}.test.ts",
  "tests/hostile/{hostile,limits,floods,traps,security,relatives,oddWords}.test.ts",
  "tests/recording/arrowLists.test.ts",
  "tests/analysis/{analyseFiles,contradictions,limitOfTime,onePipeline}.test.ts",
  "tests/cli/{guides,hostileText,main}.test.ts",
  "tests/notebooks/{anyFolder,jupyter,notebookServer,showsItself}.test.ts",
  "tests/**/*.browser.test.ts",
];

/** Tests that count over many simulated recordings or fleets, or read many texts, how often what is stated holds. */
const benches = [
  "tests/study/{decisions,dayChart,fleet,turnbullCoverage}.test.ts",
  "tests/published/reliability/runLength.test.ts",
  "tests/identify/{coverage,dcExamples}.test.ts",
  "tests/judge/rigs.test.ts",
  "tests/diagnosis/{calibrationSample,invariance}.test.ts",
  "tests/corpus/{corpus,headings}.test.ts",
  "tests/analysis/sameNumbers.test.ts",
  "tests/cli/humanText.test.ts",
];

/** Properties over drawn folders of logs: a few draws in the quick tests, all of them among the benches. */
const properties = ["tests/recording/lossOfHabits.test.ts", "tests/report/plantedFiles.test.ts"];

/** Most test files are done within a second, of which compiling for a long life would take a tenth; a young heap of
 * this size is seldom collected (megabytes). */
const shortLife = [...lateOptimising(), "--max-semi-space-size=64"];

export default defineConfig({
  test: {
    // No test asserts a time: a test that hangs is ended, one on a machine that is busy with other work is not.
    testTimeout: 300_000,
    hookTimeout: 300_000,
    pool: "forks",
    setupFiles: ["tests/propertySeed.ts"],
    // In CI the counts are also written down, so that .ci/run can print them as its closing line.
    reporters: process.env.CI
      ? ["default", ["json", { outputFile: process.env.SHAFTWISE_TEST_REPORT ?? "reports/tests.json" }]]
      : ["default"],
    projects: [
      {
        extends: true,
        test: {
          name: "quick",
          include: ["tests/**/*.test.ts"],
          exclude: [...processTests, ...benches],
          maxWorkers: 2,
          // A worker reads the library once for all its files. So no test may change what another sees (environment,
          // folder, clock) without putting it back.
          isolate: false,
          execArgv: shortLife,
          sequence: { groupOrder: 0 },
        },
      },
      {
        extends: true,
        test: {
          name: "processes",
          include: processTests,
          maxWorkers: 1,
          sequence: { groupOrder: 1 },
        },
      },
      {
        extends: true,
        test: {
          name: "benches",
          include: [...benches, ...properties],
          env: { LOSS_RUNS: process.env.LOSS_RUNS ?? "10", PLANTED_CASES: "32" },
          maxWorkers: 2,
          sequence: { groupOrder: 2 },
        },
      },
    ],
  },
});
