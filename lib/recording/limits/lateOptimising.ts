/**
 * Flags that let the engine optimise a function only when it has run some fifteen times as long as usual. A few logs
 * are done within seconds, of which compiling for a long life would take a third (docs/benchmarks.md); what does run
 * long is optimised a fraction of a second later. Named only for the engines on which it was measured (those of Node.js
 * 20, 22 and 24): another would complain about a flag it does not know.
 *
 * @param engine version of V8
 * @example
 * lateOptimising("11.3.244.8-node.30"); // => ["--interrupt-budget=1000000"]
 * lateOptimising("99.0"); // => []
 */
export function lateOptimising(engine = process.versions.v8): readonly string[] {
  const [major, minor] = engine.split(".").map(Number);
  if (major === 11 && minor === 3) return ["--interrupt-budget=1000000"];
  if ((major === 12 && minor === 4) || (major === 13 && minor === 6))
    return ["--invocation-count-for-turbofan=45000"];
  return [];
}
