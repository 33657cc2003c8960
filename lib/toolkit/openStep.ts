import { inspectName, showingTable, shownText, showsItself } from "../chart/render/showsItself.js";
import type { Chart, ChartOptions } from "../chart/render/spec.js";
import type { Row } from "../chart/render/tables.js";
import { stepChart } from "../chart/stepChart.js";
import type { StepOfTrial } from "../identify/steps/fitSteps.js";
import { tableFactor } from "../units/convert.js";
import type { Estimate } from "../units/estimate.js";
import { intervalText, quantityText, unitOfInterval } from "../units/forPeople.js";
import { withCaption } from "./caption.js";

/** What is said of a fit, in order. */
const parameters = [
  ["gain", "gain"],
  ["rateGain", "slope for each unit of command"],
  ["timeConstant", "time constant"],
  ["fastTimeConstant", "fast time constant"],
  ["deadTime", "dead time"],
  ["naturalFrequency", "natural frequency"],
  ["dampingRatio", "damping ratio"],
] as const;

/** What an `OpenStep` holds besides its chart and table. */
export interface OpenStep extends StepOfTrial {}
/**
 * The answer to one step of a command, with the model fitted to it: everything of a `StepOfTrial`, its chart and its
 * parameters as a table. As the last value of a notebook cell it shows that table.
 *
 * @example
 * const steps = (await openRuns("datasets/parcel-sorter")).order("UVW").stepResponses();
 * steps[3].fit.model; // => "second-order-zero"
 */
// biome-ignore lint/suspicious/noUnsafeDeclarationMerging: every field of a step is copied by the constructor.
export class OpenStep {
  constructor(step: StepOfTrial) {
    Object.assign(this, step);
  }

  /**
   * Measured, fitted with its band, and what is left over.
   *
   * @throws Error when nothing could be fitted; it says why.
   */
  chart(options: ChartOptions = {}): Chart {
    const { fit } = this.fit;
    if (fit === undefined)
      throw new Error(
        `no chart of this step: nothing was fitted (${this.fit.missing ?? "too little was recorded"}); run.chart() shows the recording`,
      );
    const turning = this.response === "speed";
    const factor = turning ? tableFactor("rad/s", "{rev}/min") : tableFactor("rad", "deg");
    const scaled = (values: Float64Array = new Float64Array()) => values.map((v) => v * factor);
    return stepChart(
      {
        time: (fit.x ?? new Float64Array()).map((t) => t - this.fit.stepTime),
        measured: scaled(fit.observed),
        fit: scaled(fit.fitted),
        low: scaled(fit.bandLow),
        high: scaled(fit.bandHigh),
        axis: turning ? "Speed (rev/min)" : "Shaft angle (degrees)",
        quantity: turning ? "speed" : "position",
      },
      {
        title: this.#title(),
        subtitle: "Fitted, with its interval; below: what the fit leaves over",
        ...options,
      },
    );
  }

  /** One row for each parameter of the model. */
  table(): readonly Row[] {
    return parameters.flatMap(([name, words]) => {
      const estimate = this.fit[name] as Estimate | undefined;
      if (estimate === undefined) return [];
      const unit = unitOfInterval(estimate);
      return [
        {
          parameter: words,
          value: quantityText(estimate.value, estimate.unit, 4),
          "interval, 95 %": `${intervalText(estimate)}${unit === "" ? "" : ` ${unit}`}`,
        },
      ];
    });
  }

  #title(): string {
    const start = `Step at ${this.time.toFixed(2)} s`;
    if (!this.fit.determined) return `${start}: no model can be told`;
    const { naturalFrequency, timeConstant } = this.fit;
    const [words, told] = naturalFrequency
      ? ["natural frequency", naturalFrequency]
      : ["time constant", timeConstant];
    // Without the same in another unit, which follows in brackets.
    const text = told && quantityText(told.value, told.unit, 3).replace(/ \(.*\)$/, "");
    const number = text === undefined ? "" : `, ${words} ${text}`;
    return `${start}: ${this.fit.model.replace(/-/g, " ")}${number}`;
  }

  /** What it is as text, where objects are looked at. */
  [inspectName](): string {
    const why = this.fit.determined ? "" : ` (${this.fit.missing ?? "too little was recorded"})`;
    const caption = `${this.#title()}${why}`;
    return shownText(withCaption(showingTable(this.table(), caption), caption));
  }
}

/** Steps that show themselves together as a row each. */
export function stepsThatShow(steps: readonly StepOfTrial[]): readonly OpenStep[] {
  const opened = steps.map((step) => new OpenStep(step));
  return showsItself(opened, () => {
    const rows = opened.map((step) => ({
      "step at (s)": Number(step.time.toFixed(3)),
      trial: step.trial.replaceAll("-", " "),
      model: step.fit.determined ? step.fit.model.replace(/-/g, " ") : "none can be told",
      ...Object.fromEntries(step.table().map(({ parameter, value }) => [String(parameter), value])),
    }));
    const names = [...new Set(rows.flatMap((row) => Object.keys(row)))];
    const all = rows.map((row) => Object.fromEntries(names.map((name) => [name, (row as Row)[name] ?? ""])));
    return showingTable(all, `${rows.length} ${rows.length === 1 ? "step" : "steps"}`);
  });
}
