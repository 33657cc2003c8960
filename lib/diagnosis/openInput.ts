import { largest } from "../numeric/series/largest.js";
import { noiseLevel } from "../numeric/series/noiseLevel.js";
import { range } from "../numeric/series/range.js";
import { shapeOf } from "../recording/segments/shapeOf.js";
import type { Recording } from "../recording/types.js";
import { Run } from "../run/run.js";
import { bounded, healthBounds, surest } from "./healthBounds.js";
import type { JudgedTrial } from "./judged.js";
import type { Observation } from "./observation.js";
import { observe } from "./observe.js";
import { type OpenReadings, openReadings } from "./openReadings.js";
import type { VerdictWord } from "./types.js";
import { judgeUnclocked } from "./unclocked.js";
import { judgeUnscaled } from "./unscaled.js";

/** What a verdict, or two dangerous ones together, must gather of all readings, what the word that is said must, and
 * the most that is then claimed; the part of its rows in which a command of no clear name stays exactly the same, and
 * the probability from which a name is clear, and where it is the second likeliest; the noise of such a command beside
 * its range, and how many rows it must have then (judgement). */
const limits = {
  least: 0.62,
  half: 0.5,
  most: 0.8,
  still: 0.8,
  named: 0.25,
  even: 0.45,
  noise: 0.02,
  rows: 40,
};

/**
 * Probability of each verdict where a column is what it is read as, and of a column that has nothing to do with the
 * motion looking so by chance. Of the 571 runs that authors of 612 logs of strangers could judge 76 % tracked, 11 %
 * were blocked, 7 % reversed and 6 % ran away; taken a little nearer to each other, since a bench is asked for when
 * something is wrong. Chance is judgement.
 */
const usual: Verdicts = { tracking: 0.7, blocked: 0.13, reversed: 0.09, runaway: 0.08, undetermined: 0.2 };
const byChance: Verdicts = { tracking: 0.25, blocked: 0.1, reversed: 0.1, runaway: 0.15, undetermined: 0.4 };

/** Shapes that people command; a measured value has none of them but by answering one. */
const commandShapes = new Set(["step", "staircase", "prbs", "chirp", "sine", "ramp"]);

type Verdicts = Readonly<Record<VerdictWord, number>>;

const passive = new Set(["idle", "coast", "hand-turn", "alignment-sweep", "driven", "motion", "unknown"]);

/**
 * Trials of a recording whose command or whose motion stands in a column of open meaning: it is read in every way that
 * it may be meant, and a verdict counts as far as the readings that give it are likely. No figure, cause or forecast is
 * drawn. Undefined where no such column explains the motion.
 */
export function judgeOpenInput(recording: Recording): JudgedTrial[] | undefined {
  const { open } = recording;
  if (open === undefined) return undefined;
  const judged = openReadings(recording, (name) => asCommanded(recording, name, open[name])).flatMap(
    (readings) => judgeReadings(readings) ?? [],
  );
  const [first, ...others] = judged.sort((a, b) => b.probability - a.probability);
  if (first === undefined || others.some(({ word }) => word !== first.word)) return undefined;
  return first.trials;
}

/**
 * A column that changes as commands do. One whose name says that it commands (or that is a second one of a quantity
 * that is measured by another) may also rest, or be a profile, but is not noisy as what is measured.
 */
function asCommanded(recording: Recording, name: string, data: Float64Array): boolean {
  if (!(largest(data) > 0) || isFlag(data)) return false;
  if (commandShapes.has(shapeOf(data)) && stillPart(data) >= limits.still) return true;
  const understood = recording.understanding?.find(({ column }) => column === name);
  if (understood === undefined || noiseLevel(data) > limits.noise * range(data)) return false;
  const { role, runnerUp, probability } = understood;
  const commands = (of: string | undefined): boolean => of?.endsWith("Command") === true;
  if (commands(role)) return probability > limits.named;
  if (data.length < limits.rows) return false;
  const read = { ...recording.unclocked, ...recording.unscaled, ...recording.channels };
  const second = role !== undefined && role in read;
  return commands(runnerUp?.role) && (runnerUp?.probability ?? 0) > (second ? limits.named : limits.even);
}

/** The one verdict of all trials of a reading that were decided. */
function wordOf(observations: readonly Observation[]): VerdictWord {
  const decided = observations.filter(({ verdict }) => verdict !== "undetermined");
  const [first] = decided;
  return first !== undefined && decided.every(({ verdict }) => verdict === first.verdict)
    ? first.verdict
    : "undetermined";
}

interface Judged {
  readonly word: VerdictWord;
  readonly probability: number;
  readonly trials: JudgedTrial[];
}

function judgeReadings(open: OpenReadings): Judged | undefined {
  const { none, readings } = open;
  const seen = readings.map((reading) => ({ ...reading, observations: observationsOf(reading.recording) }));
  const shares = seen.map((one) => ({ ...one, word: wordOf(one.observations) }));
  const sums = new Map<VerdictWord, number>();
  for (const { word, weight } of shares) sums.set(word, (sums.get(word) ?? 0) + weight * usual[word]);
  // A column that never moves, or has nothing to do with the motor, looks blocked: it must have been seen to give way.
  const gaveWay = shares
    .filter(({ word }) => word === "blocked")
    .every(({ observations }) => observations.every(({ behaviour }) => behaviour !== "still"));
  const said = [...sums].filter(([word]) => word !== "undetermined" && (word !== "blocked" || gaveWay));
  const [word, sum] = said.sort((a, b) => b[1] - a[1])[0] ?? ["undetermined", 0];
  const total = [...sums.values()].reduce((a, b) => a + b, 0) + none * byChance[word];
  const of = (one: VerdictWord): number => (sums.get(one) ?? 0) / total;
  const probability = sum / total;
  const dangerous = word === "runaway" || word === "reversed";
  // Which of the two dangerous ones it is matters less than that it is one.
  const enough = dangerous ? of("runaway") + of("reversed") : probability;
  if (word === "undetermined" || enough < limits.least || probability < limits.half) return undefined;
  const giving = shares
    .filter(({ observations }) => observations.some(({ verdict }) => verdict === word))
    .sort((a, b) => b.weight - a.weight);
  const meant = [...new Set(giving.map((reading) => reading.words))];
  const confidence = Math.min(limits.most, probability);
  const trials = giving[0].observations.map((observation): JudgedTrial => {
    const said = observation.verdict === word;
    return {
      observation: {
        ...observation,
        ...bare,
        verdict: said ? word : "undetermined",
        behaviour: said ? observation.behaviour : "unclear",
        confidence: said ? Math.min(confidence, observation.confidence) : 0.5,
        sense: said ? observation.sense : "none",
        missing: whatIs(open),
        text: said
          ? textOf(word, open, meant)
          : `What "${open.command ?? open.motion}" says of this stretch, and whether the command was followed, is not clear.`,
      },
      measures: {},
    };
  });
  return { word, probability, trials };
}

const bare = { evidence: [], law: undefined, growth: undefined, holds: [], ripple: undefined };

/** What a person is to say of the columns. */
const whatIs = ({ command, motion }: OpenReadings): string[] => [
  ...(command === undefined
    ? []
    : [`what "${command}" is (--map, with currentCommand, voltageCommand, speedCommand or positionCommand)`]),
  ...(motion === undefined ? [] : [`what "${motion}" is (--map, with position or speed)`]),
];

function textOf(word: VerdictWord, { command, motion }: OpenReadings, meant: readonly string[]): string {
  const either = meant.length > 1 ? `${meant.slice(0, -1).join(", ")} or ${meant.at(-1)}` : meant[0];
  const what =
    command === undefined
      ? `its command, by "${motion}" as ${either}`
      : `"${command}"${motion === undefined ? "" : `, by "${motion}" as the motion`}, be that ${either}`;
  const whatever = `${what}; no figures are drawn from it`;
  if (word === "tracking") return `Turns with ${whatever}.`;
  if (word === "blocked") return `Blocked: the shaft gives way and makes no lasting turn under ${whatever}.`;
  return word === "reversed"
    ? `TURNS AGAINST ${whatever}.`
    : `RUNAWAY: the motion leaves ${whatever}, and does not come back.`;
}

/** Only two values, one of them zero and the other one: a switch, which has no sign. */
const isFlag = (data: Float64Array): boolean => data.every((v) => v === 0 || v === 1);

/** A command is held to the last digit; what is measured is not. */
function stillPart(data: Float64Array): number {
  let still = 0;
  for (let i = 1; i < data.length; i += 1) if (data[i] === data[i - 1]) still += 1;
  return still / Math.max(1, data.length - 1);
}

/** What is seen of a recording in which every column has a meaning. */
function observationsOf(recording: Recording): Observation[] {
  const list = judgeUnclocked(recording) ?? (recording.unscaled ? judgeUnscaled(recording) : undefined);
  if (list !== undefined)
    return list.map(({ observation }) => observation).filter(({ trial }) => !passive.has(trial.kind));
  const run = new Run({ ...recording, unscaled: undefined });
  return run.trials
    .filter(({ kind }) => !passive.has(kind))
    .map((trial) => {
      const seen = observe(run, trial);
      return bounded(seen, surest(run, seen), healthBounds(run));
    });
}
