import { analyseRuns } from "../../lib/analysis/analyseRuns.js";
import type { AnalysedRecording } from "../../lib/analysis/conclude.js";
import { stepsOf } from "../../lib/identify/steps/fitSteps.js";
import type { Recording } from "../../lib/recording/types.js";
import { type Run, runOf } from "../../lib/run/run.js";
import { answerLines } from "./answerLines.js";
import type { Case } from "./cases.js";

/** What the library answers to one case, line by line. An error is an answer as well. */
export async function answersOf(one: Case): Promise<string[]> {
  try {
    return await answered(one);
  } catch (error) {
    return [`thrown: ${error instanceof Error ? error.message : String(error)}`];
  }
}

async function answered({ give, columnsOnly }: Case): Promise<string[]> {
  const { recordings, trials, problems } = await give();
  const read = [
    ...recordings.flatMap((one, k) => readingOf(`${k + 1}`, one)),
    ...answerLines("problems", problems),
  ];
  if (columnsOnly) return read;
  const runs = recordings.map((recording, k) => runOf(recording, trials?.[k]));
  const { diagnosis, recordings: analysed } = analyseRuns(runs, {
    parts: { constants: true, steps: true, loop: { withoutProposals: true } },
  });
  return [
    ...read,
    ...runs.flatMap((run, k) => answerLines(`${k + 1} trials`, run.trials)),
    ...answerLines("diagnosis", { ...diagnosis, problems: undefined, recordings: undefined }),
    ...analysed.flatMap((one, k) => partsOf(`${k + 1}`, one)),
    ...runs.flatMap((run, k) => bandsOf(`${k + 1}`, run)),
  ];
}

/** What was read: channels, what every column was taken for, findings. */
function readingOf(name: string, { channels, unscaled, unclocked, open, ...rest }: Recording): string[] {
  const channelsOf = (kind: string, all: Recording["channels"] = {}): string[] =>
    answerLines(`${name} ${kind}`, Object.values(all));
  return [
    ...answerLines(`${name} read`, rest),
    ...channelsOf("channels", channels),
    ...channelsOf("unscaled", unscaled),
    ...channelsOf("unclocked", unclocked),
    ...answerLines(`${name} open`, open && Object.keys(open)),
  ];
}

/** Verdicts, steps, loop, and every route to a constant; a constant that is reported is the first of its routes. */
function partsOf(name: string, { verdicts, constants, loop, ...parts }: AnalysedRecording): string[] {
  const { electrical, mechanical, ratios, ...routes } = constants ?? {};
  const reported = Object.entries({ ...electrical, ...mechanical, ...ratios }).flatMap(([key, found]) => [
    key,
    found.value,
  ]);
  return [
    ...answerLines(`${name} verdicts`, verdicts),
    ...answerLines(`${name}`, parts),
    ...answerLines(`${name} loop`, loop && { ...loop, report: undefined }),
    ...(reported.length > 0
      ? [`${name} constants: ${reported.map((v) => answerLines("", v)[0].slice(2)).join(" ")}`]
      : []),
    ...answerLines(`${name} constants`, routes),
  ];
}

/** Fitted step responses with their bands. */
function bandsOf(name: string, run: Run): string[] {
  return stepsOf(run).flatMap(({ fit: { fit } }, i) =>
    answerLines(`${name} band ${i + 1}`, { fitted: fit?.fitted, low: fit?.bandLow, high: fit?.bandHigh }),
  );
}
