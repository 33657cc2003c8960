/** What a motor is does not depend on when the clock was started. */
import { expect, test } from "vitest";
import { constantsOf } from "../../lib/identify/estimateConstants.js";
import { stepsOf } from "../../lib/identify/steps/fitSteps.js";
import type { Recording, Trial } from "../../lib/recording/types.js";
import { Run } from "../../lib/run/run.js";
import type { Case } from "../answers/cases.js";
import { differences } from "./alike.js";

/** Seconds; a power of two, so that times keep most of their digits. */
export const later = 512;

export const shifted = (recording: Recording): Recording => ({
  ...recording,
  time: recording.time.map((t) => t + later),
  ...(recording.declaredTrials === undefined
    ? {}
    : {
        declaredTrials: recording.declaredTrials.map((t) => ({
          ...t,
          start: t.start + later,
          end: t.end + later,
        })),
      }),
});

export const shiftedTrial = (trial: Trial): Trial => ({
  ...trial,
  start: trial.start + later,
  end: trial.end + later,
  steps: trial.steps.map((step) => ({ ...step, time: step.time + later })),
});

/** Constants by every route, and steps as they were fitted. */
function foundIn(recording: Recording, trials: readonly Trial[] | undefined) {
  const run = new Run(recording, trials);
  const { findings: _, ...constants } = constantsOf(run);
  return { constants, steps: stepsOf(run).map(({ fit }) => fit.fit) };
}

/** One test for each case: the same constants and steps, whenever the clock was started. */
export function sameWheneverStarted(cases: readonly Case[]): void {
  for (const one of cases)
    test(`${one.name}: the same constants and steps, whenever the clock was started`, async () => {
      const { recordings, trials } = await one.give();
      const before = foundIn(recordings[0], trials?.[0]);
      const after = foundIn(shifted(recordings[0]), trials?.[0].map(shiftedTrial));
      expect(Object.keys(before.constants).length).toBeGreaterThan(0);
      // Where the search for a step stopped is no answer.
      expect(differences(before, after, { within: 1e-4, except: ["x", "stop"] })).toEqual([]);
    });
}
