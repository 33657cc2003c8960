import type { WordMeaning } from "./inflections.js";
import { meaningOf } from "./lexicon.js";
import type { Quantity, Side } from "./roles.js";

/** A word of a heading and what it means there; nothing where no table has it. */
export interface WordInContext {
  readonly word: string;
  readonly meaning?: WordMeaning;
}

/** The words of a heading, each with what it means beside the others; `unit`: the one that stands behind them. */
export function wordsInContext(words: readonly string[], unit?: string): WordInContext[] {
  const read = words.map((word) => ({ word, meaning: meaningOf(word) }));
  const letterT = words.length > 1 ? read.find(({ word }) => word === "t") : undefined;
  if (letterT !== undefined) letterT.meaning = ofLetterT(read);
  presentValues(read);
  // `what I asked for`: whoever says so.
  for (let k = 1; k < read.length; k += 1)
    if (read[k].word === "i" && /^(what|how|as|than)$/.test(read[k - 1].word)) read[k].meaning = aMotor;
  for (let k = 0; k + 1 < read.length && read.length > 2; k += 1)
    if (read[k].word === "m" && /^\d+$/.test(read[k + 1].word)) read[k].meaning = aMotor;
  if (read.some(({ meaning }) => meaning !== undefined && sideOf(meaning) !== undefined))
    for (const r of read) if (/^(motor|mot|motors)$/.test(r.word)) r.meaning = aMotor;
  partsOfRated(read);
  loadsOfMotor(read);
  tagsOfInstruments(read);
  ofTheMotor(read);
  const last = read.at(-1);
  if (words.length > 1 && last?.word === "id") last.meaning = identifier;
  // What has a unit tells no machines apart: `Wheel rpm`, `Motor degC` are of one; a roll that turns is no attitude,
  // and a propeller no part of a controller.
  if (words.length === 1 && devices.test(words[0])) read[0].meaning = unit === undefined ? aDevice : aMotor;
  const turns = unit?.includes("{rev}") === true;
  if (words.length === 1 && unit !== undefined && (turns ? turning : motors).test(words[0]))
    read[0].meaning = aMotor;
  return read;
}

/** The side a word is of whatever the quantity: `setpoint` is a command of something. */
export function sideOf({ alternatives }: WordMeaning): Side | undefined {
  const sides = new Set(alternatives.filter((a) => a.quantity !== "other").map((a) => a.side));
  return sides.size === 1 ? [...sides][0] : undefined;
}

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

/** Words that, alone above a column, say which machine a row is of. */
const devices =
  /^(drive|axis|axle|antrieb|achse|gelenk|joint|wheel|actuator|servo|eje|asse|aandrijving|moteur|motore|silnik|naped|pohon|двигатель|привод|ось|电机|轴|モータ|軸|모터|축)$/u;
const motors = /^(motor|mot|engine|machine)$/;
const turning = /^(motor|mot|engine|machine|roll|prop|props)$/;
const aDevice: WordMeaning = {
  alternatives: [
    { quantity: "motor", weight: 0.62 },
    { quantity: "other", weight: 0.2 },
    { quantity: "position", weight: 0.12 },
    { quantity: "run", weight: 0.04 },
  ],
  rank: 2,
};

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
  "torque",
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

/** An angle of the motor or of the shaft is no angle of the field, where nothing says so: behind a gear it turns a
 * whole number of times for one turn beside it all the same. */
function ofTheMotor(read: { readonly word: string; meaning?: WordMeaning }[]): void {
  if (!read.some(({ word }) => /^(motor|mot|shaft|mech|mechanical|welle|joint|output|wheel)$/.test(word)))
    return;
  for (const r of read) {
    const { alternatives, rank } = r.meaning ?? { alternatives: [], rank: 0 };
    const field = alternatives.find((a) => a.quantity === "electricalAngle" && a.weight < 0.5);
    if (field === undefined || !alternatives.some((a) => a.quantity === "position")) continue;
    const shaft = { ...field, quantity: "position" as const, weight: field.weight - rarelyOfField };
    r.meaning = {
      alternatives: [...alternatives.map((a) => (a === field ? { ...a, weight: rarelyOfField } : a)), shaft],
      rank,
    };
  }
}

/** How often such an angle is one of the field all the same (judgement). */
const rarelyOfField = 0.02;

/** A `rate` behind a load, a torque, a current or a duty is its part of the rated one, and no speed. */
function partsOfRated(read: { readonly word: string; meaning?: WordMeaning }[]): void {
  for (let k = 1; k < read.length; k += 1) {
    const before = read[k - 1];
    const of = before.meaning?.alternatives.some(
      (a) => a.weight > 0.8 && (a.quantity === "torque" || a.quantity === "current" || a.quantity === "duty"),
    );
    if (/^(rate|ratio)$/.test(read[k].word) && (of || before.word === "load")) read[k].meaning = aMotor;
  }
}

/** The load of a motor is its torque or its current, in parts of the rated one: `Motorlast`, `servo_load`. */
function loadsOfMotor(read: { readonly word: string; meaning?: WordMeaning }[]): void {
  if (
    !read.some(({ word }) =>
      /^(motor|mot|servo|spindle|spindel|drive|antrieb|inverter|motore|moteur)$/.test(word),
    )
  )
    return;
  for (const r of read)
    if (/^(load|last|belastung|charge|carga|carico|belasting|kuorma|lastgrad|auslastung)$/.test(r.word))
      r.meaning = {
        alternatives: [
          { quantity: "torque", weight: 0.35 },
          { quantity: "current", weight: 0.35 },
          { quantity: "other", weight: 0.12 },
        ],
        rank: 2,
      };
}

/** First letters of an instrument's tag (ISA-5.1, from memory) that are of a motor, and what they measure; the others
 * are pressures, flows, levels. */
const instruments: Readonly<Record<string, Quantity>> = {
  s: "speed",
  i: "current",
  e: "voltage",
  z: "position",
  t: "temperature",
  j: "other",
  p: "other",
  f: "other",
  l: "other",
  w: "other",
};

/** `P201.SI.SP`, `SIC-101 PV`: in a heading of a number and letters alone, those of an instrument. */
function tagsOfInstruments(read: { readonly word: string; meaning?: WordMeaning }[]): void {
  if (!read.some(({ word }) => /^\d{3,5}$/.test(word))) return;
  if (!read.every(({ word }) => /^(\d+|[a-z]{1,3}|out)$/.test(word))) return;
  for (const r of read) {
    const quantity = instruments[/^([siezjtpflw])(i|t|c|ic|it|ir|ric|rc)$/.exec(r.word)?.[1] ?? ""];
    if (quantity !== undefined) r.meaning = { alternatives: [{ quantity, weight: 0.9 }], rank: 6 };
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
