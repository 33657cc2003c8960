import { bodeChart } from "../chart/bodeChart.js";
import { nyquistChart } from "../chart/nyquistChart.js";
import { inspectName, showingTable, shownText } from "../chart/render/showsItself.js";
import type { Chart } from "../chart/render/spec.js";
import type { Row } from "../chart/render/tables.js";
import { analyseLoop, type LoopReport, type MarginReport } from "../control/analyseLoop.js";
import type { LoopOfRun } from "../control/fromRun/loopFromRun.js";
import { type OpenLoopCurve, openLoopCurve } from "../control/margins/openLoopCurve.js";
import type { SpeedLoop } from "../control/models/speedLoop.js";
import type { Estimate } from "../units/estimate.js";

/**
 * The speed loop of a run: margins, poles and charts. `missing` says what it lacks; then every other member is
 * undefined. As the last value of a notebook cell it shows its margins.
 *
 * @example
 * runs.order("UVW").speedLoop({ sampleTime: 5e-4 }).margins?.phaseMargin?.value; // degrees
 */
export class OpenLoop {
  readonly #put: LoopOfRun;
  #report: LoopReport | undefined;
  #curve: OpenLoopCurve | undefined;

  constructor(put: LoopOfRun) {
    this.#put = put;
  }

  /** The loop as it was put together; absent when something essential is missing. */
  get model(): SpeedLoop | undefined {
    return this.#put.loop;
  }

  get missing(): readonly string[] {
    return this.#put.missing;
  }

  /** Where each number came from, by name. */
  get sources(): Readonly<Record<string, string>> {
    return this.#put.sources;
  }

  /** Poles, margins, tolerated offset error, limit cycles. */
  get report(): LoopReport | undefined {
    if (this.model !== undefined) this.#report ??= analyseLoop(this.model);
    return this.#report;
  }

  get margins(): MarginReport | undefined {
    return this.report?.margins;
  }

  /** The open loop over frequency, with the margins that `margins` holds. */
  get curve(): OpenLoopCurve | undefined {
    if (this.model !== undefined) this.#curve ??= openLoopCurve(this.model);
    return this.#curve;
  }

  /**
   * Gain and phase against frequency, margins marked.
   *
   * @throws Error when the loop is not known; it says what is missing.
   */
  bode(label = "as set"): Chart {
    return bodeChart([{ label, ...this.#known() }]);
  }

  /**
   * The open loop in the complex plane.
   *
   * @throws Error when the loop is not known; it says what is missing.
   */
  nyquist(label = "as set"): Chart {
    return nyquistChart([{ label, ...this.#known() }]);
  }

  #known(): OpenLoopCurve {
    if (this.curve !== undefined) return this.curve;
    const missing = this.missing.map((one) => one.replace(/\.$/, "")).join("; ");
    throw new Error(`no picture of the open loop: ${missing}. Give it to speedLoop({ ... })`);
  }

  /** The margins as rows. */
  table(): readonly Row[] {
    const { margins } = this;
    if (margins === undefined) return this.missing.map((missing) => ({ missing }));
    const row = (what: string, estimate: Estimate | undefined, unit: string): Row[] =>
      estimate ? [{ margin: what, value: estimate.value, from: estimate.low, to: estimate.high, unit }] : [];
    return [
      ...row("phase margin", margins.phaseMargin, "degrees"),
      ...row("gain margin", margins.gainMargin, "factor"),
      ...row("crossover", margins.crossover, "rad/s"),
      ...row("delay margin", margins.delayMargin, "s"),
      ...row("largest sensitivity", margins.sensitivityPeak, ""),
    ];
  }

  /** What it is as text, where objects are looked at. */
  [inspectName](): string {
    const { report } = this;
    const state = report === undefined ? "not known" : report.stable ? "stable" : "unstable";
    return shownText(showingTable(this.table(), `Speed loop: ${state}`));
  }
}
