import { wordsOf } from "./foldedWords.js";
import type { WordMeaning } from "./inflections.js";
import { known, meaningOf, partsOf } from "./lexicon.js";
import { type Axis, type Meaning, meanings, type Quantity, roleFacts, type Side } from "./roles.js";
import { extremeWords } from "./tables/sideWords.js";
import { commandHandedOn, processValue, type SymbolMeaning, setPoint } from "./tables/symbols.js";

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

/** Weighs the words of a heading (its unit taken off). `phase` tells the axis found from columns beside it, where `a`
 * and `1` are phases. */
export function nameEvidence(heading: string, phase?: Axis): NameEvidence {
  const key = `${phase ?? ""} ${heading}`;
  let found = lately.get(key);
  if (found === undefined) {
    found = weighed(heading, phase);
    if (lately.size >= mostLately) lately.clear();
    lately.set(key, found);
  }
  return found;
}

/** Headings weighed lately: files of one logger have the same. */
const lately = new Map<string, NameEvidence>();
const mostLately = 500;

function weighed(heading: string, phase: Axis | undefined): NameEvidence {
  const words = wordsOfName(heading);
  const read = words.map((word) => ({ word, meaning: meaningOf(word) }));
  const letterT = words.length > 1 ? read.find(({ word }) => word === "t") : undefined;
  if (letterT !== undefined) letterT.meaning = ofLetterT(read);
  presentValues(read);
  for (let k = 0; k + 1 < read.length && read.length > 2; k += 1)
    if (read[k].word === "m" && /^\d+$/.test(read[k + 1].word)) read[k].meaning = aMotor;
  if (read.some(({ meaning }) => meaning !== undefined && sideOf(meaning) !== undefined))
    for (const r of read) if (/^(motor|mot|motors)$/.test(r.word)) r.meaning = aMotor;
  const last = read.at(-1);
  if (words.length > 1 && last?.word === "id") last.meaning = identifier;
  const told: string[] = [];
  const subject = Math.max(0, ...read.map(({ meaning }) => meaning?.rank ?? 0));
  const subjects = new Set(
    read.flatMap(({ meaning }) =>
      meaning !== undefined && meaning.rank >= subject - 1e-9 && meaning.alternatives.length === 1
        ? meaning.alternatives.map((a) => a.quantity)
        : [],
    ),
  );
  const quantity = new Map<Quantity, number>();
  const marks = new Marks();
  let unknown = 0;
  let elsewhere = false;
  let namesQuantity = false;
  let leftOpen = 0;
  let open = false;
  for (const { word, meaning } of read) {
    if (meaning === undefined) {
      if (/\p{L}{2,}/u.test(word)) unknown += 1;
      continue;
    }
    if (meaning.elsewhere) elsewhere = true;
    if (meaning.alternatives.length > 0) told.push(word === "ucontrol" ? "u" : word);
    for (const a of meaning.alternatives) {
      // What is said of side and axis holds given the quantity: `id` may be no current, but a current of that name is
      // the d current.
      const alike = meaning.alternatives.reduce(
        (sum, b) => sum + (b.quantity === a.quantity ? b.weight : 0),
        0,
      );
      // A word that is not the subject only describes it.
      const describes = a.quantity === undefined && meaning.rank < subject - 1e-9;
      const weight = describes ? 1 : a.quantity === undefined ? a.weight : Math.min(1, a.weight / alike);
      const general = sideOf(meaning);
      // A letter behind a word may stand for anything: the `r` of the rotor, of the right one, of a reference.
      if (general !== undefined) {
        const sure = word.length === 1 && words.length > 1 ? 0.5 : 1;
        marks.add({ side: general, weight: sure }, sure);
      }
      // Only the subject of the heading speaks for its own quantity; an encoder says all the same that a position is
      // measured; beside a word for the same quantity a symbol says which one (`courant Id mesuré`).
      else if (
        a.quantity === undefined ||
        meaning.rank >= subject - 1e-9 ||
        a.weight > 0.8 ||
        (a.axis !== undefined && subjects.has(a.quantity))
      )
        marks.add(a, weight);
    }
    const mine = meaning.alternatives.filter((a) => a.quantity !== undefined);
    if (mine.length === 0 || meaning.rank < subject - 1e-9) continue;
    namesQuantity = true;
    mix(quantity, mine, meaning);
    // With the weight of what it says of no quantity, a word leaves all of them open.
    const generic = meaning.alternatives.reduce(
      (sum, a) => sum + (a.quantity === undefined ? a.weight : 0),
      0,
    );
    leftOpen = Math.max(leftOpen, 0.1 * generic);
    if (Math.max(...mine.map((a) => a.weight)) <= 0.5 && sideOf(meaning) !== undefined) open = true;
  }
  if (phase !== undefined) marks.add({ axis: phase, weight: 1 }, 1);
  const letter = phaseLetter(words);
  if (letter !== undefined) marks.add({ axis: letter, weight: 0.95 }, 0.95);
  // A heading that says nothing but set or actual value: of what a loop controls, mostly a speed or a position.
  const bare = namesQuantity || unknown > 0 || elsewhere ? undefined : bareSide(read);
  if (bare !== undefined) {
    namesQuantity = true;
    open = true;
    leftOpen = 0.02;
    const manual = bare === "command" && words.some((w) => handedOn.has(w));
    mix(quantity, manual ? commandHandedOn : bare === "command" ? setPoint : processValue, {
      alternatives: [],
      rank: 1,
    });
  }
  // A last `d` is the desired value of what moves a shaft; of a current it is the direct axis.
  if (words.length > 1 && words.at(-1) === "d")
    for (const q of ["speed", "position", "torque"] as const)
      marks.add({ quantity: q, side: "command", weight: 0.75 }, 0.75);
  // The speed of the field is that of the shaft times a number that is not said.
  if (
    quantity.has("speed") &&
    words.some((w) => /^(electrical|electric|elec|elektrisch\w*|electrique|electrica|elettrica)$/.test(w))
  )
    quantity.set("other", Math.max(quantity.get("other") ?? 0, 0.4));
  // What is asked of an axis of an attitude and what it does are angles of a gimbal's or a joint's motor.
  if (marks.any() && words.some((w) => /^(roll|pitch|yaw)$/.test(w)))
    quantity.set("other", 0.25 * (quantity.get("other") ?? 0));
  // What is fed forward is a part of a controller's output; of a torque or a current it is as often what the drive is
  // told.
  if (words.some((w) => /^(ff|feedforward)$/.test(w)))
    for (const q of ["torque", "current"] as const)
      if (
        (q === "torque" && words.includes("t")) ||
        read.some(({ meaning }) => meaning?.alternatives.some((a) => a.quantity === q && a.weight > 0.8))
      )
        quantity.set(q, 0.4).set("other", 0.5);
  // How long something takes is no clock.
  if (quantity.has("time") && words.some((w) => durations.has(w)))
    quantity.set("other", Math.max(quantity.get("other") ?? 0, 0.6));
  // The voltage of one phase is no channel.
  if ((phase === "u" || phase === "v" || phase === "w") && (quantity.get("voltage") ?? 0) > 0.3)
    quantity.set("other", 0.9);
  // A load or a disturbance is a torque that acts from outside: no channel of the motor unless it is measured.
  if (quantity.has("torque") && words.some((w) => fromOutside.has(w)) && !words.some((w) => ofSensor.has(w)))
    quantity.set("other", Math.max(quantity.get("other") ?? 0, 0.5 * (quantity.get("torque") ?? 0)));
  // The last word of an English heading is its subject: `current_action` may be no current.
  const end = read.at(-1);
  if (
    namesQuantity &&
    end?.meaning === undefined &&
    /^(?!none$|null$)[a-z]{4,}$/.test(end?.word ?? "") &&
    words.length > 1
  )
    quantity.set("other", Math.max(quantity.get("other") ?? 0, 0.05));
  // A largest value may be a limit: whether it ever changes tells.
  if (namesQuantity && words.some((w) => extremeWords.has(w)))
    quantity.set("other", Math.max(quantity.get("other") ?? 0, 0.15));
  const plain = read.some(({ meaning }) =>
    meaning?.alternatives.some((a) => a.quantity !== undefined && a.weight >= 0.99),
  );
  const surroundings = words.some((w) => beside.has(w));
  // The reading of a converter stands beside the value that was made of it more often than alone.
  const raw =
    words.some((w) => /^(adc|raw|roh)$/.test(w)) &&
    !["current", "position"].some((q) => quantity.has(q as Quantity));
  const floor = Math.max(leftOpen, nameLikelihoods.wrongQuantity[plain ? "word" : "symbol"]);
  const score = new Map<Meaning, number>();
  for (const role of meanings) {
    const facts = roleFacts[role];
    let s = 0;
    if (namesQuantity) s += Math.log(Math.max(quantity.get(facts.quantity) ?? 0, floor));
    if (role === "time" && plain && !quantity.has("time") && !quantity.has("other")) s += notTheClock;
    s += sideScore(role, marks.sides(facts.quantity)) + axisScore(role, marks.axes(facts.quantity));
    const which = role === "other" ? "other" : "channel";
    const turns = facts.quantity === "speed" || facts.quantity === "position" || facts.quantity === "torque";
    if (elsewhere && role !== "temperature")
      s += Math.log(nameLikelihoods.elsewhere[which === "channel" && turns ? "shaft" : which]);
    if (elsewhere && role === "temperature") s += Math.log(nameLikelihoods.elsewhere.other) + 1.5;
    if (unknown > 0 && !namesQuantity) s += Math.log(nameLikelihoods.unknownWord[which]);
    score.set(role, s);
  }
  return {
    score,
    told,
    namesQuantity,
    elsewhere,
    openQuantity: !plain && (marks.any() || open),
    namesOther: (quantity.get("other") ?? 0) >= 0.6,
    inDoubt: surroundings || raw,
    unknown: unknown > 0 && !namesQuantity && !elsewhere,
    ...(marks.side() === undefined ? {} : { side: marks.side() }),
  };
}

/** Words for what surrounds the motor. */
const beside = new Set("ambient umgebung umgebungs room raum outdoor weather ambiente ambiant".split(" "));

/** Nobody calls the clock plainly by the name of another quantity (log likelihood ratio; judgement). */
const notTheClock = -6;

/** What ends in `id` tells things apart: a record, a motor, a node of a bus; rarely the current of the direct axis. */
const identifier: WordMeaning = {
  alternatives: [
    { quantity: "other", weight: 0.59 },
    { quantity: "motor", weight: 0.15 },
    { quantity: "run", weight: 0.08 },
    { quantity: "sample", weight: 0.06 },
    { quantity: "current", axis: "d", weight: 0.12 },
  ],
  rank: 10,
};

const fromOutside = new Set(
  "load ext external disturbance disturb dist hand human rider pedal pedals crank cyclist fahrer tret last lastmoment charge carga carico yuk 负载 負荷 부하".split(
    " ",
  ),
);

/** A torque that a load cell or another sensor measures is one that is measured. */
const ofSensor = new Set(
  "cell sensor transducer aufnehmer messwelle capteur sensore kraftaufnehmer 传感器 センサ".split(" "),
);

/** Words for what is handed on to a motor or an amplifier as often as to a loop. */
const handedOn = new Set(
  "command commands cmd cmds commanded commande comando comandada comandado comandata comandato mando".split(
    " ",
  ),
);

const durations = new Set(
  "loop exec execution processing computation compute calc solve delta latency response rise settle settling dead idle overrun jitter age since".split(
    " ",
  ),
);

/** `M1` beside other words is a motor and no torque. */
const aMotor: WordMeaning = { alternatives: [], rank: 0 };

const ofNow: WordMeaning = { alternatives: [{ side: "measured", weight: 1 }], rank: 0 };
const hasNow = new Set<Quantity>([
  "speed",
  "position",
  "temperature",
  "voltage",
  "duty",
  "time",
  "electricalAngle",
]);

/** In English what is `current` may be no current: before another quantity it is the value that this has now
 * (`CurrentAngle`). */
function presentValues(read: { readonly word: string; meaning?: WordMeaning }[]): void {
  for (let k = 0; k + 1 < read.length; k += 1) {
    if (!/^(current|curr?)$/.test(read[k].word)) continue;
    const next = read[k + 1].meaning?.alternatives ?? [];
    if (next.some((a) => a.quantity !== undefined && hasNow.has(a.quantity) && a.weight > 0.8))
      read[k].meaning = ofNow;
  }
}

/** Parts of a machine of which a `T` beside them is the temperature. */
const parts = new Set(
  "w wdg wind winding windings wick wicklung amb case housing hs bearing lager fet mos drv board coil mag magnet stator rotor gear ntc pt cu".split(
    " ",
  ),
);

/** A `t` beside other words: with set or actual a torque (no clock has those), with a part of the machine its
 * temperature, else as likely any of three. */
function ofLetterT(
  beside: readonly { readonly word: string; readonly meaning?: WordMeaning }[],
): WordMeaning {
  const others = beside.filter(({ word }) => word !== "t");
  const weights = others.some(({ meaning }) => meaning !== undefined && sideOf(meaning) !== undefined)
    ? { torque: 0.75, temperature: 0.12, time: 0.05 }
    : others.some(({ word }) => parts.has(word))
      ? { torque: 0.12, temperature: 0.75, time: 0.05 }
      : others.some(
            ({ word, meaning }) => /^(m|mot|motor|l|load|e|em|shaft)$/.test(word) && meaning !== undefined,
          )
        ? { torque: 0.45, temperature: 0.4, time: 0.05 }
        : undefined;
  const own = meaningOf("t") as WordMeaning;
  if (weights === undefined) return own;
  const alternatives = Object.entries(weights).map(([quantity, weight]) => ({
    quantity: quantity as Quantity,
    weight,
  }));
  return { alternatives, rank: own.rank };
}

const phaseWords = new Set(["phase", "phasen", "phasenstrom", "fase", "faza", "faze", "фаза", "фазы", "相"]);
const phaseLetters: Readonly<Record<string, Axis>> = { u: "u", v: "v", w: "w", a: "u", b: "v", c: "w" };

/** The phase of a heading that says `phase` and a letter, whatever stands beside it. */
function phaseLetter(words: readonly string[]): Axis | undefined {
  if (!words.some((w) => phaseWords.has(w))) return undefined;
  const letters = words.filter((w) => phaseLetters[w] !== undefined);
  return letters.length === 1 ? phaseLetters[letters[0]] : undefined;
}

/** The side that all words of a heading speak of, where they speak of nothing else. */
function bareSide(
  known: readonly { readonly word: string; readonly meaning?: WordMeaning }[],
): Side | undefined {
  const sides = new Set<Side | undefined>();
  for (const { word, meaning } of known) {
    // A number tells one of several apart.
    if (/^\d+$/.test(word)) continue;
    if (meaning === undefined) return undefined;
    if (meaning.alternatives.some((a) => a.axis !== undefined || a.quantity !== undefined)) return undefined;
    for (const a of meaning.alternatives) sides.add(a.side);
  }
  return sides.size === 1 ? [...sides][0] : undefined;
}

/** Letters by which programs of machine controls say the type of a variable: `rActSpeed`, `nTorque`, `lrPosition`
 * (common practice, no source). */
const typeLetters = /(^|[^\p{L}\p{N}])(?:r|f|n|b|x|i|u|w|s|lr|di|ui|dw|fl|st)(?=\p{Lu}\p{Ll})/gu;

/** Words of a heading. Type letters are left out where the rest names a quantity by itself. */
export function wordsOfName(heading: string): string[] {
  const own = wordsOf(heading);
  // A joint's `q_d` is the position that is desired.
  const words = expanded(own.join(" ") === "q d" ? ["q", "des"] : own);
  const rest = heading.replace(typeLetters, "$1");
  if (rest === heading) return words;
  const others = expanded(wordsOf(rest));
  const names = others.some((w) => {
    const meaning = meaningOf(w);
    return (
      meaning !== undefined &&
      meaning.rank > 2 &&
      meaning.alternatives.some((a) => a.quantity !== undefined && a.weight > 0.8)
    );
  });
  return names ? others : words;
}

/** The side a word is of whatever the quantity: `setpoint` is a command of something. */
function sideOf({ alternatives }: WordMeaning): Side | undefined {
  const sides = new Set(alternatives.filter((a) => a.quantity !== "other").map((a) => a.side));
  return sides.size === 1 ? [...sides][0] : undefined;
}

/** What the words of a heading say of set or actual value and of the axis: for any quantity, or for one. */
class Marks {
  private readonly said: { readonly alternative: SymbolMeaning; readonly weight: number }[] = [];

  /** Something is said of set or actual value. */
  any(): boolean {
    return this.said.some((s) => s.alternative.side !== undefined);
  }

  add(alternative: SymbolMeaning, weight: number): void {
    if (alternative.side !== undefined || alternative.axis !== undefined)
      this.said.push({ alternative, weight });
  }

  /** The side that is said, of whatever quantity, where only one is. */
  side(): Side | undefined {
    const sides = new Set(this.said.flatMap((s) => s.alternative.side ?? []));
    return sides.size === 1 ? [...sides][0] : undefined;
  }

  sides(quantity: Quantity): { command: number; measured: number } {
    const out = { command: 0, measured: 0 };
    for (const { alternative: a, weight } of this.said) {
      if (a.side === undefined || (a.quantity !== undefined && a.quantity !== quantity)) continue;
      out[a.side] = Math.max(out[a.side], weight);
    }
    return out;
  }

  axes(quantity: Quantity): ReadonlyMap<Axis, number> {
    const out = new Map<Axis, number>();
    for (const { alternative: a, weight } of this.said) {
      if (a.axis === undefined || (a.quantity !== undefined && a.quantity !== quantity)) continue;
      out.set(a.axis, Math.max(out.get(a.axis) ?? 0, weight));
    }
    return out;
  }
}

/**
 * Two words of the same rank share the likelihood: each alternative counts where any word speaks of it. The weights of
 * a word of several meanings say how often a column of that name is this or that; how common the quantity is anyway is
 * divided out, since it is counted elsewhere.
 */
function mix(
  quantity: Map<Quantity, number>,
  alternatives: WordMeaning["alternatives"],
  meaning: WordMeaning,
): void {
  const total = alternatives.reduce((sum, a) => sum + a.weight, 0);
  const scale = total > 1 || meaning.rank >= 1 ? 1 / Math.max(1, total) : 1;
  const several = new Set(alternatives.map((a) => a.quantity)).size > 1;
  const own = alternatives.map((a) => a.weight * (several ? commonness(a.quantity as Quantity) ** -0.75 : 1));
  const all = own.reduce((sum, w) => sum + w, 0);
  for (const [k, a] of alternatives.entries()) {
    const q = a.quantity as Quantity;
    quantity.set(q, Math.max(quantity.get(q) ?? 0, (own[k] * scale * total) / all));
  }
}

/** How common columns of a quantity are before anything is looked at. */
function commonness(quantity: Quantity): number {
  let sum = 0;
  for (const role of meanings) if (roleFacts[role].quantity === quantity) sum += roleFacts[role].prior;
  return Math.max(sum, 0.02);
}

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

/** Words taken apart where they are written together, neighbours put together where they are one word (`i q`, `set
 * point`). */
function expanded(words: readonly string[]): string[] {
  const out: string[] = [];
  for (let i = 0; i < words.length; i += 1) {
    const pair = i + 1 < words.length ? words[i] + words[i + 1] : undefined;
    const joins =
      pair !== undefined &&
      (words[i + 1].length === 1 ? known(pair) : meaningOf(pair)) !== undefined &&
      !/\p{N}/u.test(pair) &&
      pair !== "qd" &&
      (words[i].length === 1 ||
        meaningOf(words[i]) === undefined ||
        meaningOf(words[i + 1]) === undefined ||
        compound(pair, words[i], words[i + 1]) ||
        joined.has(pair));
    if (joins && pair !== undefined) {
      out.push(pair);
      i += 1;
    } else out.push(...(partsOf(words[i]) ?? [words[i]]));
  }
  return out;
}

/** A term of two words that stands in a table as one: `kąt obrotu`, `коэффициент заполнения`. */
function compound(pair: string, first: string, second: string): boolean {
  return first.length >= 3 && second.length >= 3 && known(pair) !== undefined;
}

/** Pairs that are one word although each half is a word too. */
const joined = new Set(
  "setpoint closedloop openloop escsignal pulsewidth dclink dcbus dutycycle dutyratio modulationindex inposition partno loopcount cyclecount timestep phiel phie vmotor umotor imotor nmotor wmotor tmotor inputcurrent inputvoltage currentin voltagein amphours watthours fieldcurrent fieldvoltage serialnumber serialno pterm iterm dterm ppart ipart dpart controlleroutput controlsignal controleffort regleroutput reglerausgang thetaelectrical timestamp errorcode statusword indexpulse zpulse testid runid motorid leadorder phaseorder thetae anglee electricalangle elangle elecangle sweepangle alignangle fieldangle thetadot qdot".split(
    " ",
  ),
);
