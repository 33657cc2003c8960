import { basename } from "node:path";

/** Folders of `lib` whose slips are tried. */
export const rooms: Readonly<Record<string, string>> = {
  motor: "motor",
  diagnosis: "diagnosis",
  identify: "identify",
  columns: "recording/columns",
};

/** Test files that are asked: quick ones of the rooms that read recordings and judge them. */
export const asked = [
  "tests/{motor,diagnosis,identify,steps,control,corpus,numeric}/*.test.ts",
  "tests/recording/!(arrow*).test.ts",
  "tests/analysis/{damagedLogs,healthGates,readJson,longLog}.test.ts",
];

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
