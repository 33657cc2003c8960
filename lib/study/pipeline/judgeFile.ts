import { analyseRuns } from "../../analysis/analyseRuns.js";
import { encodeRead } from "../../analysis/readJson.js";
import { summarise } from "../../analysis/summary.js";
import { readRecordings } from "../../recording/readRecordings.js";
import { Run } from "../../run/run.js";
import { describedFile } from "./describedFile.js";
import { readingOf, scalesOf } from "./readingSettings.js";
import type { JudgedRecording, JudgeFile, Triple } from "./recordingResult.js";
import { type StudyConstant, studyConstants } from "./studyConstants.js";
import { trialResult, tripleOf } from "./trialResults.js";

/**
 * Reads one file, cuts it into trials, judges and fits it. Never throws for bad input: the reason is part of the
 * result.
 */
export const judge: JudgeFile = async (path, settings) => {
  const { recordings, problems } = await readRecordings([path], readingOf(settings));
  if (recordings.length === 0) {
    const said = problems.find((p) => p.severity === "error") ?? problems[0];
    return { recordings: [], reason: said?.message ?? "no recording was found in the file" };
  }
  const { about } = await describedFile(path);
  const scales = scalesOf(settings);
  return {
    recordings: recordings.map((recording, i) => {
      const part = recordings.length === 1 ? null : (recording.title ?? recording.motor ?? String(i + 1));
      return { ...judgeRun(new Run(recording, undefined, scales[i])), part, about };
    }),
    reason: null,
  };
};

/** A study keeps the word of a forecast alone. */
const verdictsOnly = { growth: false };

/** Judges and fits one run by itself. What its set needs of it is kept where it states its lead order. */
function judgeRun(run: Run): JudgedRecording {
  const { recordings } = analyseRuns([run], { parts: { ...verdictsOnly, constants: true } });
  const { verdicts, constants, rows } = recordings[0];
  const all: Readonly<Partial<Record<StudyConstant, { value: number; low: number; high: number }>>> = {
    ...constants?.electrical,
    ...constants?.mechanical,
    ...constants?.ratios,
  };
  const kept: Partial<Record<StudyConstant, Triple>> = {};
  for (const name of studyConstants) {
    const triple = tripleOf(all[name] && { ...all[name], unit: "", method: "" });
    if (triple) kept[name] = triple;
  }
  const findings = [...verdicts.findings, ...(constants?.findings ?? [])]
    .filter((finding) => finding.severity !== "note")
    .map((finding) => finding.code);
  return {
    motor: run.motor ?? null,
    ordering: run.ordering ?? null,
    part: null,
    about: {},
    rows,
    trials: verdicts.trials.map(trialResult),
    constants: kept,
    findings: [...new Set(findings)].sort(),
    ...(run.ordering === undefined
      ? {}
      : { read: encodeRead(summarise(run, verdictsOnly).read), ...scaleOf(run) }),
  };
}

/** What its set needs of it for their scales to be decided together; nothing where it does not hold two. */
function scaleOf({ scaleEvidence: evidence, scale: decision }: Run): Pick<JudgedRecording, "scale"> {
  return evidence === undefined ? {} : { scale: { evidence, decision } };
}
