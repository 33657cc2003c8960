import type { FittedStep } from "../analysis/summary.js";
import { asTold, type Estimate } from "../units/estimate.js";
import { numberText, unitText } from "../units/forPeople.js";

/** One quantity of a step response, named for people. */
export type StepLine = readonly [name: string, estimate: Estimate];

/** Unit of a step's command, for people. */
function commandUnit(step: Pick<FittedStep, "command">): string {
  const units: Readonly<Partial<Record<FittedStep["command"], string>>> = {
    currentCommand: "A",
    torqueCommand: "N·m",
    voltage: "V",
    voltageCommand: "V",
    duty: "of full duty",
    positionCommand: "rad",
  };
  return units[step.command] ?? "rad/s";
}

/** The step of the command: `0 to 2.5 A`. */
export function commandText(step: Pick<FittedStep, "command" | "from" | "to" | "ownCommand">): string {
  if (step.ownCommand !== undefined) {
    const { from, to, unit } = step.ownCommand;
    return `${plainNumber(from)} to ${plainNumber(to)} ${unitText(unit)}`;
  }
  return `${plainNumber(step.from)} to ${plainNumber(step.to)} ${commandUnit(step)}`;
}

const plainNumber = (value: number): string => {
  const text = numberText(value, 4);
  return text.includes(".") && !text.includes("×") ? text.replace(/\.?0+$/, "") : text;
};

/** What the response turned out to be, in words. */
export function modelText({ fit, fittedTo }: Pick<FittedStep, "fit" | "fittedTo">): string {
  const until =
    fittedTo === undefined ? "" : `, up to ${fittedTo.toFixed(2)} s, where the current leaves its command`;
  if (fit.determined) return fit.model.replaceAll("-", " ") + until;
  return fit.model === "none" ? "no response seen" : `not determined${until}. ${fit.missing ?? ""}`.trim();
}

/** Parameters of the model of a response, then its measures; in the numbers of the file where a unit is open. */
export function stepLines({ fit, measures }: Pick<FittedStep, "fit" | "measures">): StepLine[] {
  const critical = fit.model === "second-order-critical";
  const model: readonly (readonly [string, Estimate | undefined])[] = fit.determined
    ? [
        ["gain", fit.gain],
        ["acceleration by the step", fit.rate],
        ["acceleration per unit of the command", fit.rateGain],
        ["friction", fit.friction],
        ["dead band", fit.deadBand],
        ["time constant", fit.timeConstant],
        ["fast time constant", critical ? undefined : fit.fastTimeConstant],
        ["dead time", fit.deadTime],
        ["damping ratio", critical ? undefined : fit.dampingRatio],
        ["natural frequency", critical ? undefined : fit.naturalFrequency],
        ["time of the zero", fit.zeroTime],
        ["slew limit", fit.slewLimit],
        ["gain of the position loop", fit.loopGain],
      ]
    : [];
  // Beyond the whole step again goes only a response that oscillates; elsewhere the final value was not the end of this
  // step.
  const most = fit.determined && fit.model === "second-order-underdamped" ? 200 : 100;
  const over = measures.overshoot?.value ?? 0;
  const overshoot = over > 0 && over <= most ? measures.overshoot : undefined;
  const ended = hasEnded(fit, measures);
  const all: readonly (readonly [string, Estimate | undefined])[] = [
    ...model,
    ["rise 10-90 %", ended ? measures.riseTime : undefined],
    ["settling to 2 %", measures.settlingTime2],
    ["overshoot", overshoot],
    [ended ? "final value" : "mean of the end", measures.final],
    ["steady-state error", measures.steadyStateError],
  ];
  return all.flatMap(([name, estimate]) =>
    estimate === undefined ? [] : [[name, asTold(estimate)] as const],
  );
}

/**
 * Whether a response was seen to settle: by its measures, or where the end of the record lies by the value that the
 * model settles to. Of any other neither a final value nor a share of it is known.
 */
function hasEnded(fit: FittedStep["fit"], measures: FittedStep["measures"]): boolean {
  if (measures.settlingTime2 !== undefined || measures.settlingTime5 !== undefined) return true;
  const [settles, end] = [fit.final, measures.final];
  return fit.determined && settles !== undefined && end !== undefined
    ? settles.low <= end.high && end.low <= settles.high
    : false;
}

/** A step as one row for a table: the command, the kind of response, and what says most of it. */
export function stepSummary(step: FittedStep): {
  readonly command: string;
  readonly model: string;
  readonly figures: string;
} {
  const told = [
    "time constant",
    "damping ratio",
    "natural frequency",
    "dead time",
    "acceleration by the step",
    "slew limit",
    "rise 10-90 %",
    "overshoot",
  ];
  const figures = stepLines(step)
    .filter(([name]) => told.includes(name))
    .slice(0, 4)
    .map(([name, estimate]) => `${name} ${oneText(estimate)}`);
  return { command: commandText(step), model: modelText(step), figures: figures.join(", ") };
}

const oneText = (estimate: Estimate): string => {
  const unit = unitText(estimate.unit);
  if (estimate.unit === "s" && Math.abs(estimate.value) < 1) return `${numberText(1000 * estimate.value)} ms`;
  return `${numberText(estimate.value)}${unit === "" ? "" : ` ${unit}`}`;
};
