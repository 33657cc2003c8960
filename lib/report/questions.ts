import { kindText } from "../chart/kindText.js";
import type { Diagnosis } from "../diagnosis/types.js";
import { sentence } from "../units/forPeople.js";

/** Something to ask of whoever recorded the log, or to try: and what its answers would tell. */
export interface Question {
  readonly ask: string;
  /** What each answer means; empty where it only fills a gap. */
  readonly answers: readonly string[];
  /** Expected information, bits, where it was reckoned. */
  readonly information?: number;
  readonly caution?: string;
}

/** Most questions that are asked at once: more are not answered. */
const most = 5;

/** Kinds of stretch that nobody commands. */
const silent: ReadonlySet<string> = new Set(["coast", "motion", "driven", "idle"]);
/** Kinds of stretch that ask nothing of the shaft, and of whose command nobody is asked where there are others. */
const atRest: ReadonlySet<string> = new Set(["coast", "idle"]);

/**
 * What to ask when the log does not settle it, the most telling first: the next test with its outcomes, then what is
 * missing for a verdict, in how many trials.
 *
 * @example
 * questions(diagnosis)[0]?.ask;
 */
export function questions(diagnosis: Pick<Diagnosis, "recordings" | "nextTest">): Question[] {
  const { nextTest } = diagnosis;
  const first: Question[] = nextTest
    ? [
        {
          ask: nextTest.test.replace(
            /^\(([UVW]{3})\) (.)/,
            (_, order: string, first: string) => `With order ${order}: ${first.toLowerCase()}`,
          ),
          answers: nextTest.outcomes.map((one) => sentence(one)),
          information: nextTest.information,
          ...(nextTest.caution ? { caution: nextTest.caution } : {}),
        },
      ]
    : [];
  const missing = new Map<string, { count: number; kinds: Set<string> }>();
  // A coast-down or a motion without a command asks for nothing where other trials were judged.
  const judged = diagnosis.recordings.some(({ trials }) =>
    trials.some((trial) => trial.verdict !== "undetermined"),
  );
  const only = diagnosis.recordings.every(({ trials }) => trials.every(({ kind }) => atRest.has(kind)));
  const left = judged ? silent : only ? new Set<string>() : atRest;
  for (const { trials } of diagnosis.recordings)
    for (const trial of trials.filter(({ kind }) => !left.has(kind)))
      for (const one of trial.missing ?? []) {
        const seen = missing.get(one) ?? { count: 0, kinds: new Set<string>() };
        seen.count++;
        seen.kinds.add(kindText(trial.kind));
        missing.set(one, seen);
      }
  const gaps = [...missing]
    .sort((a, b) => b[1].count - a[1].count)
    .map(([what, { count, kinds }]): Question => {
      const [kind] = kinds;
      const where = count === 1 ? `${/^[aeiou]/.test(kind) ? "an" : "a"} ${kind}` : `${count} trials`;
      return { ask: `Still needed to judge ${where}: ${what}.`.replace(/\.\.$/, "."), answers: [] };
    });
  return [...first, ...gaps].slice(0, most);
}
