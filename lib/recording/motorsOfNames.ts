import { basename, dirname } from "node:path";
import { visible } from "../units/text.js";
import { factsFromNames } from "./factsFromNames.js";
import type { Finding, Recording } from "./types.js";

/** What one word of a name says of which motor a file is about: `axis`, `2`, as in `axis 2`. */
interface Mark {
  readonly family: string;
  readonly id: string;
  /** As it is written. */
  readonly text: string;
}

/** Words behind which a number or a letter tells one motor of several; those of numbers that may count trials too are
 * `counting`. */
const machine =
  "axis|axes|axe|achse|eje|asse|as|axle|ax|joint|gelenk|gewricht|giunto|articulation|wheel|rad|wiel|roue|rueda|spindle|spindel|j";
const counting = "motor|mot|moteur|motore|servo|machine|maschine|unit|dut";
/** Words behind which a serial number stands. */
const serial = "sn|s n|ser|serial|serialno|serial no|serial number|seriennummer|serie";

/** Words that tell one of two or four motors by themselves. */
const sides: readonly (readonly [family: string, words: readonly string[]])[] = [
  [
    "side",
    ["left", "right", "links", "rechts", "gauche", "droite", "izquierda", "derecha", "sinistra", "destra"],
  ],
  ["end", ["front", "rear", "vorne", "hinten", "avant", "arriere", "delantero", "trasero"]],
  ["height", ["upper", "lower", "oben", "unten", "haut", "bas"]],
  ["wheel", ["fl", "fr", "rl", "rr"]],
];

/** A lead order as a name may write it, to be taken out before anything is looked for. */
const orders =
  /(?<![a-z])(?:[uvw][-_ ]?){2}[uvw](?![a-z])|(?<![a-z0-9])(?:(?:[abc][-_ ]?){2}[abc]|(?:[rst][-_ ]?){2}[rst]|(?:[ltm][123][-_ ]?){2}[ltm][123]|(?:[123]-?){2}[123])(?![a-z0-9])/gi;

/** The words of a name, small, without its ending and lead order. */
function wordsOf(name: string): string {
  return ` ${name
    .slice(0, 300)
    .replace(/\.[a-z][a-z0-9]{0,6}$/i, "")
    .replace(orders, "|")
    .replace(/([a-z])([A-Z])/g, "$1 $2")
    .normalize("NFD")
    .replace(/[\u0300-\u036f]/g, "")
    .toLowerCase()
    .replace(/[^\p{L}\p{N}|]+/gu, " ")
    .trim()} `;
}

const numbered = new RegExp(
  `(?<= )(${machine}|${counting}) ?(?:no |nr |number |num |id )?(\\d{1,5}|[a-z])(?= |\\|)`,
  "g",
);
const serials = new RegExp(`(?<= )(?:${serial}) ?(?:no |nr )?([a-z0-9]*\\d[a-z0-9]*)(?= |\\|)`, "g");
const lettered = /(?<= )([xyzabc]) ?(?:axis|achse|axe|eje|asse)(?= |\|)/g;
const countingWord = new RegExp(`^(${counting})$`);

function marksOf(name: string): Mark[] {
  const words = wordsOf(name);
  const out: Mark[] = [];
  for (const [text, word, id] of words.matchAll(numbered))
    out.push({ family: countingWord.test(word) ? "motor" : "axis", id, text: text.trim() });
  for (const [text, id] of words.matchAll(serials)) out.push({ family: "serial", id, text: text.trim() });
  for (const [text, id] of words.matchAll(lettered)) out.push({ family: "axis", id, text: text.trim() });
  for (const [family, list] of sides)
    for (const word of list)
      if (words.includes(` ${word} `) || words.includes(` ${word}|`))
        out.push({ family: `${family} ${list.indexOf(word) >> 1}`, id: word, text: word });
  return out;
}

/** The name of a file and of the two folders it lies in. */
const namesOf = (path: string): string[] => {
  const folder = dirname(path);
  return [basename(dirname(folder)), basename(folder), basename(path)];
};

/** From so many numbers on, each with a lead order of its own, they count the trials rather than motors (judgement). */
const trials = 3;

/**
 * Which motor each file is about, where the names of files and folders that are read together tell several: `motorA`
 * and `motorB`, `left/` and `right/`, `axis 1` and `axis 2`, serial numbers. A word that all names share, a bare number
 * and a count of runs, days or trials tell none.
 *
 * @example
 * motorsOfNames(["motorA_UVW.csv", "motorB_WUV.csv"]).get("motorB_WUV.csv"); // => "motor b"
 */
export function motorsOfNames(paths: readonly string[]): Map<string, string> {
  const found = new Map<string, Map<string, Mark>>();
  const ids = new Map<string, Map<string, string[]>>();
  for (const path of paths.slice(0, most)) {
    const own = new Map<string, Mark>();
    // What the nearest name says stands.
    for (const name of namesOf(path)) for (const mark of marksOf(name)) own.set(mark.family, mark);
    found.set(path, own);
    for (const { family, id } of own.values()) {
      const of = ids.get(family) ?? new Map<string, string[]>();
      ids.set(family, of.set(id, [...(of.get(id) ?? []), path]));
    }
  }
  const telling = new Set(
    [...ids].filter(([family, of]) => of.size > 1 && !counts(family, of)).map(([f]) => f),
  );
  const out = new Map<string, string>();
  for (const [path, own] of found) {
    const texts = [...own.values()].filter(({ family }) => telling.has(family)).map(({ text }) => text);
    if (texts.length > 0) out.set(path, texts.join(", "));
  }
  return out;
}

/** Most files that are held against each other. */
const most = 5000;

/** Numbers behind a word that may count trials: one file each, every file another lead order. */
function counts(family: string, of: ReadonlyMap<string, readonly string[]>): boolean {
  if (family !== "motor" || of.size < trials) return false;
  if ([...of].some(([id, paths]) => !/^\d+$/.test(id) || paths.length > 1)) return false;
  const ordersSeen = [...of.values()].map(([path]) => factsFromNames([basename(path)]).ordering);
  return !ordersSeen.includes(undefined) && new Set(ordersSeen).size === ordersSeen.length;
}

/**
 * Recordings of a stated lead order are judged together by motor: the one that the names of their files tell, where
 * nothing else does.
 */
export function withNamedMotor(
  motors: Readonly<Record<string, string>>,
): (recording: Recording) => Recording {
  return (recording) => {
    const told = new Set(filesOf(recording).map((file) => motors[file]));
    const [motor] = told;
    if (motor === undefined || told.size > 1) return recording;
    if (recording.motor !== undefined || recording.ordering === undefined) return recording;
    const finding: Finding = {
      severity: "note",
      code: "motor-from-name",
      message: `the names tell several motors apart; this one is taken to be of "${visible(motor, 60)}", and is judged with its like alone`,
      meaning:
        "where all are of one motor, say so in a datapackage.json beside them, or name the files alike",
      file: recording.path,
    };
    return { ...recording, motor, findings: [...recording.findings, finding] };
  };
}

/** Files of a recording as they were given; a part of a file bears its name before the `#`. */
const filesOf = ({ path, source }: Recording): string[] =>
  (source?.files ?? [path]).map((file) => file.split("#")[0]);
