import { type AnalysedRecording, conclude } from "../../lib/analysis/conclude.js";
import { summarise } from "../../lib/analysis/summary.js";
import { dangerSentence, dangers, headline, lettersSentence } from "../../lib/diagnosis/danger.js";
import type { ReadRecording } from "../../lib/diagnosis/judged.js";
import type { TrialVerdict } from "../../lib/diagnosis/types.js";
import { stepsOf } from "../../lib/identify/steps/fitSteps.js";
import type { Recording } from "../../lib/recording/types.js";
import { type Run, runOf } from "../../lib/run/run.js";
import { answerLines, fewLetters } from "./answerLines.js";
import type { Case } from "./cases.js";

/** What the library answers to one case, line by line. An error is an answer as well. */
export async function answersOf(one: Case): Promise<string[]> {
  try {
    return await answered(one);
  } catch (error) {
    return [`thrown: ${error instanceof Error ? error.message : String(error)}`];
  }
}

async function answered({ give, columnsOnly, answer }: Case): Promise<string[]> {
  if (answer) return answer();
  const { recordings, trials, problems } = await give();
  const read = [
    ...recordings.flatMap((one, k) => readingOf(`${k + 1}`, one)),
    ...answerLines("problems", problems),
  ];
  if (columnsOnly) return read;
  const runs = recordings.map((recording, k) => runOf(recording, trials?.[k]));
  const parts = { constants: true, steps: true, loop: { withoutProposals: true } };
  const summaries = runs.map((run) => summarise(run, parts));
  const { diagnosis, recordings: analysed } = conclude(summaries);
  return [
    ...read,
    ...runs.flatMap((run, k) => answerLines(`${k + 1} trials`, run.trials)),
    ...answerLines("diagnosis", {
      ...diagnosis,
      problems: undefined,
      recordings: undefined,
      headline: headline(diagnosis),
      letters: lettersSentence(diagnosis),
      danger: dangerSentence(diagnosis.recordings.flatMap(({ trials: all }) => all)),
      dangers: dangers(diagnosis),
    }),
    ...analysed.flatMap((one, k) => partsOf(`${k + 1}`, one)),
    ...summaries.flatMap(({ read: first }, k) => weighedOf(`${k + 1}`, first)),
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

/** A verdict; the words for a cause or a remedy are those of its table. */
function withoutWords({ causes, remedies, ...verdict }: TrialVerdict): object {
  return {
    ...verdict,
    causes: causes.map(({ text: _, ...one }) => one),
    remedies: remedies?.map(({ text: _, ...one }) => one),
  };
}

/** Verdicts, steps, loop, and every route to a constant; a constant that is reported is the first of its routes. */
function partsOf(name: string, { verdicts, constants, loop, ...parts }: AnalysedRecording): string[] {
  const { electrical, mechanical, ratios, ...routes } = constants ?? {};
  const reported = Object.entries({ ...electrical, ...mechanical, ...ratios }).flatMap(([key, found]) => [
    key,
    found.value,
  ]);
  return [
    ...answerLines(`${name} verdicts`, { ...verdicts, trials: verdicts.trials.map(withoutWords) }),
    ...answerLines(`${name}`, parts),
    ...answerLines(`${name} loop`, loop && { ...loop, report: undefined }),
    ...(reported.length > 0
      ? [`${name} constants: ${reported.map((v) => answerLines("", v)[0].slice(2)).join(" ")}`]
      : []),
    ...answerLines(`${name} constants`, routes),
  ];
}

/** What each trial was measured to be, and what every finding says of the causes, before all is weighed together. */
function weighedOf(name: string, { trials, health, runaway, driveSigns }: ReadRecording): string[] {
  return [
    ...answerLines(`${name} first pass`, { health: { ...health }, runaway, driveSigns }),
    ...trials.flatMap(({ observation, measures, likelihood, hand, atMost, alike }, k) => {
      const { signals, trial, evidence, ...seen } = observation;
      const { findings = [], offsets, ...more } = likelihood ?? {};
      const logs = findings.map(({ finding, logs: of }) => ({
        finding,
        all: fewLetters([...of].map(([code, log]) => `${code} ${log.toPrecision(4)}`)),
      }));
      return answerLines(`${name} weighed ${k + 1}`, {
        ...seen,
        measures,
        logs,
        offsets,
        ...more,
        hand,
        atMost,
        alike,
      });
    }),
  ];
}

/** Fitted step responses with their bands. */
function bandsOf(name: string, run: Run): string[] {
  return stepsOf(run).flatMap(({ fit: { fit } }, i) =>
    answerLines(`${name} band ${i + 1}`, { fitted: fit?.fitted, low: fit?.bandLow, high: fit?.bandHigh }),
  );
}
