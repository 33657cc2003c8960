import { basename } from "node:path";

/** A part of the library, and the tests that are asked about it: quick ones of the room and its neighbours. */
interface Room {
  /** Folder of `lib`. */
  readonly source: string;
  /** Patterns of test files. */
  readonly tests: readonly string[];
}

export const rooms: Readonly<Record<string, Room>> = {
  motor: { source: "motor", tests: ["tests/motor/*.test.ts"] },
  diagnosis: {
    source: "diagnosis",
    tests: ["tests/diagnosis/*.test.ts", "tests/analysis/{healthGates,longLog}.test.ts"],
  },
  identify: {
    source: "identify",
    tests: ["tests/{identify,steps,control}/*.test.ts", "tests/analysis/longLog.test.ts"],
  },
  columns: {
    source: "recording/columns",
    tests: ["tests/recording/!(arrow*).test.ts", "tests/corpus/*.test.ts"],
  },
};

/**
 * The order for a changed source: first what noticed a slip in that source before and what is named for it, then the
 * quickest. What noticed something before comes before what never did.
 */
export function orderFor(
  source: string,
  seconds: ReadonlyMap<string, number>,
  noticed: readonly { readonly file: string; readonly by?: string }[],
): string[] {
  const named = basename(source, ".ts");
  const score = (test: string): number => {
    const short = basename(test, ".test.ts");
    const here = noticed.filter(({ file, by }) => file === source && by === short).length;
    const anywhere = noticed.filter(({ by }) => by === short).length;
    const weight = 1 + 6 * here + Math.min(8, anywhere) + (short.startsWith(named) ? 20 : 0);
    return (0.05 + (seconds.get(test) ?? 0)) / weight;
  };
  return [...seconds.keys()].sort((a, b) => score(a) - score(b));
}
