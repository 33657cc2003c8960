import type { SourceTable } from "../formats/sourceTable.js";
import { wordsOf } from "./foldedWords.js";
import { headingText } from "./headingText.js";
import { Kept } from "./kept.js";
import { phasesByHeading, trustOfLetter } from "./lettersAtEnd.js";
import { type MotorGroups, motorGroups } from "./motorGroups.js";
import { type NameEvidence, nameEvidence } from "./nameEvidence.js";
import {
  besideMean,
  besideNamedMotion,
  besideThrust,
  contextOf,
  isSetPoint,
  likeliest,
  onlyMeasured,
  setFrequency,
  setPointInUnit,
  spokenOf,
  unmarked,
  withContext,
} from "./namesBesideOthers.js";
import { type Quantity, roleFacts } from "./roles.js";
import type { StatedColumn } from "./statedColumns.js";
import { dimension, ofWinding } from "./unitDimension.js";
import { type Heading, splitHeading, unitOfText } from "./unitText.js";
import { sidesByLetter, withoutXY, wordsBesideOthers } from "./wordsBesideOthers.js";

/** The headings of a table, taken apart together: what one letter or number means shows beside the others. */
export interface Headings {
  readonly headings: readonly Heading[];
  readonly names: readonly NameEvidence[];
  /** Chance that the unit read from each heading is one. */
  readonly unitTrust: readonly number[];
  readonly groups: MotorGroups;
  /** The words of each heading without what tells motors apart, where there are several: what is alike in these holds
   * the same. */
  readonly stems: readonly (string | undefined)[];
  /** The length that a place or a speed in the table is plainly stated in: its motors move something along a line. */
  readonly length?: string;
}

/** Chance from which on a letter at the end of a heading is its unit beyond doubt. */
const sureLetter = 0.99;

const silent: NameEvidence = {
  score: new Map(),
  told: [],
  namesQuantity: false,
  elsewhere: false,
  namesOther: false,
  openQuantity: false,
  bareSide: false,
  inDoubt: false,
  unknown: false,
};

/** Headings that were taken apart, by all that they are taken apart by. */
const takenApart = new Kept<Headings>(200);

/** What the headings of a table, and what is stated of them, are kept by. */
export function headingsKey(table: SourceTable, stated: ReadonlyMap<number, StatedColumn>): string {
  const { columns, nameless } = table;
  const shown = columns.map((c) => [c.name, c.unit, c.kind, c.label]);
  return JSON.stringify([nameless, shown, [...stated], spokenOf(table)]);
}

/** Takes the headings of a table apart. A unit stated by a person or a descriptor comes before that of the heading. */
export function readHeadings(table: SourceTable, stated: ReadonlyMap<number, StatedColumn>): Headings {
  return takenApart.of(headingsKey(table, stated), () => takeApart(table, stated));
}

function takeApart(table: SourceTable, stated: ReadonlyMap<number, StatedColumn>): Headings {
  const places = table.nameless ? [] : placesOf(table);
  const headings = table.columns.map((c, i) => {
    const name = places[i];
    if (name === undefined) return headingOf(table, i, c.name, stated.get(i));
    const unit = stated.get(i)?.unit;
    return unit === undefined ? splitHeading(name) : headingOf(table, i, name, stated.get(i));
  });
  if (table.nameless) {
    return {
      headings,
      // Channels of a capture may have labels all the same.
      names: headings.map((h, i) => (table.columns[i].label === undefined ? silent : nameEvidence(h.words))),
      unitTrust: headings.map(() => 1),
      groups: { labels: headings.map(() => undefined), motors: [] },
      stems: headings.map(() => undefined),
    };
  }
  const plainWords = sidesByLetter(
    withoutXY(
      headings.map((h) => h.words),
      table,
    ),
  );
  const words = wordsBesideOthers(plainWords);
  const united = headings.map(({ unit }) =>
    unit === undefined || /^(1|%|m?s)$/.test(unit.code) ? undefined : unit.code,
  );
  const plain = words.map((w, i) => nameEvidence(w, undefined, united[i]));
  // `Left_RPM` says no more than its unit: that is what left and right have of their own.
  const named = plainWords.map((w, i) =>
    wordsOf(w).length === 1 && headings[i].plain && headings[i].unit !== undefined
      ? `${w} ${headings[i].unit?.spelling}`
      : w,
  );
  const groups = motorGroups(
    named,
    (c) => shaftQuantities.has(roleFacts[likeliest(plain[c])].quantity) || ofShaft(headings[c].unit?.code),
  );
  // Numbers that tell motors apart are no phases.
  const axes = phasesByHeading(headings, table).map((axis, i) =>
    groups.labels[i] === undefined && !(headings[i].plain && !ofWinding(headings[i].unit?.code))
      ? axis
      : undefined,
  );
  const context = contextOf(table, plain);
  const measured = context === undefined ? onlyMeasured(plain) : undefined;
  const alike = plain.map((n, i) =>
    n.namesQuantity && n.side === undefined
      ? `${groups.labels[i] ?? ""} ${roleFacts[likeliest(n)].quantity}`
      : undefined,
  );
  const twice = (i: number): boolean =>
    alike[i] !== undefined && alike.some((a, k) => k !== i && a === alike[i]);
  const marksCommands = plain.some((n) => n.side === "command" && !n.namesOther);
  // A speed in turns beside what is in hertz, and nothing asked for.
  const isMeasuredTurns = (i: number): boolean =>
    roleFacts[likeliest(plain[i])].quantity === "speed" && united[i] !== undefined && united[i] !== "Hz";
  const undriven = !marksCommands && words.some((_, i) => isMeasuredTurns(i));
  const names = words.map((w, i) => {
    const own = withoutLabel(w, groups.labels[i]);
    const name = own === w && axes[i] === undefined ? plain[i] : nameEvidence(own, axes[i], united[i]);
    const of = context ?? (isSetPoint(name) ? measured : undefined);
    const told = setFrequency(
      setPointInUnit(withContext(name, of), united[i]),
      w,
      undriven && united[i] === "Hz",
    );
    return unmarked(besideMean(told, w, plainWords), marksCommands || twice(i));
  });
  besideNamedMotion(headings, names);
  besideThrust(headings, names);
  // A speed has no unit of time: `_ms` behind it stands for metres a second.
  for (const [i, h] of headings.entries())
    if (h.unit?.code === "ms" && stated.get(i)?.unit === undefined && speaksOfSpeed(names[i]))
      headings[i] = { ...h, unit: { code: "m/s", spelling: h.unit.spelling } };
  inMetres(headings, names, (i) => stated.get(i)?.unit !== undefined);
  const unitTrust = headings.map((h, i) =>
    h.plain || stated.get(i)?.unit !== undefined ? 1 : trustOfLetter(headings, i, axes, names[i]),
  );
  // Where volts and amperes of one thing stand side by side, `pump_A` says as much as `pump current`.
  for (const [i, trust] of unitTrust.entries()) {
    const unit = headings[i].unit;
    if (unit === undefined || trust < sureLetter || trust === 1 || names[i].namesQuantity) continue;
    const quantity = dimension(unit.code);
    if (quantity === "current" || quantity === "voltage")
      names[i] = nameEvidence(`${words[i]} ${quantity}`, axes[i], united[i]);
  }
  const stems = words.map((w, i) => stemOf(w, groups.labels[i], headings[i]));
  const length = lengthStated(headings, names);
  return { headings, names, unitTrust, groups, stems, length };
}

/** The length in which a place or a speed is plainly stated. */
function lengthStated(headings: readonly Heading[], names: readonly NameEvidence[]): string | undefined {
  for (const [i, { unit, plain }] of headings.entries()) {
    const length = /^([umc]?m|\[(?:in|ft)_i\])(\/(s|min))?$/.exec(unit?.code ?? "")?.[1];
    const { quantity } = roleFacts[likeliest(names[i])];
    if (plain && length !== undefined && (quantity === "position" || quantity === "speed")) return length;
  }
  return undefined;
}

/** Where a speed is in metres a second, an `_m` behind a position stands for metres; beside inches a minute an `in` for
 * inches. */
function inMetres(
  headings: Heading[],
  names: readonly NameEvidence[],
  said: (column: number) => boolean,
): void {
  const codes = headings.map((h) => h.unit?.code ?? "");
  const [letters, code] = codes.some((c) => /^[cm]?m\/(s|s2|min)$/.test(c))
    ? ["m", "m"]
    : codes.some((c) => c.startsWith("[in_i]/"))
      ? ["in", "[in_i]"]
      : [];
  if (letters === undefined || code === undefined) return;
  for (const [i, h] of headings.entries()) {
    const [, words, unit] = /^(.*\S)[\s_.-](m|in)$/.exec(h.words) ?? [];
    const position =
      letters === "in" || (names[i].namesQuantity && roleFacts[likeliest(names[i])].quantity === "position");
    if (h.unit === undefined && unit === letters && position && !said(i))
      headings[i] = { words, unit: { code, spelling: unit }, plain: true };
  }
}

function stemOf(words: string, label: string | undefined, { unit }: Heading): string | undefined {
  if (label === undefined) return undefined;
  const own = wordsOf(words);
  const at = own.indexOf(label);
  return at < 0 ? undefined : [...own.slice(0, at), "*", ...own.slice(at + 1), unit?.code ?? ""].join(" ");
}

/** A whole number in brackets behind a name that others have with another number is a place in a list (`position[0]`,
 * `position[1]`), and no unit. */
function placesOf(table: SourceTable): readonly (string | undefined)[] {
  const found = table.columns.map((c) => /^(.*?\S)\s*[[(](\d{1,3})[\])]\s*(.*)$/s.exec(c.name));
  const seen = new Map<string, Set<string>>();
  for (const m of found)
    if (m !== null) seen.set(`${m[1]}*${m[3]}`, (seen.get(`${m[1]}*${m[3]}`) ?? new Set()).add(m[2]));
  return found.map((m) =>
    m !== null && (seen.get(`${m[1]}*${m[3]}`)?.size ?? 0) > 1 ? `${m[1]} ${m[2]} ${m[3]}` : undefined,
  );
}

/** A letter that tells motors apart (`X.Target`, `Z.Target`) means nothing else. */
function withoutLabel(words: string, label: string | undefined): string {
  if (label === undefined || !/^[a-z]$/.test(label)) return words;
  return wordsOf(words)
    .filter((w) => w !== label)
    .join(" ");
}

/** A unit of something that a motor has of its own. */
function ofShaft(code: string | undefined): boolean {
  if (code === undefined) return false;
  const quantity = dimension(code);
  return (
    /^([umc]?m|\[(in|ft)_i\])(\/|$)/.test(code) ||
    quantity === "angle" ||
    (quantity !== undefined && shaftQuantities.has(quantity))
  );
}

const shaftQuantities: ReadonlySet<Quantity> = new Set([
  "speed",
  "acceleration",
  "position",
  "current",
  "torque",
  "duty",
  "voltage",
]);

function speaksOfSpeed(name: NameEvidence): boolean {
  return name.namesQuantity && roleFacts[likeliest(name)].quantity === "speed";
}

function headingOf(table: SourceTable, i: number, name: string, stated: StatedColumn | undefined): Heading {
  const text = headingText(table, i, name);
  const found = text === undefined ? { words: "", plain: true } : splitHeading(text);
  const own = besideUnitsRow(found, text, table.columns[i].unit);
  const spelling =
    stated?.unit ??
    (own.unit === undefined && own.otherUnit === undefined ? table.columns[i].unit : undefined);
  if (spelling === undefined) return own;
  const unit = unitOfText(spelling) ?? { code: spelling, spelling };
  return { words: own.words, unit, plain: true };
}

/** A row of units says more than a letter that may tell columns apart (`Channel A`), and the scale of a probe more than
 * its volts. */
function besideUnitsRow(found: Heading, text: string | undefined, unit: string | undefined): Heading {
  if (unit !== undefined && /^m?V$/.test(found.unit?.code ?? "")) {
    const scaled = unitOfText(unit);
    if (scaled?.scale !== undefined) return { ...found, unit: scaled, plain: true };
  }
  if (found.plain || unit === undefined) return found;
  if (unitOfText(unit)?.code === found.unit?.code) return { ...found, plain: true };
  const channel = /^(ch|chan|channel|kanal|canal|voie|canale|input|eingang)$/i.test(found.words);
  return { words: channel ? found.words : (text ?? ""), plain: true };
}
