import { basename, dirname } from "node:path";
import { type LeadOrder, leadOrders } from "../motor/facts.js";
import {
  type LeadLetters,
  leadsWithin,
  lettersInWords,
  otherWithin,
  readLeadOrder,
  type WrittenOrder,
} from "../motor/leadLetters.js";
import { visible } from "../units/text.js";
import { Kept } from "./columns/kept.js";
import type { Finding, TrialKind } from "./types.js";

/** What names say of a recording. */
export interface NamedFacts {
  readonly ordering?: LeadOrder;
  readonly kind?: TrialKind;
  /** The name each was found in. */
  readonly orderingFrom?: string;
  /** The letters the order is written in. */
  readonly letters?: LeadLetters;
  readonly kindFrom?: string;
  /** Orders that one name holds at once, so that none is taken. */
  readonly orders?: readonly LeadOrder[];
}

/** Words for what was tried, in the languages that logs are named in; whole words, or the beginning where a dash
 * follows. */
const kinds: readonly (readonly [TrialKind, RegExp])[] = [
  ["alignment-sweep", /align(ment)?|sweep|ausricht\w*|openloop|open loop/],
  ["coast", /coast( ?down)?|run ?down|spin ?down|auslauf\w*|uitloop|roue libre|frenado libre|freewheel/],
  ["hand-turn", /hand ?turn\w*|(turned )?by hand|von hand|a main|a mano|backdriv\w*/],
  [
    "torque",
    /torque|current|effort|moment|drehmoment|haltemoment|strom|koppel|couple|courant|par|corriente|coppia|corrente|扭矩|转矩|电流|トルク|電流|토크/,
  ],
  [
    "speed",
    /speed|velocity|vel|rpm|drehzahl|geschwindigkeit|toerental|snelheid|vitesse|velocidad|velocita|速度|转速|速さ|속도/,
  ],
  ["position", /position|pos|angle|lage|winkel|posicion|posizione|positie|位置|角度|위치/],
];

/**
 * Lead order and kind of trial from the names of a recording: its title or block, sheet, file, folder, nearest first.
 * What the nearest name says stands.
 *
 * @param letters in which orders may be written beside U, V, W (see `lettersOfNames`)
 * @example
 * factsFromNames(["VUW torque test 2.csv"]); // { ordering: "VUW", kind: "torque", ... }
 */
export function factsFromNames(
  names: readonly (string | undefined)[],
  letters: readonly LeadLetters[] = [],
): NamedFacts {
  const found: { -readonly [K in keyof NamedFacts]: NamedFacts[K] } = {};
  for (const name of names) {
    if (name === undefined || name.length > 300) continue;
    if (found.ordering === undefined && found.orders === undefined) {
      const written = writtenIn(name, letters);
      const orders = [...new Set(written.map(({ order }) => order))];
      if (orders.length === 1) {
        found.ordering = orders[0];
        found.orderingFrom = name;
        found.letters = written[0].letters;
      } else if (orders.length > 1) found.orders = orders;
    }
    if (found.kind === undefined) {
      const kind = kindIn(name);
      if (kind !== undefined) {
        found.kind = kind;
        found.kindFrom = name;
      }
    }
  }
  return found;
}

/** Each terminal of the drive with the lead on it: `U->V, V->W, W->U`, `U=V V=W W=U`, `drive U to motor V ...`. */
const mapping =
  /(?<![a-z])u *(?:-+>|→|=>?|:|to) *(?:motor *)?([uvw])(?![a-z])[^a-z0-9]{1,4}(?:drive *)?v *(?:-+>|→|=>?|:|to) *(?:motor *)?([uvw])(?![a-z])[^a-z0-9]{1,4}(?:drive *)?w *(?:-+>|→|=>?|:|to) *(?:motor *)?([uvw])(?![a-z])/i;

/** The orders of the leads that a text names. */
export function ordersIn(text: string): LeadOrder[] {
  const out = new Set<LeadOrder>();
  const mapped = mapping.exec(text)?.slice(1).join("").toUpperCase();
  const known = leadOrders.find((o) => o === mapped);
  if (known !== undefined) return [known];
  for (const m of text.matchAll(leadsWithin)) {
    // "currents UVW" lists the three phases and says nothing of how they were connected.
    const around = text.slice(Math.max(0, m.index - 12), m.index + m[0].length + 12);
    if (/^uvw$/i.test(m[0]) && /currents|phases|voltages|str(oe|ö)me|spannungen/i.test(around)) continue;
    const word = `${m[1]}${m[3]}${m[4]}`.toUpperCase();
    // Mixed case such as "Uvw" within other words is hardly an order; one case throughout is.
    const letters = `${m[1]}${m[3]}${m[4]}`;
    const known = leadOrders.find((o) => o === word);
    if (known !== undefined && (letters === word || letters === word.toLowerCase())) out.add(known);
  }
  return [...out];
}

/** Words beside which three letters out of their order are an order of leads; "phase currents abc" lists the phases. */
const besideOrder =
  /lead|order|wiring|folge|connect|sequence|permut|ordre|orden|ordine|cabl|verdraht|anschluss|相序|接线|接線/i;

/** Orders in any letters, as words of a name: those of U, V, W always, others when the letters are known to be used. */
function writtenIn(name: string, letters: readonly LeadLetters[]): WrittenOrder[] {
  const plain = ordersIn(name);
  if (plain.length > 0) return plain.map((order) => ({ order, letters: "UVW" }));
  return foreignIn(name).filter(
    (found) => letters.includes(found.letters) || (found.order !== "UVW" && besideOrder.test(name)),
  );
}

function foreignIn(name: string): WrittenOrder[] {
  const out: WrittenOrder[] = [];
  for (const [word] of name.matchAll(otherWithin)) {
    const found = readLeadOrder(word);
    if (found !== undefined) out.push(found);
  }
  return out;
}

/** So many different orders in one set of letters are no chance: "abc", "cab" and "123" are words of their own too. */
const tellingOrders = 3;

/**
 * The letters other than U, V, W in which names that belong together write lead orders: files of one folder, sheets or
 * blocks of one file. A single `abc.csv` says nothing; `abc.csv`, `acb.csv` and `bca.csv` together do.
 */
export function lettersOfNames(names: readonly string[]): LeadLetters[] {
  const seen = new Map<LeadLetters, Set<LeadOrder>>();
  for (const name of names.slice(0, 2000))
    for (const { letters, order } of foreignIn(name.slice(0, 300)))
      seen.set(letters, (seen.get(letters) ?? new Set()).add(order));
  return [...seen].filter(([, orders]) => orders.size >= tellingOrders).map(([letters]) => letters);
}

/** Patterns of kinds among words of Latin letters, and in scripts that do not part words, made when first needed. */
let kindPatterns: readonly (readonly [TrialKind, RegExp, RegExp])[] | undefined;
/** Kinds by names: those of folders and titles come again and again. */
const kindsOfNames = new Kept<TrialKind | undefined>(1000, 300);

function kindIn(name: string): TrialKind | undefined {
  return kindsOfNames.of(name, kindByWords);
}

function kindByWords(name: string): TrialKind | undefined {
  kindPatterns ??= kinds.map(([kind, { source }]) => [
    kind,
    new RegExp(`(?<=[ \\d])(${source})(s|test|trial|run|step|steps)?(?=[ \\d])`),
    new RegExp(`(${source})`),
  ]);
  const words = ` ${name
    .replace(/\.[a-z0-9]{1,7}$/i, "")
    .replace(/([a-z])([A-Z])/g, "$1 $2")
    // A word in letters of odd case is none, but part of a name that a program made up: `POsQ12`.
    .replace(/(?<![A-Za-z])[A-Z]{2,}[a-z]{1,2}(?![a-z])/g, (word) => `${word}\u0001`)
    .normalize("NFD")
    .replace(/[\u0300-\u036f]/g, "")
    .toLowerCase()
    .replace(/[^\p{L}\p{N}\u0001]+/gu, " ")
    .trim()} `;
  const otherScript = /[^\u0000-\u024f]/.test(words);
  const said = kindPatterns.filter(([, latin, other]) => (otherScript ? other : latin).test(words));
  // "torque and speed" says that there are both.
  return said.length === 1 || (said.length > 1 && said[0][0] !== "torque" && said[0][0] !== "speed")
    ? said[0]?.[0]
    : undefined;
}

/**
 * Facts of a recording from its names, with what is told of them: an order taken from a name or a pattern of the
 * caller, names that hold several, and a name that says another order than what is stated.
 *
 * @param path `folder/file#part`
 */
export function namedFacts(
  path: string,
  stated: { readonly ordering?: LeadOrder; readonly title?: string; readonly label?: string },
  options: {
    readonly orderings?: readonly { readonly pattern: string; readonly ordering: LeadOrder }[];
    readonly leadLetters?: readonly LeadLetters[];
  },
  findings: Finding[],
): NamedFacts {
  const [file, part] = splitPath(path, stated.title);
  const folder = basename(dirname(file));
  const names = [stated.title, part, stated.label, basename(file), folder];
  const found = factsFromNames(names, options.leadLetters);
  const by = options.orderings?.find(({ pattern }) =>
    names.some((name) => name !== undefined && fitsPattern(name, pattern)),
  );
  if (by !== undefined)
    return { ...found, ordering: by.ordering, orderingFrom: "--ordering", orders: undefined };
  const ofFile = factsFromNames([basename(file)], options.leadLetters).ordering;
  const contradicts = (order: string | undefined, name: string, other: string): Finding => ({
    severity: "warning",
    code: "ordering-contradicts",
    message: `the lead order is stated as ${order}, but the name "${name}" says ${other}`,
    meaning: `${order} is used; make sure which one was connected`,
    file: path,
  });
  const says = found.orderingFrom === undefined ? "" : visible(found.orderingFrom, 60);
  if (found.ordering !== undefined && stated.ordering === undefined) {
    findings.push({
      severity: "note",
      code: "ordering-from-name",
      message: `the lead order ${found.ordering} is taken from the name "${says}"`,
      meaning: "say so with --ordering when it is another",
      file: path,
    });
    if (found.letters !== undefined && found.letters !== "UVW")
      findings.push(inOtherLetters(found.letters, path));
  } else if (found.ordering !== undefined && found.ordering !== stated.ordering) {
    findings.push(contradicts(stated.ordering, says, found.ordering));
  } else if (part === undefined && ofFile !== undefined && ofFile !== (stated.ordering ?? ofFile)) {
    // A title within the file says what is stated, and hides what the name of the file says.
    findings.push(contradicts(stated.ordering, visible(basename(file), 60), ofFile));
  } else if (found.orders !== undefined && stated.ordering === undefined) {
    findings.push({
      severity: "note",
      code: "ordering-in-doubt",
      message: `the name holds several lead orders (${found.orders.join(", ")}); none was taken`,
      meaning: "state the order with --ordering",
      file: path,
    });
  }
  return found;
}

/** Tells how letters other than U, V, W are shown. */
export function inOtherLetters(letters: LeadLetters, file: string): Finding {
  return {
    severity: "note",
    code: "lead-letters",
    message: `the lead orders are written in other letters: ${lettersInWords(letters)}`,
    meaning: "read every order that is shown that way",
    file,
  };
}

function splitPath(path: string, title?: string): [string, string | undefined] {
  // A title may hold a slash, and so may the name of a member of an archive.
  const at = path.lastIndexOf("#");
  const last = path.lastIndexOf("/");
  if (at > last) return [path.slice(0, at), path.slice(at + 1)];
  const part = title === undefined ? -1 : path.lastIndexOf(`#${title}`);
  return part < 0 ? [path, undefined] : [path.slice(0, part), path.slice(part + 1)];
}

/** True when a name, or its beginning before the ending, fits a pattern with `*` and `?`. */
export function fitsPattern(name: string, pattern: string): boolean {
  const expression = pattern
    .slice(0, 200)
    .replace(/[.+^${}()|[\]\\]/g, "\\$&")
    .replace(/\*+/g, ".*")
    .replace(/\?/g, ".");
  return (
    new RegExp(`^${expression}$`, "isu").test(name) ||
    new RegExp(`^${expression}$`, "isu").test(name.replace(/\.[^.]*$/, ""))
  );
}
