import type { SourceTable } from "../formats/sourceTable.js";
import { wordsOf } from "./foldedWords.js";
import { isFrequency, speaksOfFrequency } from "./frequencyWords.js";
import { Kept } from "./kept.js";
import { meaningOf, partsOf } from "./lexicon.js";
import type { NameEvidence } from "./nameEvidence.js";
import { type Meaning, type Quantity, roleFacts } from "./roles.js";
import { dimension } from "./unitDimension.js";
import type { Heading } from "./unitText.js";

/** The meaning that the words of a heading and nothing else point to. */
export function likeliest(name: NameEvidence): Meaning {
  let best: Meaning = "other";
  let high = Number.NEGATIVE_INFINITY;
  for (const [role, score] of name.score) {
    const s = score + Math.log(roleFacts[role].prior);
    if (s > high) {
      high = s;
      best = role;
    }
  }
  return best;
}

/** Letters of a title that are looked at. */
const longestTitle = 200;

/** Motions that a log may be about. */
const aboutOf: ReadonlySet<Quantity> = new Set(["speed", "position", "torque"]);

const aboutBy = (words: readonly string[]): Quantity[] =>
  words.flatMap((word) =>
    (meaningOf(word)?.alternatives ?? []).flatMap(({ quantity, weight }) =>
      weight >= 0.85 && quantity !== undefined && aboutOf.has(quantity) ? [quantity] : [],
    ),
  );

/** What the name of the file and the title say that the log is about, each as often as it is said. */
export const spokenOf = ({ path, title = "" }: SourceTable): readonly Quantity[] =>
  spoken.of(JSON.stringify([path, title]), () => spokenIn(path, title));

/** A table is asked several times. */
const spoken = new Kept<readonly Quantity[]>(50);

function spokenIn(path: string, title: string): readonly Quantity[] {
  const file =
    path
      .split(/[\\/]/)
      .at(-1)
      ?.replace(/\.\w+(#|$)/g, " ") ?? "";
  return aboutBy([
    ...wordsOf(file).flatMap((w) => partsOf(w) ?? [w]),
    ...wordsOf(title.slice(0, longestTitle)),
  ]);
}

/** What the name of the file, the title, and headings of gains, say the log is about: it helps set and actual values
 * that name no quantity. */
export function contextOf(table: SourceTable, names: readonly NameEvidence[]): Quantity | undefined {
  const counts = new Map<Quantity, number>();
  const gains = names.filter((n) => n.namesOther).flatMap((n) => n.told);
  for (const quantity of [...spokenOf(table), ...aboutBy(gains)])
    counts.set(quantity, (counts.get(quantity) ?? 0) + 1);
  const order = [...counts].sort((a, b) => b[1] - a[1]);
  return order.length === 1 || (order.length > 1 && order[0][1] > order[1][1]) ? order[0][0] : undefined;
}

/** The one motion that a table measures: a set value that names no quantity is of it more often than of anything
 * else. */
export function onlyMeasured(names: readonly NameEvidence[]): Quantity | undefined {
  const motions = new Set<Quantity>();
  for (const n of names) {
    if (!n.namesQuantity || n.openQuantity || n.side === "command") continue;
    const { quantity } = roleFacts[likeliest(n)];
    if (quantity === "speed" || quantity === "position") motions.add(quantity);
  }
  return motions.size === 1 ? [...motions][0] : undefined;
}

/** A set value of whatever a loop controls, and no output that is handed on to an amplifier. */
export function isSetPoint({ openQuantity, side, score }: NameEvidence): boolean {
  const of = (role: Meaning): number => score.get(role) ?? 0;
  const least = Math.min(of("speedCommand"), of("positionCommand"));
  return openQuantity && side === "command" && Math.max(of("duty"), of("voltageCommand")) < least - 1;
}

/** How much likelier a set value in the unit of an angle or a speed is its command, whatever else its name says (log
 * likelihood ratio; judgement). */
const setInUnit = 2;

/** A set value of a loop that its unit tells: `table setpoint` in degrees. */
export function setPointInUnit(name: NameEvidence, unit: string | undefined): NameEvidence {
  if (!name.openQuantity || name.side !== "command" || unit === undefined) return name;
  const of = dimension(unit);
  const role = of === "angle" ? "positionCommand" : of === "speed" ? "speedCommand" : undefined;
  if (role === undefined) return name;
  return { ...name, score: new Map(name.score).set(role, (name.score.get(role) ?? 0) + setInUnit) };
}

/** How much likelier a frequency that is set is the command of a speed: of a motor little else is set in hertz (log
 * likelihood ratio; judgement). */
const frequencySet = 1.5;

/** The same for one whose side is not said, the only one that can be the command (judgement). */
const frequencyOfField = 5;

/**
 * A frequency that is set turns the motor, whether it follows or stands; so does one in hertz beside a measured speed
 * in another unit where nothing else is commanded: that of the field.
 *
 * @param drives whether it is the one thing of its table that can be the command
 */
export function setFrequency(name: NameEvidence, words: string, drives: boolean): NameEvidence {
  const set = name.side === "command" && speaksOfFrequency(words);
  const open = name.side === undefined && drives && wordsOf(words).some(isFrequency);
  if (!set && !open) return name;
  const score = new Map(name.score);
  const more = set ? frequencySet : frequencyOfField;
  if (open)
    for (const role of ["other", "speed"] as const) score.set(role, (score.get(role) ?? 0) - more / 2);
  return { ...name, score: score.set("speedCommand", (score.get("speedCommand") ?? 0) + more) };
}

/** How much more likely a set or actual value without a quantity is of the one that the log is about (log likelihood
 * ratio; judgement). */
const contextWeight = 2.2;

/** A name without a quantity is likelier of the one that the log is about. */
export function withContext(name: NameEvidence, context: Quantity | undefined): NameEvidence {
  if (context === undefined || !name.openQuantity) return name;
  const score = new Map(name.score);
  for (const [role, s] of score) if (roleFacts[role].quantity === context) score.set(role, s + contextWeight);
  return { ...name, score };
}

/** How much rarer a command by its bare name is in a table that marks another one (log likelihood ratio; judgement). */
const markedElsewhere = -1;

/**
 * Who calls one command `target` calls no other by the bare name of its quantity; outputs of a loop are called so all
 * the same. Nor does who logs a command and its answer leave both without a mark: two `speed` are two measurements.
 */
export function unmarked(name: NameEvidence, marksCommands: boolean): NameEvidence {
  if (!marksCommands || !name.namesQuantity || name.side !== undefined) return name;
  const score = new Map(name.score);
  for (const role of ["speedCommand", "positionCommand", "currentCommand"] as const)
    score.set(role, (score.get(role) ?? 0) + markedElsewhere);
  return { ...name, score };
}

const ofSpread = /(^| )(min|minimum|max|maximum|std|stdev|sigma|peak|pp)( |$)/;
/** How much rarer the spread of a signal is a channel beside its mean (log likelihood ratio; judgement). */
const spreadBesideMean = -4;

/** `i_min` and `i_max` beside `i_avg` tell how far a signal went between two rows; the mean is the signal. */
export function besideMean(name: NameEvidence, words: string, all: readonly string[]): NameEvidence {
  const plain = wordsOf(words).join(" ");
  if (!ofSpread.test(plain)) return name;
  const siblings = ["avg", "mean", "average", "mittel"].map((m) => plain.replace(ofSpread, `$1${m}$3`));
  if (!all.some((other) => siblings.includes(wordsOf(other).join(" ")))) return name;
  const score = new Map(name.score);
  for (const [role, s] of score) if (role !== "other") score.set(role, s + spreadBesideMean);
  return { ...name, score };
}

/** A bare set or actual value beside a motion that another column names is as often of something else: a
 * current. */
export function besideNamedMotion(headings: readonly Heading[], names: NameEvidence[]): void {
  const motion = names.map(
    (n) => n.namesQuantity && !n.bareSide && n.side !== "command" && /^(speed|position)$/.test(likeliest(n)),
  );
  for (const [i, n] of names.entries())
    if (n.bareSide && headings[i].unit === undefined && motion.some((m, k) => m && k !== i))
      names[i] = { ...n, besideNamed: true };
}

/** Words for the force that a propeller makes, folded, and the units that it is logged in. */
const thrustWords = /(^| )(thrust|schub|poussee|empuje|empuxo|spinta|itki|ciag|tah|тяга|推力|추력)( |$)/u;
const thrustUnits = /^(gf|kgf|g|kg|n|lbf|grams?)$/i;

/** Log likelihood ratios by which a bare voltage or current is that of the supply, and not of the motor, on a rig that
 * measures thrust (judgement: its sensors stand between battery and controller; common practice, no source). */
const besideForce = { supply: 1.8, motor: -1.2 };

/** Beside the force of a propeller, a voltage or a current without a word for where it is measured is mostly what the
 * controller takes from its supply. */
export function besideThrust(headings: readonly Heading[], names: NameEvidence[]): void {
  const force = headings.some(
    ({ words, otherUnit, unit }) =>
      thrustWords.test(wordsOf(words).join(" ")) && thrustUnits.test(otherUnit ?? unit?.spelling ?? "g"),
  );
  if (!force) return;
  for (const [i, n] of names.entries()) {
    if (!n.namesQuantity || n.side !== undefined || !/^(current|voltage)$/.test(likeliest(n))) continue;
    const score = new Map(n.score);
    for (const [role, s] of score) {
      const { axis, side } = roleFacts[role];
      if (side === "measured") score.set(role, s + (axis === "bus" ? besideForce.supply : besideForce.motor));
    }
    names[i] = { ...n, score };
  }
}
