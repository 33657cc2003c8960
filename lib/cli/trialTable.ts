import { askedOf } from "../recording/segments/alikeTrials.js";
import type { Trial } from "../recording/types.js";
import type { Io } from "./io.js";
import { paint, paragraph, table } from "./layout.js";

/** Most trials of a log that have a row each; of more, those that ask the same share one. */
const mostRows = 40;
/** Most rows of shared ones. */
const mostShared = 25;
/** Most steps named in a row. */
const mostSteps = 6;

/**
 * The trials of a recording for a person: a row for each, or, of a long log, one for all that ask the same.
 *
 * @example
 * trialLines(run.cut.trials, io, 80); // ["trial   from     to       command  steps", ...]
 */
export function trialLines(trials: readonly Trial[], io: Pick<Io, "color">, width: number): string[] {
  if (trials.length > mostRows) return sharedLines(trials, io, width);
  const list = [["trial", "from", "to", "command", "steps"].map((h) => paint(io, "dim", h))];
  for (const trial of trials)
    list.push([
      trial.kind,
      `${number(trial.start)} s`,
      `${number(trial.end)} s`,
      commandOf(trial),
      stepsText(trial, (time) => ` at ${number(time)} s`, "; "),
    ]);
  return [table(list, width)];
}

function sharedLines(trials: readonly Trial[], io: Pick<Io, "color">, width: number): string[] {
  const groups = new Map<string, Trial[]>();
  for (const trial of trials) {
    const key = askedOf(trial);
    const group = groups.get(key);
    if (group) group.push(trial);
    else groups.set(key, [trial]);
  }
  const list = [
    ["trial", "times", "first", "last", "each", "command", "steps"].map((h) => paint(io, "dim", h)),
  ];
  for (const group of [...groups.values()].slice(0, mostShared)) {
    const [first] = group;
    list.push([
      first.kind,
      String(group.length),
      `${number(first.start)} s`,
      `${number(group[group.length - 1].start)} s`,
      lengthText(group),
      commandOf(first),
      stepsText(first, () => "", ", "),
    ]);
  }
  const rest = groups.size - mostShared;
  const more = rest > 0 ? ` ${rest} more ${rest === 1 ? "row is" : "rows are"} left out here.` : "";
  return [
    table(list, width),
    paragraph(
      `${trials.length} trials, those that ask the same in one row; --json has each of them.${more}`,
      width,
      "  ",
    ),
  ];
}

const commandOf = ({ command, source }: Trial): string =>
  command ?? (source === "declared" ? "declared" : "-");

function stepsText({ steps }: Trial, when: (time: number) => string, between: string): string {
  const said = steps
    .slice(0, mostSteps)
    .map(({ from, to, time }) => `${number(from)} to ${number(to)}${when(time)}`);
  if (steps.length > mostSteps) said.push(`and ${steps.length - mostSteps} more`);
  return said.join(between);
}

/** How long trials last: one length where they are all alike, else the shortest and the longest. */
function lengthText(group: readonly Trial[]): string {
  let [least, most] = [Number.POSITIVE_INFINITY, 0];
  for (const { start, end } of group) {
    least = Math.min(least, end - start);
    most = Math.max(most, end - start);
  }
  const text = (length: number): string => String(Number(length.toPrecision(3)));
  return most - least <= 0.02 * most ? `${text(most)} s` : `${text(least)} to ${text(most)} s`;
}

function number(value: number): string {
  return Number.isFinite(value) ? String(Number(value.toPrecision(4))) : "-";
}
