import { largest } from "../numeric/series/largest.js";
import { shapeOf } from "../recording/segments/shapeOf.js";
import type { Channel, ChannelRole, ColumnUnderstanding, Recording } from "../recording/types.js";
import { Run } from "../run/run.js";
import { tableFactor } from "../units/convert.js";
import { bounded, healthBounds, surest } from "./healthBounds.js";
import type { JudgedTrial } from "./judged.js";
import type { Observation } from "./observation.js";
import { observe } from "./observe.js";
import type { VerdictWord } from "./types.js";

type InputRole = "currentCommand" | "voltageCommand" | "speedCommand" | "positionCommand";

/** What an open column may be, and which roles of the understanding speak for it. */
const meanings: Readonly<Record<InputRole, { readonly roles: readonly string[]; readonly words: string }>> = {
  currentCommand: { roles: ["currentCommand", "torqueCommand", "current", "torque"], words: "a current" },
  voltageCommand: { roles: ["voltageCommand", "voltage", "duty"], words: "a voltage or duty" },
  speedCommand: { roles: ["speedCommand"], words: "a speed" },
  positionCommand: { roles: ["positionCommand"], words: "a position" },
};

/** Probability of each meaning that the column's understanding says nothing of; what a verdict must gather of it, of
 * two dangerous ones together, and the most that is then claimed; the part of its rows in which a command of no clear
 * name stays exactly the same, and the probability from which a name is clear (judgement). */
const limits = { unsaid: 0.08, least: 0.62, ofBad: 0.7, most: 0.8, still: 0.8, named: 0.25 };

/** A measured current follows what was commanded of it: it leaves no more than this, or the column is no current. */
const currentLeft = 0.3;

/** Shapes that people command; a measured value has none of them but by answering one. */
const commandShapes = new Set(["step", "staircase", "prbs", "chirp", "sine", "ramp"]);

const passive = new Set(["idle", "coast", "hand-turn", "alignment-sweep", "driven", "motion", "unknown"]);

/** One reading of the recording. */
interface Reading {
  readonly role: InputRole;
  readonly weight: number;
  readonly observations: readonly Observation[];
}

/**
 * Trials of a recording whose command stands in a column of open meaning: it is read as every command that it may be,
 * and a verdict counts as far as the meanings that give it are likely. No figure, cause or forecast is drawn. Undefined
 * where no such column explains the motion.
 */
export function judgeOpenInput(recording: Recording): JudgedTrial[] | undefined {
  const { open, channels } = recording;
  if (open === undefined || (channels.speed === undefined && channels.position === undefined))
    return undefined;
  const judged = Object.entries(open).flatMap(([name, data]) => judgeColumn(recording, name, data) ?? []);
  const [first, ...others] = judged.sort((a, b) => b.probability - a.probability);
  if (first === undefined || others.some(({ word }) => word !== first.word)) return undefined;
  return first.trials;
}

interface JudgedColumn {
  readonly word: VerdictWord;
  readonly probability: number;
  readonly trials: JudgedTrial[];
}

function judgeColumn(recording: Recording, name: string, data: Float64Array): JudgedColumn | undefined {
  if (!(largest(data) > 0) || isFlag(data) || !commandShapes.has(shapeOf(data))) return undefined;
  const understood = recording.understanding?.find(({ column }) => column === name);
  const named = understood?.role?.endsWith("Command") === true && understood.probability > limits.named;
  if (!named && stillPart(data) < limits.still) return undefined;
  const readings = readingsOf(recording, name, data, understood);
  const total = readings.reduce((sum, { weight }) => sum + weight, 0);
  const words = new Map<VerdictWord, number>();
  for (const { weight, observations } of readings) {
    const decided = observations.filter(({ verdict }) => verdict !== "undetermined");
    if (decided.length === 0 || decided.some(({ verdict }) => verdict !== decided[0].verdict)) continue;
    const { verdict } = decided[0];
    words.set(verdict, (words.get(verdict) ?? 0) + weight / total);
  }
  const bad = (words.get("runaway") ?? 0) + (words.get("reversed") ?? 0);
  const [word, own] = [...words].sort((a, b) => b[1] - a[1])[0] ?? ["undetermined", 0];
  const dangerous = word === "runaway" || word === "reversed";
  const probability = dangerous && own > limits.ofBad * bad ? bad : own;
  if (word === "blocked" || probability < limits.least) return undefined;
  const of = readings
    .filter(({ observations }) => observations.some(({ verdict }) => verdict === word))
    .sort((a, b) => b.weight - a.weight);
  const meant = of.map(({ role }) => meanings[role].words);
  const confidence = Math.min(limits.most, probability);
  const trials = of[0].observations.map((observation): JudgedTrial => {
    const said = observation.verdict === word;
    return {
      observation: {
        ...observation,
        ...bare,
        verdict: said ? word : "undetermined",
        behaviour: said ? observation.behaviour : "unclear",
        confidence: said ? Math.min(confidence, observation.confidence) : 0.5,
        sense: said ? observation.sense : "none",
        missing: [
          `what "${name}" is (--map, with currentCommand, voltageCommand, speedCommand or positionCommand)`,
        ],
        text: said
          ? textOf(word, name, meant)
          : `What "${name}" asked for here, and whether it was followed, cannot be said.`,
      },
      measures: {},
    };
  });
  return { word, probability, trials };
}

const bare = { evidence: [], law: undefined, growth: undefined, holds: [], ripple: undefined };

function textOf(word: VerdictWord, name: string, meant: readonly string[]): string {
  const whatever = `"${name}", be that ${meant.length > 1 ? `${meant.slice(0, -1).join(", ")} or ${meant.at(-1)}` : meant[0]}; no figures are drawn from it`;
  if (word === "tracking") return `Turns with ${whatever}.`;
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

function readingsOf(
  recording: Recording,
  name: string,
  data: Float64Array,
  understood: ColumnUnderstanding | undefined,
): Reading[] {
  const said = [understood, understood?.runnerUp];
  return (Object.keys(meanings) as InputRole[]).flatMap((role): Reading[] => {
    const scale = scaleOf(recording.channels, role);
    if (scale === undefined || (role === "currentCommand" && contradicted(recording.channels.current, data)))
      return [];
    const weight = said.reduce(
      (sum, of) =>
        sum + (of?.role !== undefined && meanings[role].roles.includes(of.role) ? of.probability : 0),
      limits.unsaid,
    );
    return [
      {
        role,
        weight,
        observations: observedAs(
          recording,
          name,
          role,
          data.map((v) => v * scale),
        ),
      },
    ];
  });
}

/** SI units per number of the column: those of the motion that would answer it; undefined where it is not logged. */
function scaleOf(channels: Recording["channels"], role: InputRole): number | undefined {
  if (role === "currentCommand" || role === "voltageCommand") return 1;
  const motion = role === "speedCommand" ? channels.speed : channels.position;
  if (motion === undefined) return undefined;
  try {
    return tableFactor(motion.sourceUnit, role === "speedCommand" ? "rad/s" : "rad");
  } catch {
    // Counts and the like: no unit that a command shares.
    return undefined;
  }
}

function contradicted(current: Channel | undefined, data: Float64Array): boolean {
  if (current === undefined) return false;
  let [left, all] = [0, 0];
  for (let i = 0; i < data.length; i += 1) {
    const [a, b] = [current.data[i], data[i]];
    if (a - a !== 0 || b - b !== 0) continue;
    left += (a - b) ** 2;
    all += Math.max(a * a, b * b);
  }
  return left > currentLeft * all;
}

function observedAs(
  recording: Recording,
  name: string,
  role: ChannelRole,
  data: Float64Array,
): Observation[] {
  const channel: Channel = { role, name, sourceUnit: "1", recognisedBy: "open", data };
  const run = new Run({
    ...recording,
    channels: { ...recording.channels, [role]: channel },
    understanding: recording.understanding?.filter(({ column }) => column !== name),
    unscaled: undefined,
    open: undefined,
    findings: [],
  });
  return run.trials
    .filter(({ kind }) => !passive.has(kind))
    .map((trial) => {
      const seen = observe(run, trial);
      return bounded(seen, surest(run, seen), healthBounds(run));
    });
}
