import type { DriveFacts, EncoderFacts, MachineFacts } from "../../motor/facts.js";
import { fold } from "../columns/foldedWords.js";

/** What lines beside a table state of machine, drive and encoder, SI. */
export interface StatedInLines {
  readonly machine: MachineFacts;
  readonly drive: DriveFacts;
  readonly encoder: EncoderFacts;
  /** Each with the words it was read from, for people. */
  readonly said: readonly string[];
}

/** How a unit is written, its size in SI, and its name for people. */
type Unit = readonly [RegExp, number, string];

/** One fact: the words that name it, the units it may have, and where it goes. */
interface Rule {
  readonly fact: string;
  readonly words: string;
  readonly units: readonly Unit[];
  /** Without a unit it is not believed. */
  readonly needsUnit?: boolean;
  readonly whole?: boolean;
  /** An even number. */
  readonly even?: boolean;
  readonly least: number;
  readonly most: number;
  /** The words may stand behind the number: `4 pole pairs`. */
  readonly behind?: string;
  readonly into: (value: number, out: Out) => void;
}

interface Out {
  readonly machine: { -readonly [K in keyof MachineFacts]: MachineFacts[K] };
  readonly drive: { -readonly [K in keyof DriveFacts]: DriveFacts[K] };
  readonly encoder: { -readonly [K in keyof EncoderFacts]: EncoderFacts[K] };
}

const rated = "(?:rated|nominal|nameplate|nenn|nom\\.?|bemessungs?)[ _-]?(?:motor[ _-]?)?";
const amperes: readonly Unit[] = [
  [/^ma/, 1e-3, "mA"],
  // The amplitude of a sine of that root mean square.
  [/^a ?(?:\(?(?:rms|eff)|rms|eff)|^arms/, Math.SQRT2, "A rms"],
  [/^a(?![a-z])|^a(?:mp|pk|peak)/, 1, "A"],
];
const volts: readonly Unit[] = [[/^v(?:dc|olts?)?(?![a-z])/, 1, "V"]];
const turns: readonly Unit[] = [
  [
    /^(?:rpm|r\/min|rev\/min|u\/min|1\/min|min-1|min\^-1|tr\/min|giri\/min|obr\/min|ot\/min)/,
    Math.PI / 30,
    "rev/min",
  ],
  [/^rad\/s/, 1, "rad/s"],
];
const torques: readonly Unit[] = [
  [/^mn[.·* ]?m/, 1e-3, "mN·m"],
  [/^n[.·* ]?cm/, 1e-2, "N·cm"],
  [/^n[.·* ]?m/, 1, "N·m"],
];
const none: readonly Unit[] = [];

/** The facts, by their words in several languages, folded (from memory). */
const rules: readonly Rule[] = [
  {
    fact: "pole pairs",
    words:
      "(?:no\\.? of |number of )?(?:pole ?pairs?|polpaare?|polpaarzahl|paires de poles|pares de polos|coppie polari|pary biegunow|poolparen|polpar|polovych paru)|极对数|極対数",
    behind: "(?:pole ?pairs?|polpaare?|paires de poles|pares de polos|coppie polari|pp)",
    units: none,
    whole: true,
    least: 1,
    most: 100,
    into: (v, { machine }) => {
      machine.polePairs = v;
    },
  },
  {
    fact: "poles",
    words: "(?:no\\.? of |number of )?(?:motor )?poles|polzahl",
    behind: "poles?(?! ?pair)|polig",
    units: none,
    whole: true,
    even: true,
    least: 2,
    most: 200,
    into: (v, { machine }) => {
      machine.polePairs ??= v / 2;
    },
  },
  {
    fact: "encoder lines",
    words:
      "(?:encoder|enc|geber|inkrementalgeber|drehgeber|codeur|enkoder)?[ _-]?(?:lines?(?: per rev\\w*| count)?|strichzahl|striche|ppr|lpr|pulses (?:per|/) ?(?:rev\\w*|turn)|impulse (?:pro|je) umdrehung)",
    behind:
      "(?:lines?(?: per rev\\w*|/rev| per turn)?|striche?|ppr|lpr|pulses ?(?:per|/) ?(?:rev\\w*|turn)|imp(?:ulse)?/u|impulsi/giro|imp/tr|(?:imp(?:uls\\w*)?|pulsos?)\\.? ?(?:/|na|por|par|per|pro|pr\\.?) ?(?:volta|vuelta|giro|tour|tr|obr\\w*|ot\\w*|об\\w*|varv|omdr\\w*))",
    units: none,
    whole: true,
    least: 8,
    most: 1e6,
    into: (v, { encoder }) => {
      encoder.lines = v;
    },
  },
  {
    fact: "counts of the encoder in a turn",
    words:
      "(?:encoder |enc )?(?:counts|ticks|increments|inkremente)(?:[ _]?(?:per|/|pro|je|a|each)[ _]?(?:rev\\w*|turn|umdrehung|u)|(?= ?[[(]?\\d+ ?(?:per|/|pro|je|a|each) ?(?:rev|turn|umdrehung)))",
    behind:
      "(?:counts|ticks|cnts?|inc|inkr(?:ement\\w*)?|increments?)\\.?[ _]?(?:per|/|pro|je|na|par|a|each|to (?:a|the|one))[ _]?(?:rev\\w*|turn|umdrehung|u|ot(?:acku)?|obr\\w*|tour|tr|giro|vuelta|volta|varv|omdr\\w*|omw\\w*)",
    units: none,
    whole: true,
    least: 12,
    most: 1e8,
    into: (v, { encoder }) => {
      encoder.lines ??= v / 4;
    },
  },
  {
    fact: "rated current",
    words: `${rated}(?:current|strom)|i_?n|i_?nenn|i_?rated|i_?nom|courant nominal|corriente nominal|corrente nominale?`,
    units: amperes,
    needsUnit: true,
    least: 1e-3,
    most: 1e5,
    into: (v, { machine }) => {
      machine.ratedCurrent = v;
    },
  },
  {
    fact: "rated speed",
    words: `${rated}(?:speed|drehzahl|rpm)|n_?n|n_?nenn|n_?rated|n_?nom|vitesse nominale|velocidad nominal|velocita nominale`,
    units: turns,
    needsUnit: true,
    least: 0.1,
    most: 1e5,
    into: (v, { machine }) => {
      machine.ratedSpeed = v;
    },
  },
  {
    fact: "rated torque",
    words: `${rated}(?:torque|moment|drehmoment)|m_?n|m_?nenn|t_?rated|couple nominal|par nominal|coppia nominale`,
    units: torques,
    needsUnit: true,
    least: 1e-5,
    most: 1e6,
    into: (v, { machine }) => {
      machine.ratedTorque = v;
    },
  },
  {
    fact: "bus voltage",
    words:
      "dc[ _-]?bus|bus[ _-]?voltage|bus|v_?bus|u_?bus|v_?dc|u_?dc|dc[ _-]?link|u_?zk|zwischenkreis(?:spannung)?|supply(?: voltage)?|versorgung|psu",
    behind: "(?:dc )?(?:supply|bus)",
    units: volts,
    needsUnit: true,
    least: 1,
    most: 2000,
    into: (v, { drive }) => {
      drive.busVoltage = v;
    },
  },
  {
    fact: "current limit",
    words:
      "current[ _-]?limit|i_?max|i_?lim(?:it)?|max(?:imum|\\.)?[ _]current|stromgrenze|strombegrenzung|limite (?:de )?courant",
    units: amperes,
    needsUnit: true,
    least: 1e-3,
    most: 1e5,
    into: (v, { drive }) => {
      drive.currentLimit = v;
    },
  },
];

const number = "(\\d{1,9}(?:[.,]\\d{1,6})?)";
const compiled = rules.map((rule) => ({
  rule,
  before: new RegExp(
    `(?<![\\p{L}\\p{N}_])(?:${rule.words})(?![\\p{L}\\p{N}])\\s{0,3}(?:[[(]([^\\])]{1,12})[\\])])?\\s{0,3}(?:[:=;,(]|is|of|\\t)?\\s{0,3}${number}(?![\\p{N}.])\\s{0,2}([^\\s,;]{0,12}(?: (?:rms|eff))?)`,
    "u",
  ),
  behind:
    rule.behind === undefined
      ? undefined
      : new RegExp(
          `(?<![\\p{L}\\p{N}.,_])${number}[ -]?(?:(v(?:dc)?)[ -])?(?:${rule.behind})(?![\\p{L}\\p{N}])`,
          "u",
        ),
}));

const longestLine = 300;
const mostLines = 100;

/**
 * What the lines above a table, or remarks in it, state of machine, drive and encoder: `Pole pairs: 4`,
 * `encoder 2500 lines`, `rated current 4.2 A rms`, `48 V supply`. A fact that two lines state differently is left out.
 *
 * @example
 * statedInLines(["# motor 400 W, 4 pole pairs, encoder 2500 ppr"]).encoder.lines; // => 2500
 */
export function statedInLines(lines: readonly string[]): StatedInLines {
  const out: Out = { machine: {}, drive: {}, encoder: {} };
  const said: string[] = [];
  const texts = lines
    .slice(0, mostLines)
    .filter((l) => l.length <= longestLine && /\d/.test(l))
    .map((l) => fold(l));
  for (const { rule, before, behind } of compiled) {
    const found = texts.flatMap((text) => {
      const value = statedBy(rule, before.exec(text)) ?? statedBy(rule, behind?.exec(text) ?? null);
      return value === undefined ? [] : [value];
    });
    const values = new Set(found.map(({ value }) => value));
    if (values.size !== 1) continue;
    rule.into(found[0].value, out);
    said.push(`${rule.fact} ${found[0].written}`);
  }
  return { ...out, said };
}

/** The number and the unit of a match, where they are possible. */
function statedBy(rule: Rule, m: RegExpExecArray | null): { value: number; written: string } | undefined {
  if (m === null) return undefined;
  const groups = m.slice(1).filter((g) => g !== undefined);
  const digits = groups.find((g) => /^\d/.test(g));
  if (digits === undefined) return undefined;
  const written = Number(digits.replace(",", "."));
  const unit = groups.find((g) => !/^\d/.test(g) && rule.units.some(([u]) => u.test(g)));
  const [, factor, name] = rule.units.find(([u]) => unit !== undefined && u.test(unit)) ?? [];
  if (rule.needsUnit === true && factor === undefined) return undefined;
  if (rule.whole === true && !Number.isInteger(written)) return undefined;
  if (rule.even === true && written % 2 !== 0) return undefined;
  const value = written * (factor ?? 1);
  if (!(value >= rule.least && value <= rule.most)) return undefined;
  return { value, written: name === undefined ? digits : `${digits} ${name}` };
}
