import type { SourceTable } from "../formats/sourceTable.js";
import { wordsOf } from "./foldedWords.js";
import { meaningOf } from "./lexicon.js";
import type { Quantity } from "./roles.js";
import { xOfPairs } from "./timeBases.js";

/** The X of every pair of X and Y is a time, and the Y what the pair is named for. */
export function withoutXY(words: readonly string[], table: SourceTable): readonly string[] {
  const pairs = xOfPairs(table.columns.map((c) => c.name));
  return words.map((w, k) => (pairs.has(k) ? "time" : (pairs.get(k - 1) ?? w)));
}

/** The words of headings, where what a letter or a word means shows in those beside it: rewritten so that they say
 * it. */
export function wordsBesideOthers(words: readonly string[]): readonly string[] {
  return [
    withoutFormat,
    motorAndBattery,
    pairedByLetter,
    setByW,
    jointsByName,
    byConvention,
    besideQ,
    axesAlone,
    byInitials,
    ofArmature,
    besideTorqueCurrent,
    presentOrAmperes,
    termsOfController,
  ].reduce((told, rule) => rule(told), words);
}

/** `im` beside `ib`, with no other phase: the motor's current and the battery's. */
function motorAndBattery(words: readonly string[]): readonly string[] {
  const plain = words.map((w) => wordsOf(w).join(" "));
  if (!plain.includes("im") || !plain.includes("ib") || plain.some((w) => /^i ?[acuvw]$/.test(w)))
    return words;
  return words.map((w, i) =>
    plain[i] === "im" ? "motor current" : plain[i] === "ib" ? "battery current" : w,
  );
}

/** `iq_q` and `vdc_q` beside `speed_q`: a number of fixed point is said by the letter, and no axis. */
function withoutFormat(words: readonly string[]): readonly string[] {
  const plain = words.map((w) => wordsOf(w).join(" "));
  const ends = plain.filter((p) => / q$/.test(p));
  if (ends.length < 3 || !ends.some((p) => /(^| )([iuv]? ?q|[iuv]? ?d|v? ?dc) q$/.test(p))) return words;
  return words.map((w, i) => (/ q$/.test(plain[i]) ? w.replace(/[\s_.-]?q\s*$/i, "") : w));
}

/** Letters before an `l` or `r` that names the side of a motor: symbols of quantities, or a wheel. */
const beforeSide = /(^| )([wvniuqtm]|th|om)([lr])(?= |$)/;
const otherLetter: Readonly<Record<string, string>> = { l: "r", r: "l" };
const sideNames: Readonly<Record<string, string>> = { l: "left", r: "right" };

/**
 * `wl_meas` beside `wr_meas`: a symbol and the side of a motor. Where the words behind it name the quantity (`wl_cur`),
 * what stands before the side is the name of the wheel.
 */
export function sidesByLetter(words: readonly string[]): readonly string[] {
  const plain = words.map((w) => wordsOf(w).join(" "));
  const found = plain.map((p) => beforeSide.exec(p));
  const swapped = (p: string, [all, start, letter, side]: RegExpExecArray): string =>
    p.replace(all, `${start}${letter}${otherLetter[side]}`);
  const paired = found.map((m, i) => m !== null && plain.includes(swapped(plain[i], m)));
  return words.map((w, i) => {
    const m = found[i];
    if (m === null || !paired[i]) return w;
    const others = wordsOf(plain[i].replace(m[0], " "));
    const named = others.some((word) => meaningOf(word)?.alternatives.some(saysQuantity));
    return plain[i].replace(m[0], `${m[1]}${sideNames[m[3]]}${named ? "" : ` ${m[2]}`}`);
  });
}

function saysQuantity({
  quantity,
  weight,
}: {
  readonly quantity?: Quantity;
  readonly weight: number;
}): boolean {
  return quantity !== undefined && quantity !== "other" && weight >= 0.75;
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

/** `q` beside `d`, both alone: currents of the two axes. */
function axesAlone(words: readonly string[]): readonly string[] {
  const plain = words.map((w) => wordsOf(w).join(" "));
  if (!plain.includes("q") || !plain.includes("d")) return words;
  return words.map((w, i) => (plain[i] === "q" ? "iq" : plain[i] === "d" ? "d current" : w));
}

/** Initials of Chinese words in Latin letters: 目标, 速度, 转速, 电流, 电压, 位置, 角度, 转矩, 温度. */
const initials: Readonly<Record<string, string>> = {
  mb: "target",
  sd: "speed",
  zs: "speed",
  dl: "current",
  dy: "voltage",
  wz: "position",
  jd: "angle",
  zj: "torque",
  wd: "temperature",
};

/** `m1_mb` beside `m1_sd`: initials, where several different ones end the headings of a table. */
function byInitials(words: readonly string[]): readonly string[] {
  const plain = words.map((w) => wordsOf(w));
  const ends = plain.map((p) => initials[p.at(-1) ?? ""]);
  if (new Set(ends.filter((e) => e !== undefined)).size < 2) return words;
  return words.map((w, i) => (ends[i] === undefined ? w : [...plain[i].slice(0, -1), ends[i]].join(" ")));
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

/**
 * A `field current` beside a `torque current` is the one across it, in the axis of the magnets (a drive controls both);
 * by itself it is that of a field winding.
 */
function besideTorqueCurrent(words: readonly string[]): readonly string[] {
  const plain = words.map((w) => wordsOf(w).join(" "));
  const making = /(^| )torque ?(producing|forming|generating)? ?current( |$)/;
  if (!plain.some((w) => making.test(w))) return words;
  const across = /(^| )(field|flux|magneti[sz]ing) ?(producing|forming|generating)? ?current(?= |$)/;
  return words.map((w, i) => (across.test(plain[i]) ? plain[i].replace(across, "$1d current") : w));
}
