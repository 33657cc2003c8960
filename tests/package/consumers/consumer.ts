// What a user of the package writes: type-checked under every module resolution and run, see ../consume.ts.
import {
  chartSvg,
  cutTrials,
  type Diagnosis,
  diagnose,
  type Recording,
  readRecordings,
  recordingChart,
} from "shaftwise";
import { proposeGains } from "shaftwise/control";
import { toFrame } from "shaftwise/danfo";
import { kaplanMeier } from "shaftwise/life";
import { fitLeastSquares } from "shaftwise/numeric";
import { randomBench } from "shaftwise/simulation";

export async function judge(folder: string): Promise<Diagnosis> {
  const { recordings, problems } = await readRecordings([folder]);
  const inputs = recordings.map((recording: Recording) => ({
    recording,
    trials: cutTrials(recording).trials,
  }));
  return diagnose(inputs, { problems });
}

export const others: readonly unknown[] = [
  chartSvg,
  recordingChart,
  toFrame,
  proposeGains,
  kaplanMeier,
  fitLeastSquares,
  randomBench,
];
