import type { SourceTable } from "../formats/sourceTable.js";
import { wordsOf } from "./foldedWords.js";
import { meaningOf, partsOf } from "./lexicon.js";
import { type MotorGroups, motorGroups } from "./motorGroups.js";
import { type NameEvidence, nameEvidence } from "./nameEvidence.js";
import { type Axis, type Meaning, type Quantity, roleFacts } from "./roles.js";
import type { StatedColumn } from "./statedColumns.js";
import { xOfPairs } from "./timeBases.js";
import { dimension, ofWinding } from "./unitDimension.js";
import { type Heading, splitHeading, unitOfText } from "./unitText.js";

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
}

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

/** Headings that were taken apart, by all that they are taken apart by: files of one folder mostly have the same. */
const takenApart = new Map<string, Headings>();
const mostTaken = 200;

/** What the headings of a table, and what is stated of them, are kept by. */
export function headingsKey(
  { columns, nameless }: SourceTable,
  stated: ReadonlyMap<number, StatedColumn>,
): string {
  return JSON.stringify([nameless, columns.map((c) => [c.name, c.unit, c.kind, c.label]), [...stated]]);
}

/** Takes the headings of a table apart. A unit stated by a person or a descriptor comes before that of the heading. */
export function readHeadings(table: SourceTable, stated: ReadonlyMap<number, StatedColumn>): Headings {
  const key = headingsKey(table, stated);
  const known = takenApart.get(key);
  if (known !== undefined) return known;
  const found = takeApart(table, stated);
  if (takenApart.size >= mostTaken) takenApart.clear();
  takenApart.set(key, found);
  return found;
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
  const plainWords = withoutXY(
    headings.map((h) => h.words),
    table,
  );
  const words = termsOfController(
    presentOrAmperes(ofArmature(besideQ(byConvention(jointsByName(setByW(pairedByLetter(plainWords))))))),
  );
  const plain = words.map((w) => nameEvidence(w));
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
  const names = words.map((w, i) => {
    const own = withoutLabel(w, groups.labels[i]);
    const name = own === w && axes[i] === undefined ? plain[i] : nameEvidence(own, axes[i]);
    const of = context ?? (isSetPoint(name) ? measured : undefined);
    const told = withContext(name, of);
    return unmarked(besideMean(told, w, plainWords), marksCommands || twice(i));
  });
  besideNamedMotion(headings, names);
  // A speed has no unit of time: `_ms` behind it stands for metres a second.
  for (const [i, h] of headings.entries())
    if (h.unit?.code === "ms" && stated.get(i)?.unit === undefined && speaksOfSpeed(names[i]))
      headings[i] = { ...h, unit: { code: "m/s", spelling: h.unit.spelling } };
  inMetres(headings, names, (i) => stated.get(i)?.unit !== undefined);
  const unitTrust = headings.map((h, i) =>
    h.plain || stated.get(i)?.unit !== undefined ? 1 : trustOfLetter(headings, i, axes[i], names[i]),
  );
  const stems = words.map((w, i) => stemOf(w, groups.labels[i], headings[i]));
  return { headings, names, unitTrust, groups, stems };
}

/** A bare set or actual value beside a motion that another column names is as often of something else: a
 * current. */
function besideNamedMotion(headings: readonly Heading[], names: NameEvidence[]): void {
  const motion = names.map(
    (n) => n.namesQuantity && !n.bareSide && n.side !== "command" && /^(speed|position)$/.test(likeliest(n)),
  );
  for (const [i, n] of names.entries())
    if (n.bareSide && headings[i].unit === undefined && motion.some((m, k) => m && k !== i))
      names[i] = { ...n, besideNamed: true };
}

/** Where a speed is in metres a second, an `_m` behind a position stands for metres. */
function inMetres(
  headings: Heading[],
  names: readonly NameEvidence[],
  said: (column: number) => boolean,
): void {
  if (!headings.some((h) => /^[cm]?m\/(s|s2|min)$/.test(h.unit?.code ?? ""))) return;
  for (const [i, h] of headings.entries()) {
    const words = /^(.*\S)[\s_.-]m$/.exec(h.words);
    const position = names[i].namesQuantity && roleFacts[likeliest(names[i])].quantity === "position";
    if (h.unit === undefined && words !== null && position && !said(i))
      headings[i] = { words: words[1], unit: { code: "m", spelling: "m" }, plain: true };
  }
}

function stemOf(words: string, label: string | undefined, { unit }: Heading): string | undefined {
  if (label === undefined) return undefined;
  const own = wordsOf(words);
  const at = own.indexOf(label);
  return at < 0 ? undefined : [...own.slice(0, at), "*", ...own.slice(at + 1), unit?.code ?? ""].join(" ");
}

/**
 * Letters of the usual block diagram of control, where a table uses them: `w`, `x`, `y` for set point, controlled and
 * manipulated variable (IEC 60050-351 as used in German, from memory) against `r`, `y`, `u`. What a letter means shows
 * in those beside it.
 */
function byConvention(words: readonly string[]): readonly string[] {
  const has = (letter: string): boolean => words.some((w) => w.trim().toLowerCase() === letter);
  const meant = new Map<string, string>();
  if (has("w") && has("x") && has("y") && !has("u") && !has("r"))
    for (const [letter, term] of [
      ["w", "setpoint"],
      ["x", "input"],
      ["y", "output"],
    ])
      meant.set(letter, term);
  if (has("u") && (has("r") || has("e") || has("y")) && !has("v") && !has("i")) meant.set("u", "ucontrol");
  // The three terms of a controller: `P`, `I`, `D`, or `p_out`, `i_out`, `d_out`.
  const plain = words.map((w) => wordsOf(w).join(" "));
  return words.map((w, k) => {
    const letter = plain[k].split(" ").find((l) => /^[pid]$/.test(l));
    const of = (l: string): string => plain[k].replace(new RegExp(`(^| )${letter}( |$)`), `$1${l}$2`);
    if (letter !== undefined && [..."pid"].every((l) => plain.includes(of(l)))) return `${letter}term`;
    return meant.get(w.trim().toLowerCase()) ?? w;
  });
}

/** The X of every pair of X and Y is a time, and the Y what the pair is named for. */
function withoutXY(words: readonly string[], table: SourceTable): readonly string[] {
  const pairs = xOfPairs(table.columns.map((c) => c.name));
  return words.map((w, k) => (pairs.has(k) ? "time" : (pairs.get(k - 1) ?? w)));
}

/**
 * `speedr` beside `speed`, `iq_c` beside `iq`, `tpos` beside `pos`: a letter for reference, command, set or target value. Where the same name also has the other side of a pair of left and right, or
 * another phase, the letter tells those apart.
 */
function pairedByLetter(words: readonly string[]): readonly string[] {
  const plain = words.map((w) => wordsOf(w).join(" "));
  const there = new Set(plain);
  return words.map((w, i) => {
    for (const [letters, others, of] of letterPairs) {
      for (const letter of letters) {
        const stem = of(plain[i], letter);
        if (stem === undefined || stem.length < 2 || !there.has(stem) || !speaksOfMotion(stem)) continue;
        const taken = (l: string): boolean => l !== letter && plain.some((p) => of(p, l) === stem);
        if (![...others].some(taken)) return `${stem} setpoint`;
      }
    }
    return w;
  });
}

/**
 * `i_w` beside `i`, `n_w` beside `n`: the letter of the set point in block diagrams (IEC 60050-351, as used in German and
 * Polish, from memory), where no other phase is there.
 */
function setByW(words: readonly string[]): readonly string[] {
  const plain = words.map((w) => wordsOf(w).join(" "));
  return words.map((w, k) => {
    const stem = /^([inmsx]|phi|theta|omega) ?w$/.exec(plain[k])?.[1];
    if (stem === undefined || !plain.some((p) => p === stem || p === `${stem} x` || p === `${stem}x`))
      return w;
    const phases = plain.some((p) => /^[a-z]+ ?[uvabc]$/.test(p) && p.startsWith(stem));
    return phases ? w : `${stem} setpoint`;
  });
}

type Stem = (heading: string, letter: string) => string | undefined;
const behind: Stem = (heading, letter) =>
  heading.endsWith(letter) ? heading.slice(0, -1).trimEnd() : undefined;
const before: Stem = (heading, letter) =>
  heading.startsWith(letter) ? heading.slice(1).trimStart() : undefined;
/** Letters of a command, letters that show the pair to be another one, and where they stand. */
const letterPairs: readonly (readonly [string, string, Stem])[] = [
  ["rcst", "labduvw", behind],
  ["rct", "lmab", before],
];

function speaksOfMotion(stem: string): boolean {
  const last = stem.split(" ").map((w) => meaningOf(w));
  return last.some((m) =>
    m?.alternatives.some((a) => a.weight >= 0.75 && pairable.has(a.quantity ?? "other")),
  );
}

const pairable: ReadonlySet<Quantity> = new Set(["speed", "position", "current", "torque"]);

/** Beside `iq`, an `id` is the current of the direct axis and no number of anything. */
function besideQ(words: readonly string[]): readonly string[] {
  const plain = words.map((w) => wordsOf(w).join(" "));
  const q = words.findIndex((_, i) => /(^| )i ?q( |$)/.test(plain[i]));
  // A machine of five phases has a current of phase D.
  if (q < 0 || plain.some((w) => /(^| )i ?e( |$)/.test(w))) return words;
  const several = plain.filter((w) => /(^| )i ?d( |$)/.test(w)).length > 1;
  const alike = (w: string): boolean => !several || /I/.test(w) === /I/.test(words[q]);
  return words.map((w, i) =>
    /(^| )i ?d( |$)/.test(plain[i]) && alike(w) ? plain[i].replace(/(^| )i ?d( |$)/, "$1d current$2") : w,
  );
}

/**
 * `CURRENT` beside a `DESIRED` that names no quantity either is as often the present value of the same thing: both are then open, and the numbers tell.
 */
function presentOrAmperes(words: readonly string[]): readonly string[] {
  const plain = words.map((w) =>
    wordsOf(w)
      .filter((word) => !/^([a-z]|\d+)$/.test(word))
      .join(" "),
  );
  const desired = plain.some((w) => /^(desired|target|goal|setpoint|reference|ref|commanded)$/.test(w));
  if (!desired || plain.some((w) => /\b(actual|measured|iq|amps?)\b/.test(w))) return words;
  return words.map((w, i) => (plain[i] === "current" ? w.replace(/current/i, "presentvalue") : w));
}

/** `out_fb` beside `out_ff`: the parts of a controller's output from feedback and feedforward, and no measurement. */
function termsOfController(words: readonly string[]): readonly string[] {
  const plain = words.map((w) => wordsOf(w).join(" "));
  return words.map((w, i) => {
    const other = plain[i].replace(/(^| )fb( |$)/, "$1ff$2");
    return other !== plain[i] && plain.includes(other) ? other : w;
  });
}

/**
 * `roll/position`, `wrist_pitch_velocity`: joints are called after the axis they turn about. The attitude of a vehicle is
 * called `roll` alone, or has a rate; it has no position, velocity or effort.
 */
function jointsByName(words: readonly string[]): readonly string[] {
  return words.map((w) => {
    const plain = wordsOf(w).join(" ");
    const joint = /(^| )(position|pos|velocity|vel|effort|torque|joint|motor|servo)( |$)/.test(plain);
    return joint && /(^| )(roll|pitch|yaw)( |$)/.test(plain)
      ? plain.replace(/(^| )(roll|pitch|yaw)(?= |$)/g, "$1").trim()
      : w;
  });
}

/** An `ia` beside the voltage of an armature (`ua`), and without another phase, is the current of the armature. */
function ofArmature(words: readonly string[]): readonly string[] {
  const plain = words.map((w) => wordsOf(w).join(" "));
  if (plain.some((w) => /(^| )[iuv] ?[bc]( |$)|(^| )i ?[uvw]( |$)/.test(w))) return words;
  if (!plain.some((w) => /^[uv] ?a$|armature|anker|induit|indotto|armadura|rotor/.test(w))) return words;
  return words.map((w, i) => (/^i ?a$/.test(plain[i]) ? plain[i].replace(/^i ?a$/, "armature current") : w));
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

/** What the name of the file, and headings of gains, say the log is about: it helps set and actual values that name no
 * quantity. */
function contextOf(table: SourceTable, names: readonly NameEvidence[]): Quantity | undefined {
  const counts = new Map<Quantity, number>();
  const file =
    table.path
      .split(/[\\/]/)
      .at(-1)
      ?.replace(/\.\w+(#|$)/g, " ") ?? "";
  const told = [
    ...wordsOf(file).flatMap((w) => partsOf(w) ?? [w]),
    ...names.filter((n) => n.namesOther).flatMap((n) => n.told),
  ];
  for (const word of told) {
    for (const a of meaningOf(word)?.alternatives ?? []) {
      if (a.weight < 0.85 || (a.quantity !== "speed" && a.quantity !== "position" && a.quantity !== "torque"))
        continue;
      counts.set(a.quantity, (counts.get(a.quantity) ?? 0) + 1);
    }
  }
  const order = [...counts].sort((a, b) => b[1] - a[1]);
  return order.length === 1 || (order.length > 1 && order[0][1] > order[1][1]) ? order[0][0] : undefined;
}

/** The one motion that a table measures: a set value that names no quantity is of it more often than of anything
 * else. */
function onlyMeasured(names: readonly NameEvidence[]): Quantity | undefined {
  const motions = new Set<Quantity>();
  for (const n of names) {
    if (!n.namesQuantity || n.openQuantity || n.side === "command") continue;
    const { quantity } = roleFacts[likeliest(n)];
    if (quantity === "speed" || quantity === "position") motions.add(quantity);
  }
  return motions.size === 1 ? [...motions][0] : undefined;
}

/** A set value of whatever a loop controls, and no output that is handed on to an amplifier. */
function isSetPoint({ openQuantity, side, score }: NameEvidence): boolean {
  const of = (role: Meaning): number => score.get(role) ?? 0;
  const least = Math.min(of("speedCommand"), of("positionCommand"));
  return openQuantity && side === "command" && Math.max(of("duty"), of("voltageCommand")) < least - 1;
}

/** How much more likely a set or actual value without a quantity is of the one that the log is about (log likelihood
 * ratio; judgement). */
const contextWeight = 2.2;

function withContext(name: NameEvidence, context: Quantity | undefined): NameEvidence {
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
function unmarked(name: NameEvidence, marksCommands: boolean): NameEvidence {
  if (!marksCommands || !name.namesQuantity || name.side !== undefined) return name;
  const score = new Map(name.score);
  for (const role of ["speedCommand", "positionCommand", "currentCommand"] as const)
    score.set(role, (score.get(role) ?? 0) + markedElsewhere);
  return { ...name, score };
}

/** A letter that tells motors apart (`X.Target`, `Z.Target`) means nothing else. */
function withoutLabel(words: string, label: string | undefined): string {
  if (label === undefined || !/^[a-z]$/.test(label)) return words;
  return wordsOf(words)
    .filter((w) => w !== label)
    .join(" ");
}

const ofSpread = /(^| )(min|minimum|max|maximum|std|stdev|sigma|peak|pp)( |$)/;
/** How much rarer the spread of a signal is a channel beside its mean (log likelihood ratio; judgement). */
const spreadBesideMean = -4;

/** `i_min` and `i_max` beside `i_avg` tell how far a signal went between two rows; the mean is the signal. */
function besideMean(name: NameEvidence, words: string, all: readonly string[]): NameEvidence {
  const plain = wordsOf(words).join(" ");
  if (!ofSpread.test(plain)) return name;
  const siblings = ["avg", "mean", "average", "mittel"].map((m) => plain.replace(ofSpread, `$1${m}$3`));
  if (!all.some((other) => siblings.includes(wordsOf(other).join(" ")))) return name;
  const score = new Map(name.score);
  for (const [role, s] of score) if (role !== "other") score.set(role, s + spreadBesideMean);
  return { ...name, score };
}

/** A unit of something that a motor has of its own. */
function ofShaft(code: string | undefined): boolean {
  if (code === undefined) return false;
  const quantity = dimension(code);
  return (
    /^[umc]?m(\/|$)/.test(code) ||
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

/** The meaning that the words of a heading and nothing else point to. */
function likeliest(name: NameEvidence): Meaning {
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

function headingOf(table: SourceTable, i: number, name: string, stated: StatedColumn | undefined): Heading {
  // A table without a heading may have labels of its channels all the same.
  const text = table.nameless ? table.columns[i].label : name;
  const found = text === undefined ? { words: "", plain: true } : splitHeading(text);
  const own = besideUnitsRow(found, text, table.columns[i].unit);
  const spelling =
    stated?.unit ??
    (own.unit === undefined && own.otherUnit === undefined ? table.columns[i].unit : undefined);
  if (spelling === undefined) return own;
  const unit = unitOfText(spelling) ?? { code: spelling, spelling };
  return { words: own.words, unit, plain: true };
}

/** A row of units says more than a letter that may tell columns apart (`Channel A`). */
function besideUnitsRow(found: Heading, text: string | undefined, unit: string | undefined): Heading {
  if (found.plain || unit === undefined) return found;
  if (unitOfText(unit)?.code === found.unit?.code) return { ...found, plain: true };
  const channel = /^(ch|chan|channel|kanal|canal|voie|canale|input|eingang)$/i.test(found.words);
  return { words: channel ? found.words : (text ?? ""), plain: true };
}

/** Letters at the end of headings that stand side by side and count through a, b, c or u, v, w or 1, 2, 3 are
 * phases. */
function phasesByHeading(headings: readonly Heading[], table: SourceTable): (Axis | undefined)[] {
  const sets: readonly (readonly string[])[] = [
    ["a", "b", "c"],
    ["u", "v", "w"],
    ["1", "2", "3"],
    ["l 1", "l 2", "l 3"],
    ["r", "s", "t"],
    // Cyrillic letters of the same look.
    ["а", "в", "с"],
    ["а", "б", "в"],
  ];
  const axes: readonly Axis[] = ["u", "v", "w"];
  const all = table.columns.map((c, i) =>
    table.nameless ? "" : wordsOf(headings[i].plain ? headings[i].words : c.name).join(" "),
  );
  return all.map((words) => {
    for (const set of sets) {
      for (const [k, letter] of set.entries()) {
        if (
          !words
            .split(" ")
            .some((w) => w === letter || (w.length === 2 && w.endsWith(letter) && "iuv".includes(w[0])))
        )
          continue;
        const others = set.filter((l) => l !== letter);
        const there = others.filter((l) => all.includes(swap(words, letter, l)));
        // Letters alone are symbols of something, unless all three stand there.
        if (there.length < 2 && words === letter) continue;
        if (
          there.length === 2 ||
          (there.length === 1 && set !== sets[2] && set !== sets[0]) ||
          (there.length === 1 && set === sets[0] && k < 2 && /\bi/.test(words))
        )
          return axes[k];
      }
    }
    return undefined;
  });
}

function swap(words: string, from: string, to: string): string {
  const list = words.split(" ");
  const at = list.findLastIndex(
    (w) => w === from || (w.length === 2 && w.endsWith(from) && "iuv".includes(w[0])),
  );
  if (at < 0) return words;
  list[at] = list[at] === from ? to : `${list[at][0]}${to}`;
  return list.join(" ");
}

/** Chance that a single letter at the end of a heading is its unit. */
function trustOfLetter(
  headings: readonly Heading[],
  i: number,
  phase: Axis | undefined,
  name: NameEvidence,
): number {
  if (phase !== undefined) return 0.03;
  const unit = headings[i].unit;
  if (unit === undefined) return 0;
  // Other units in the headings, above all other letters, make this one a unit; a small letter is one less often.
  const letter = unit.spelling;
  const others = headings.filter(
    (h, k) => k !== i && h.unit !== undefined && h.unit.spelling !== letter,
  ).length;
  const large = letter === letter.toUpperCase() && letter !== letter.toLowerCase();
  const base = large ? 0.75 : letter === "s" ? 0.7 : 0.5;
  return Math.min(0.97, base + (others > 0 ? 0.2 : 0) + (name.namesQuantity ? 0.1 : 0));
}
