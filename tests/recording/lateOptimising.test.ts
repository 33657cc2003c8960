import { spawnSync } from "node:child_process";
import { describe, expect, it } from "vitest";
import { lateOptimising } from "../../lib/recording/limits/lateOptimising.js";

describe("lateOptimising", () => {
  it("names flags that this engine knows, or none", () => {
    const { status, stderr } = spawnSync(process.execPath, [...lateOptimising(), "-e", "0"], {
      encoding: "utf8",
    });
    expect({ status, stderr }).toEqual({ status: 0, stderr: "" });
  });

  it("leaves an engine alone on which it was not measured", () => {
    expect(lateOptimising("10.2.154.26-node.36")).toEqual([]);
    expect(lateOptimising("12.9.1")).toEqual([]);
    expect(lateOptimising("99.0")).toEqual([]);
    expect(lateOptimising("")).toEqual([]);
  });
});
