import type { DiagnoseOptions } from "../diagnosis/options.js";
import type { Limits } from "../recording/limits/limits.js";
import { withinTime } from "../recording/limits/watchdog.js";
import type { Finding } from "../recording/types.js";
import type { Run, StageTold } from "../run/run.js";
import { withSetScales } from "../run/setScales.js";
import { cannotAnalyse } from "./analyseJob.js";
import { type Analysis, conclude } from "./conclude.js";
import { type Parts, summarise } from "./summary.js";

/** How `analyseRuns` judges. */
export interface AnalyseRunsOptions extends DiagnoseOptions {
  /** What is wanted besides the verdicts: constants, step responses, the loop. */
  readonly parts?: Parts;
  /** Called after each run. */
  readonly progress?: (done: number, total: number) => void;
  /** Called as the work on a run goes on. */
  readonly told?: StageTold;
}

/**
 * What `analyseFiles` gives, of runs that are already in memory.
 *
 * @example
 * const { diagnosis } = analyseRuns(recordings.map((recording) => runOf(recording)));
 * diagnosis.orderings.filter((order) => order.usable).map((order) => order.ordering); // => ["UVW"]
 */
export function analyseRuns(runs: readonly Run[], options: AnalyseRunsOptions = {}): Analysis {
  const summaries = withSetScales(runs).map((run, k) => {
    if (options.told) run.told = options.told;
    const summary = summarise(run, options.parts);
    options.progress?.(k + 1, runs.length);
    return summary;
  });
  return conclude(summaries, options);
}

/**
 * The same with a limit of time for each run. One that takes longer is a problem, and is left out.
 *
 * @returns the analysis, and the runs that it is of, one for each of its recordings: analysed anew where the set shows
 *   another scale than the run by itself
 */
export async function analyseRunsWithin(
  limits: Limits,
  runs: readonly Run[],
  options: AnalyseRunsOptions = {},
): Promise<{ readonly analysis: Analysis; readonly kept: readonly Run[] }> {
  const failed: Finding[] = [];
  /** The runs whose work came to its end in time, each with what it gave. */
  const within = async <T>(
    some: readonly Run[],
    work: (run: Run) => T,
    done?: (k: number) => void,
  ): Promise<[Run, T][]> => {
    const out: [Run, T][] = [];
    for (const [k, run] of some.entries()) {
      if (options.told) run.told = options.told;
      try {
        out.push([run, await withinTime(limits, async () => work(run))]);
      } catch (error) {
        failed.push(cannotAnalyse(run.path, error));
      }
      done?.(k);
    }
    return out;
  };
  const scaled = (await within(runs, (run) => run.scaleEvidence)).map(([run]) => run);
  const analysed = await within(
    withSetScales(scaled),
    (run) => summarise(run, options.parts),
    (k) => options.progress?.(k + 1, scaled.length),
  );
  const [kept, summaries] = [analysed.map(([run]) => run), analysed.map(([, summary]) => summary)];
  const problems = [...(options.problems ?? []), ...failed];
  return { analysis: conclude(summaries, { ...options, problems }), kept };
}
