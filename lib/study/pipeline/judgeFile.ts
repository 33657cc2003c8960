import { diagnose } from "../../diagnosis/diagnose.js";
import { estimateConstants } from "../../identify/estimateConstants.js";
import { readRecordings } from "../../recording/readRecordings.js";
import { cutTrials } from "../../recording/segments/cutTrials.js";
import type { Recording, Trial } from "../../recording/types.js";
import { describedFile } from "./describedFile.js";
import type { JudgedRecording, JudgeFile, Triple } from "./recordingResult.js";
import { type StudyConstant, studyConstants } from "./studyConstants.js";

/**
 * Reads one file, cuts it into trials, judges and fits it. Never throws for bad input: the reason is part of the result.
 */
export const judge: JudgeFile = async (path) => {
  const { recordings, problems } = await readRecordings([path]);
  if (recordings.length === 0) {
    const said = problems.find((p) => p.severity === "error") ?? problems[0];
    return { recordings: [], reason: said?.message ?? "no recording was found in the file" };
  }
  const { about } = await describedFile(path);
  return {
    recordings: recordings.map((recording, i) => {
      const part = recordings.length === 1 ? null : (recording.title ?? recording.motor ?? String(i + 1));
      return { ...judgeRecording(recording, cutTrials(recording).trials), part, about };
    }),
    reason: null,
  };
};

/** Judges and fits one recording that is already in memory. */
export function judgeRecording(recording: Recording, trials: readonly Trial[]): JudgedRecording {
  const verdicts = diagnose([{ recording, trials }]).recordings[0]?.trials ?? [];
  const fitted = estimateConstants(recording, trials);
  const all = { ...fitted.electrical, ...fitted.mechanical, ...fitted.ratios } as Record<
    string,
    { value: number; low: number; high: number } | undefined
  >;
  const constants: Partial<Record<StudyConstant, Triple>> = {};
  for (const name of studyConstants) {
    const estimate = all[name];
    if (estimate !== undefined && Number.isFinite(estimate.value))
      constants[name] = [estimate.value, estimate.low, estimate.high];
  }
  const findings = [...recording.findings, ...fitted.findings]
    .filter((finding) => finding.severity !== "note")
    .map((finding) => finding.code);
  return {
    motor: recording.motor ?? null,
    ordering: recording.ordering ?? null,
    part: null,
    about: {},
    rows: recording.time.length,
    trials: verdicts.map((verdict) => {
      const cause = [...verdict.causes].sort((a, b) => b.probability - a.probability)[0];
      return {
        kind: verdict.kind,
        start: verdict.start,
        end: verdict.end,
        verdict: verdict.verdict,
        confidence: verdict.confidence,
        sense: verdict.sense,
        cause: cause?.cause ?? null,
        causeOdds: cause?.probability ?? null,
        forecast: verdict.forecast?.verdict ?? null,
        text: verdict.text,
      };
    }),
    constants,
    findings: [...new Set(findings)].sort(),
  };
}
