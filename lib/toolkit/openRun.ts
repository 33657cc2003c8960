import { withFactor } from "../analysis/conclude.js";
import { type RecordingChartOptions, recordingChart } from "../chart/recordingChart.js";
import { inspectName, showingTable, shownText } from "../chart/render/showsItself.js";
import type { Chart } from "../chart/render/spec.js";
import type { Row } from "../chart/render/tables.js";
import { loopFromRun } from "../control/fromRun/loopFromRun.js";
import type { LoopSettings } from "../control/fromRun/settings.js";
import type { RecordingVerdict } from "../diagnosis/types.js";
import { constantsOf } from "../identify/estimateConstants.js";
import { stepsOf } from "../identify/steps/fitSteps.js";
import type { ChannelRole, Finding, Recording, TrialKind } from "../recording/types.js";
import { type Run, runOf } from "../run/run.js";
import type { TrialView } from "../run/trialView.js";
import { withCaption } from "./caption.js";
import { OpenLoop } from "./openLoop.js";
import { type OpenStep, stepsThatShow } from "./openStep.js";
import { constantsThatShow, type ShownConstants } from "./shownConstants.js";

/** What the runs opened together make of one of them. */
interface Among {
  /** Its analysis, with the scales that all logs of its motor show. */
  readonly run: () => Run;
  readonly verdicts: () => RecordingVerdict;
}

/**
 * One recorded run with everything known of it: its trials, what was noticed, constants, step responses and the speed
 * loop. Each is worked out when it is first asked for, and is the same wherever it appears. As the last value of a
 * notebook cell it shows itself as a table of its trials.
 *
 * @example
 * const run = runs.order("UVW");
 * run.trial("speed")?.speed("{rev}/min"); // Float64Array
 */
export class OpenRun {
  readonly #logged: Recording;
  readonly #among: Among | undefined;
  #steps: readonly OpenStep[] | undefined;

  /** @param among - what the runs opened together make of this one */
  constructor(recording: Recording, among?: Among) {
    this.#logged = recording;
    this.#among = among;
  }

  get #run(): Run {
    return this.#among?.run() ?? runOf(this.#logged);
  }

  /** File it was read from. */
  get path(): string {
    return this.#logged.path;
  }

  /** Lead order, when stated. */
  get ordering(): Recording["ordering"] {
    return this.#logged.ordering;
  }

  get motor(): string | undefined {
    return this.#logged.motor;
  }

  /** The analysis that all of this reads. */
  get analysed(): Run {
    return this.#run;
  }

  /** The recording as it was read, with the trials found in it: what is judged. */
  get input(): { readonly recording: Recording; readonly trials: Run["cut"]["trials"] } {
    return { recording: this.#run.recording, trials: this.#run.cut.trials };
  }

  /** The recording in SI, with units that were off by a known factor put right. */
  get recording(): Recording {
    return this.#run.recording;
  }

  /** What was tried, each trial with its signals. */
  get trials(): readonly TrialView[] {
    return this.#run.trials;
  }

  /** The first trial of a kind. */
  trial(kind: TrialKind): TrialView | undefined {
    return this.#run.trial(kind);
  }

  /** All that was noticed about the data. */
  get checks(): readonly Finding[] {
    return this.#run.checks;
  }

  /** kv, torque constant, resistance, friction, inertia, each with an interval; what is not identifiable is named. */
  constants(): ShownConstants {
    return this.#run.once("constants among their set", () => {
      const own = constantsOf(this.#run);
      const verdicts = this.#among?.verdicts();
      return constantsThatShow(verdicts ? withFactor(own, verdicts) : own);
    });
  }

  /** The constants as rows for a table, in units for people. */
  constantsTable(): readonly Row[] {
    return this.constants().table();
  }

  /** A model of the answer to every step of a command. */
  stepResponses(): readonly OpenStep[] {
    this.#steps ??= stepsThatShow(stepsOf(this.#run));
    return this.#steps;
  }

  /**
   * The speed loop with this machine.
   *
   * @param settings - What is known of the loop beyond the log, such as `sampleTime` (s) and `gains`.
   */
  speedLoop(settings: LoopSettings = {}): OpenLoop {
    return new OpenLoop(loopFromRun(this.#run, settings));
  }

  /** Current, speed, angle over time with the trials marked, and their verdicts where this run was opened with
   * others. */
  chart(options: RecordingChartOptions = {}): Chart {
    const trials = this.#among?.verdicts().trials ?? this.#run.cut.trials;
    const measured = Object.keys(this.recording.channels) as ChannelRole[];
    const despiked = Object.fromEntries(
      measured.map((role) => [role, this.#run.channel(role)?.values] as const),
    );
    return recordingChart(this.recording, trials, { despiked, ...options });
  }

  /** One row for each trial. */
  table(): readonly Row[] {
    return this.trials.map(({ kind, start, end, command, steps }) => ({
      trial: kind.replaceAll("-", " "),
      "from (s)": Number(start.toFixed(3)),
      "to (s)": Number(end.toFixed(3)),
      command: command ?? "",
      steps: steps.length,
    }));
  }

  /** What it is as text, where objects are looked at. */
  [inspectName](): string {
    const name = this.ordering ? `order ${this.ordering}, ${this.path}` : this.path;
    const found = this.checks.filter(({ severity }) => severity !== "note").length;
    const caption = `${name}: ${this.recording.time.length} rows, ${found} ${found === 1 ? "warning" : "warnings"}`;
    return shownText(withCaption(showingTable(this.table(), caption), caption));
  }
}
