import { Kept } from "./kept.js";
import { weighNoChannel } from "./perhapsNoChannel.js";
import { type Axis, type Meaning, meanings, type Quantity, roleFacts, type Side } from "./roles.js";
import { SaidByWords } from "./saidByWords.js";
import { wordsInContext } from "./wordsInContext.js";
import { wordsOfName } from "./wordsOfName.js";

/** What a heading says, as far as words tell. */
export interface NameEvidence {
  /** Log likelihood of the heading under each meaning, up to a constant. */
  readonly score: ReadonlyMap<Meaning, number>;
  /** Words that were understood and told something, as they stand in the heading. */
  readonly told: readonly string[];
  /** The heading names a quantity (not only a side or an axis). */
  readonly namesQuantity: boolean;
  /** It names another part than the motor: a heat sink, a gear. */
  readonly elsewhere: boolean;
  /** It is a set or actual value of something that the heading does not name. */
  readonly openQuantity: boolean;
  /** It says nothing but that: a bare `Ist`, `setpoint`, `PV`. */
  readonly bareSide: boolean;
  /** The same, beside a motion that another column names. */
  readonly besideNamed?: boolean;
  /** It names something that is no channel. */
  readonly namesOther: boolean;
  /** Whether what it names is a channel is a matter of opinion: the warmth of the room, the raw reading of a sensor. */
  readonly inDoubt: boolean;
  /** Nothing in it is known but words of no table. */
  readonly unknown: boolean;
  /** It says which of set and actual value it is. */
  readonly side?: Side;
}

/** Likelihoods of words given what a column is (judgement from reading headings; common practice, no source). */
const nameLikelihoods = {
  /** A heading whose words speak of one quantity belongs to another. */
  wrongQuantity: { word: 0.001, symbol: 0.004 },
  /** A heading that names no quantity, given a role: a bare `Setpoint`, `ch 3`. */
  side: {
    command: { command: 0.85, none: 0.06, measured: 0.01 },
    /** Outputs of a loop are often logged by their bare name: `voltage`, `torque`. */
    commandFromLoop: { command: 0.72, none: 0.25, measured: 0.015 },
    measured: { command: 0.008, none: 0.6, measured: 0.39 },
    free: { command: 0.2, none: 0.6, measured: 0.2 },
    /** No clock and no counter is commanded. */
    clock: { command: 0.01, none: 0.6, measured: 0.1 },
  },
  axis: {
    right: 0.9,
    unsaid: { none: 0.8, q: 0.04, d: 0.03, u: 0.05, v: 0.05, w: 0.05, bus: 0.12 },
    wrong: 0.004,
    quadratureAsWhole: 0.35,
  },
  /** A column of something else is named with words of no table more often than a channel is. */
  unknownWord: { channel: 0.25, other: 0.6 },
  elsewhere: { channel: 0.05, shaft: 0.3, other: 0.6 },
} as const;

/** Weighs the words of a heading, its `unit` taken off (UCUM). `phase` tells the axis found from columns beside it,
 * where `a` and `1` are phases. */
export function nameEvidence(heading: string, phase?: Axis, unit?: string): NameEvidence {
  return lately.of(`${phase ?? ""} ${unit ?? ""} ${heading}`, () => weighed(heading, phase, unit));
}

/** Headings weighed lately. */
const lately = new Kept<NameEvidence>(500);

function weighed(heading: string, phase: Axis | undefined, unit: string | undefined): NameEvidence {
  const words = wordsOfName(heading);
  const read = wordsInContext(words, unit);
  const said = new SaidByWords(words, read);
  said.addPhase(phase);
  said.addBareSide();
  said.addDesired();
  weighNoChannel(said, phase);
  const { quantity, marks, namesQuantity, elsewhere } = said;
  const plain = read.some(({ meaning }) =>
    meaning?.alternatives.some((a) => a.quantity !== undefined && a.weight >= 0.99),
  );
  const surroundings = words.some((w) => beside.has(w));
  // The reading of a converter stands beside the value that was made of it more often than alone.
  const raw =
    words.some((w) => /^(adc|raw|roh)$/.test(w)) &&
    !["current", "position"].some((q) => quantity.has(q as Quantity));
  const side = marks.side();
  return {
    score: new Map(meanings.map((role) => [role, scoreOf(role, said, plain)] as const)),
    told: said.told,
    namesQuantity,
    elsewhere,
    openQuantity: !plain && (marks.any() || said.open),
    bareSide: said.open,
    namesOther: (quantity.get("other") ?? 0) >= 0.6,
    inDoubt: surroundings || raw,
    unknown: said.unknown && !namesQuantity && !elsewhere,
    side,
  };
}

/** Log likelihood of a heading given what its column is; `plain` where a word surely names a quantity. */
function scoreOf(role: Meaning, said: SaidByWords, plain: boolean): number {
  const { quantity, marks, namesQuantity, elsewhere } = said;
  const facts = roleFacts[role];
  const floor = Math.max(said.leftOpen, nameLikelihoods.wrongQuantity[plain ? "word" : "symbol"]);
  let s = 0;
  if (namesQuantity) s += Math.log(Math.max(quantity.get(facts.quantity) ?? 0, floor));
  if (role === "time" && plain && !quantity.has("time") && !quantity.has("other")) s += notTheClock;
  s += sideScore(role, marks.sides(facts.quantity)) + axisScore(role, marks.axes(facts.quantity));
  const which = role === "other" ? "other" : "channel";
  const turns = facts.quantity === "speed" || facts.quantity === "position" || facts.quantity === "torque";
  if (elsewhere && role !== "temperature")
    s += Math.log(nameLikelihoods.elsewhere[which === "channel" && turns ? "shaft" : which]);
  if (elsewhere && role === "temperature") s += Math.log(nameLikelihoods.elsewhere.other) + 1.5;
  if (said.unknown && !namesQuantity) s += Math.log(nameLikelihoods.unknownWord[which]);
  return s;
}

/** Words for what surrounds the motor. */
const beside = new Set(
  "ambient amb umgebung umgebungs room raum outdoor weather ambiente ambiant omgeving omgivning".split(" "),
);

/** Nobody calls the clock plainly by the name of another quantity (log likelihood ratio; judgement). */
const notTheClock = -6;

function sideScore(role: Meaning, side: { readonly command: number; readonly measured: number }): number {
  const facts = roleFacts[role];
  const loop = facts.side === "command" && (facts.quantity === "voltage" || facts.quantity === "torque");
  const free = role === "time" || role === "sample" ? "clock" : "free";
  const table = nameLikelihoods.side[loop ? "commandFromLoop" : (facts.side ?? free)];
  if (side.command > 0 && side.measured > 0) {
    return Math.log(0.5 * table.command + 0.5 * table.measured);
  }
  if (side.command > 0) return Math.log(side.command * table.command + (1 - side.command) * table.none);
  if (side.measured > 0) return Math.log(side.measured * table.measured + (1 - side.measured) * table.none);
  return Math.log(table.none);
}

function axisScore(role: Meaning, said: ReadonlyMap<Axis, number>): number {
  const facts = roleFacts[role];
  const table = nameLikelihoods.axis;
  if (facts.quantity !== "current" && facts.quantity !== "voltage")
    return Math.log(said.has("bus") || said.has("d") ? 0.1 * table.unsaid.none : table.unsaid.none);
  if (said.size === 0) return Math.log(table.unsaid[facts.axis]);
  const right = said.get(facts.axis);
  if (right !== undefined) return Math.log(right * table.right + (1 - right) * table.wrong);
  if (facts.axis === "none" && said.has("q") && facts.quantity === "current") return Math.log(table.right);
  if (facts.axis === "none" && said.has("q")) return Math.log(0.03);
  const surest = Math.max(...said.values());
  return Math.log(surest * table.wrong + (1 - surest) * table.unsaid[facts.axis]);
}
