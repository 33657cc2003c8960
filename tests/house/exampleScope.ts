import { writeFile } from "node:fs/promises";
import { join } from "node:path";
import {
  type Bench,
  type Constants,
  cutTrials,
  diagnose,
  type ExplorerMachine,
  estimateConstants,
  type LeastSquaresProblem,
  type Life,
  openRuns,
  type Recording,
  type ReportSource,
  type Run,
  type Runs,
  readRecordings,
  runOf,
  type Segment,
  type SpeedLoop,
  type Trial,
  torqueTrial,
} from "../../lib/index.js";
import { goodBench } from "../recording/bench.js";

/** What examples take for granted: the things a reader has at hand by the time the function is of use. */
export interface ExampleScope {
  /** The recording of the order U-V-W in the shipped data set, its trials, and its speed trial. */
  readonly recording: Recording;
  readonly trials: readonly Trial[];
  readonly trial: Trial;
  /** All six recordings of the data set, and their diagnosis ready for a report. */
  readonly recordings: readonly Recording[];
  readonly source: ReportSource;
  /** The run of that recording, and all six runs as a person opens them. */
  readonly run: Run;
  readonly runs: Runs;
  /** The roller motor of the data set. */
  readonly machine: ExplorerMachine;
  readonly constants: Constants;
  readonly loop: SpeedLoop;
  /** A first-order rise to 40 in 0.1 s, sampled every 2 ms for a second. */
  readonly time: Float64Array;
  readonly values: Float64Array;
  readonly lives: readonly Life[];
  readonly bench: Bench;
  readonly program: readonly Segment[];
  /** Five points of an exponential decay. */
  readonly problem: LeastSquaresProblem;
  /** A folder to write to. */
  readonly folder: string;
  readonly writeFile: typeof writeFile;
}

/** All of it, with `folder` as the folder to write to. */
export async function exampleScope(folder: string): Promise<ExampleScope> {
  const { recordings } = await readRecordings([join(import.meta.dirname, "../../datasets/parcel-sorter")]);
  const cut = recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials }));
  const { recording, trials } = cut.find((one) => one.recording.ordering === "UVW") ?? cut[0];
  const trial = trials.find((one) => one.kind === "speed") ?? trials[0];
  const loop: SpeedLoop = {
    plant: { inertia: 1e-4, torqueConstant: 0.1 },
    gains: { kp: 0.2, ki: 8 },
    currentBandwidth: 5000,
    sampleTime: 2.5e-4,
    countsPerTurn: 4096,
    currentLimit: 3,
  };
  const time = Float64Array.from({ length: 500 }, (_, i) => i * 0.002);
  const values = time.map((t) => 40 * (1 - Math.exp(-t / 0.1)));
  const lives: readonly Life[] = [
    { after: 54, by: 54, group: "B01", temperature: 60 },
    { after: 187, by: 187, group: "B01", temperature: 40 },
    { after: 216, by: 216, group: "B02", temperature: 60 },
    { after: 240, by: 240, group: "B02", temperature: 40 },
    { after: 500, by: Number.POSITIVE_INFINITY, group: "B02", temperature: 40 },
  ];
  const source: ReportSource = {
    diagnosis: diagnose(cut),
    recordings: cut,
    made: "2026-11-25T12:00:00Z",
  };
  return {
    recording,
    trials,
    trial,
    recordings,
    source,
    run: runOf(recording, trials),
    runs: await openRuns(join(import.meta.dirname, "../../datasets/parcel-sorter")),
    machine: {
      inertia: 1.4e-4,
      torqueConstant: 0.093,
      viscousFriction: 8e-5,
      coulombFriction: 0.025,
      currentLimit: 3,
    },
    constants: estimateConstants(recording, trials),
    loop,
    time,
    values,
    lives,
    bench: goodBench,
    program: torqueTrial({ current: 1.2 }),
    problem: {
      x: [0, 1, 2, 3, 4],
      y: [2.01, 1.21, 0.74, 0.44, 0.27],
      parameters: [
        { name: "amplitude", start: 1 },
        { name: "rate", start: 1 },
      ],
      model: (x, [amplitude, rate]) => amplitude * Math.exp(-rate * x),
    },
    folder,
    writeFile,
  };
}
