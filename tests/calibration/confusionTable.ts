import type { KindOutcome } from "./kindBench.js";

const open = (o: KindOutcome): boolean => o.said === "undetermined" || o.said === "no trial";
const right = (o: KindOutcome): boolean => o.said === o.truth || (o.truth === "undetermined" && open(o));

/** A verdict that is neither the truth nor left open. */
export const isWrong = (o: KindOutcome): boolean => !right(o) && !open(o);

const words = ["tracking", "reversed", "runaway", "blocked", "undetermined"] as const;
const said = [...words, "no trial"] as const;

/** Sums of one list. */
export function sumsOf(list: readonly KindOutcome[]): {
  readonly count: number;
  readonly right: number;
  readonly open: number;
  readonly wrong: number;
  readonly sure: number;
} {
  return {
    count: list.length,
    right: list.filter(right).length,
    open: list.filter((o) => !right(o) && open(o)).length,
    wrong: list.filter(isWrong).length,
    sure: list.filter((o) => isWrong(o) && o.confidence > 0.8).length,
  };
}

function line(name: string, list: readonly KindOutcome[]): string {
  const s = sumsOf(list);
  return `| ${name} | ${s.count} | ${s.right} | ${s.open} | ${s.wrong} | ${s.sure} |`;
}

const head = (what: string): string =>
  `| ${what} | recordings | right | undetermined | wrong | wrong above 80 % |\n|---|---|---|---|---|---|`;

/** Truth against what was said, by kind of trial, and by fault of a channel: three tables in Markdown. */
export function confusionTables(all: readonly KindOutcome[]): string {
  const rows = words.map(
    (truth) =>
      `| ${truth} | ${said.map((w) => all.filter((o) => o.truth === truth && o.said === w).length).join(" | ")} |`,
  );
  const by = (key: "kind" | "fault"): string[] =>
    [...new Set(all.map((o) => o[key]))].sort().map((name) =>
      line(
        name,
        all.filter((o) => o[key] === name),
      ),
    );
  return [
    `| truth \\ said | ${said.join(" | ")} |\n|---|${said.map(() => "---|").join("")}`,
    ...rows,
    "",
    head("kind of trial"),
    line("**all**", all),
    ...by("kind"),
    "",
    head("what was wrong with the log"),
    ...by("fault"),
  ].join("\n");
}
