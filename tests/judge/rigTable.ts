import type { RigOutcome } from "./rigBench.js";

const open = (o: RigOutcome): boolean => o.said === "undetermined" || o.said === "no trial";
export const isWrong = (o: RigOutcome): boolean => !open(o) && !o.truth.includes(o.said);
const decidable = (o: RigOutcome): boolean => !o.truth.includes("undetermined");

/** Sums of one list. */
export function rigSums(list: readonly RigOutcome[]) {
  return {
    count: list.length,
    decidable: list.filter(decidable).length,
    right: list.filter((o) => decidable(o) && o.truth.includes(o.said)).length,
    wrong: list.filter(isWrong).length,
    sure: list.filter((o) => isWrong(o) && o.confidence > 0.8).length,
  };
}

/** Truth against what was said, and by loop, shape, load and wiring, as Markdown. */
export function rigTables(all: readonly RigOutcome[]): string {
  const words = ["tracking", "reversed", "runaway", "blocked", "undetermined", "no trial"];
  const truths = [...new Set(all.map((o) => o.truth.join("|")))].sort();
  const table = [
    `| truth \\ said | ${words.join(" | ")} |`,
    `|---|${words.map(() => "---|").join("")}`,
    ...truths.map(
      (t) =>
        `| ${t} | ${words.map((w) => all.filter((o) => o.truth.join("|") === t && o.said === w).length).join(" | ")} |`,
    ),
    "",
    "| | trials | decidable | right of these | wrong | wrong above 80 % |",
    "|---|---|---|---|---|---|",
  ];
  const line = (name: string, list: readonly RigOutcome[]): string =>
    `| ${name} | ${Object.values(rigSums(list)).join(" | ")} |`;
  table.push(line("**all**", all));
  for (const key of ["loop", "shape", "load", "wiring"] as const)
    for (const name of [...new Set(all.map((o) => o[key]))].sort())
      table.push(
        line(
          `${key}: ${name}`,
          all.filter((o) => o[key] === name),
        ),
      );
  return table.join("\n");
}
