import type { SetOutcome } from "./judgeSet.js";

/** Sums over whole sets, all together and by what was wrong with them. */
export interface SetSummary {
  readonly sets: number;
  readonly first: number;
  readonly last: number;
  readonly second: number;
  readonly all: Sums;
  readonly byFault: Readonly<Record<string, Sums & { readonly sets: number }>>;
}

type Sums = Readonly<Record<Exclude<keyof SetOutcome, "seed" | "fault" | "simulator">, number>>;

const keys = [
  "orders",
  "hasGood",
  "good",
  "goodKept",
  "goodShown",
  "goodShownKept",
  "badKept",
  "negative",
  "negativeKept",
  "reworkRight",
  "reworkNone",
  "reworkWrong",
  "offsetOrders",
  "causeInSet",
  "causeAlone",
  "gains",
  "gainInside",
  "gainError",
  "gainErrorAlone",
  "nextTest",
  "leadsAfter",
  "ledBefore",
] as const;

const sums = (list: readonly SetOutcome[]): Sums =>
  Object.fromEntries(keys.map((key) => [key, list.reduce((total, o) => total + Number(o[key]), 0)])) as Sums;

export function summariseSets(outcomes: readonly SetOutcome[]): SetSummary {
  const faults = [...new Set(outcomes.map((o) => o.fault))];
  const seeds = outcomes.map((o) => o.seed);
  return {
    sets: outcomes.length,
    first: Math.min(...seeds),
    last: Math.max(...seeds),
    second: outcomes.filter((o) => o.simulator === "second").length,
    all: sums(outcomes),
    byFault: Object.fromEntries(
      faults.map((fault) => {
        const list = outcomes.filter((o) => o.fault === fault);
        return [fault, { sets: list.length, ...sums(list) }];
      }),
    ),
  };
}
