import { diagnose } from "../../lib/diagnosis/index.js";
import { posteriorAfter, sameRemedy } from "../../lib/diagnosis/nextTest.js";
import type { CauseCode } from "../../lib/diagnosis/tables/causes.js";
import type { Diagnosis, TrialVerdict } from "../../lib/diagnosis/types.js";
import { type SetScenario, setScenario } from "./setScenario.js";

/** What one whole set came to. */
export interface SetOutcome {
  readonly seed: number;
  readonly fault: string;
  readonly simulator: string;
  readonly orders: number;
  /** A sound order (g > 0.9) was among those tried. */
  readonly hasGood: boolean;
  /** Sound orders that were called usable; orders with g < 0.5, a mismatch, an open lead or a jam that were. */
  readonly good: number;
  readonly goodKept: number;
  /** Sound orders whose torque trial showed both senses to its end, and those of them called usable. */
  readonly goodShown: number;
  readonly goodShownKept: number;
  readonly badKept: number;
  readonly negative: number;
  readonly negativeKept: number;
  /** Orders that need rework: how many were given the right one, none, or a wrong one. */
  readonly reworkRight: number;
  readonly reworkNone: number;
  readonly reworkWrong: number;
  /** Orders whose offset is wrong: first-named cause right within the set, and judged alone. */
  readonly offsetOrders: number;
  readonly causeInSet: number;
  readonly causeAlone: number;
  /** Orders that moved, beside a sound one: true gain within the stated interval, and mean size of the error, in the
   * set and alone. */
  readonly gains: number;
  readonly gainInside: number;
  readonly gainError: number;
  readonly gainErrorAlone: number;
  /** A next test was named; after the outcome the truth gives it, the right mend leads; before it, it did. */
  readonly nextTest: boolean;
  readonly leadsAfter: boolean;
  readonly ledBefore: boolean;
}

const reworks: Readonly<Record<string, RegExp>> = {
  "phases-swapped": /exchange any two/i,
  "stale-offset-plus": /repeat the alignment/i,
  "stale-offset-minus": /repeat the alignment/i,
  "half-turn-offset": /repeat the alignment/i,
  "disturbed-offset": /repeat the alignment/i,
  "pole-pairs-wrong": /set the pole pairs/i,
  "line-count-wrong": /encoder lines|line count/i,
  "line-count-quadrature": /encoder lines|line count/i,
  jam: /free the shaft/i,
  "open-phase": /three leads for continuity/i,
  "current-not-following": /drive's state/i,
};

const causesOf = (trials: readonly TrialVerdict[]): TrialVerdict["causes"] =>
  trials.find((t) => t.causes.length > 0)?.causes ?? [];
const gainOf = (trials: readonly TrialVerdict[]): TrialVerdict["torqueFactor"] =>
  trials.find((t) => t.torqueFactor)?.torqueFactor;

/** Judges a set as a whole, and each of its orders alone. */
export function judgeSet(seed: number, made: SetScenario = setScenario(seed)): SetOutcome {
  const { inputs, truth, fault, simulator } = made;
  const diagnosis = diagnose(inputs);
  const alone = inputs.map((input) => diagnose([input]));
  let good = 0;
  let goodKept = 0;
  let goodShown = 0;
  let goodShownKept = 0;
  let badKept = 0;
  let negative = 0;
  let negativeKept = 0;
  let reworkRight = 0;
  let reworkNone = 0;
  let reworkWrong = 0;
  let offsetOrders = 0;
  let causeInSet = 0;
  let causeAlone = 0;
  let gains = 0;
  let gainInside = 0;
  let gainError = 0;
  let gainErrorAlone = 0;
  const hasGood = truth.some((t) => t.cause === "nothing-wrong" && t.gain > 0.9);
  truth.forEach((t, k) => {
    const row = diagnosis.orderings.find((o) => o.ordering === t.order);
    const trials = diagnosis.recordings[k].trials;
    const named = causesOf(trials)[0]?.cause;
    const kept = row?.usable === true;
    if (t.cause === "nothing-wrong") {
      good += 1;
      if (kept) goodKept += 1;
      if (trials.some((v) => v.kind === "torque" && v.verdict === "tracking" && v.missing === undefined)) {
        goodShown += 1;
        if (kept) goodShownKept += 1;
      }
    } else {
      if (kept && !(t.gain > 0.5)) badKept += 1;
      if (row?.rework === undefined) reworkNone += 1;
      else if (reworks[t.cause]?.test(row.rework)) reworkRight += 1;
      else reworkWrong += 1;
    }
    if (t.gain < 0) {
      negative += 1;
      if (kept) negativeKept += 1;
    }
    if (t.cause.includes("offset")) {
      offsetOrders += 1;
      if (named === t.cause) causeInSet += 1;
      if (causesOf(alone[k].recordings[0].trials)[0]?.cause === t.cause) causeAlone += 1;
    }
    const stated = gainOf(trials);
    const single = gainOf(alone[k].recordings[0].trials);
    if (hasGood && t.mismatch < 1e-9 && stated && single && Number.isFinite(t.gain)) {
      gains += 1;
      if (stated.low - 1e-9 <= t.gain && t.gain <= stated.high + 1e-9) gainInside += 1;
      gainError += Math.abs(stated.value - t.gain);
      gainErrorAlone += Math.abs(single.value - t.gain);
    }
  });
  const test = testOutcome(diagnosis, made);
  return {
    seed,
    fault,
    simulator,
    orders: truth.length,
    hasGood,
    good,
    goodKept,
    goodShown,
    goodShownKept,
    badKept,
    negative,
    negativeKept,
    reworkRight,
    reworkNone,
    reworkWrong,
    offsetOrders,
    causeInSet,
    causeAlone,
    gains,
    gainInside,
    gainError,
    gainErrorAlone,
    ...test,
  };
}

/** Plays the next test through with the truth known: does the right mend lead afterwards? */
function testOutcome(
  diagnosis: Diagnosis,
  made: SetScenario,
): { nextTest: boolean; leadsAfter: boolean; ledBefore: boolean } {
  const { nextTest } = diagnosis;
  if (!nextTest) return { nextTest: false, leadsAfter: false, ledBefore: false };
  const order = /^\((\w{3})\)/.exec(nextTest.test)?.[1];
  const at = Math.max(
    0,
    made.truth.findIndex((t) => t.order === order),
  );
  const truth = made.truth[at].cause as CauseCode;
  const odds = new Map(
    causesOf(diagnosis.recordings[at].trials).map(({ cause, probability }) => [
      cause as CauseCode,
      probability,
    ]),
  );
  const leads = (map: ReadonlyMap<CauseCode, number>): boolean => {
    const sums = new Map<CauseCode, number>();
    for (const [code, p] of map) {
      const head = sameRemedy(code)[0];
      sums.set(head, (sums.get(head) ?? 0) + p);
    }
    const [best] = [...sums].reduce((a, b) => (b[1] > a[1] ? b : a));
    return sameRemedy(truth).includes(best);
  };
  const after = posteriorAfter(odds, nextTest.test, truth);
  return { nextTest: true, leadsAfter: after !== undefined && leads(after), ledBefore: leads(odds) };
}
