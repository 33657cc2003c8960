import { wordsOf } from "../../recording/columns/foldedWords.js";
import { known } from "../../recording/columns/lexicon.js";
import { type FactWord, factWords, fillWords } from "../../recording/columns/tables/factWords.js";
import type { Heading } from "./headings.js";

/** What a column of a table about recordings or motors says. */
export type Fact = "recording" | "motor" | "batch" | "rig" | "date" | "hours" | "temperature";

const fills = new Set(fillWords.split(" "));
const meanings = new Map<string, Fact>(
  (Object.keys(factWords) as FactWord[]).flatMap((fact) =>
    Object.values(factWords[fact]).flatMap((words) => words.split(" ").map((word) => [word, fact] as const)),
  ),
);

/** Whose temperature it is: the motor's, or nobody's in particular. */
const own = new Set("motor motors moteur motore silnik winding wicklung bobinage avvolgimento".split(" "));

/**
 * The fact that the words of a heading name, in the languages of `factWords` and, for temperatures, of the headings of
 * logs; undefined where they name none.
 *
 * @example
 * factOf("Prüfstand-Nr."); // => "rig"
 * factOf("Motor type"); // => undefined
 */
export function factOf(heading: string): Fact | undefined {
  const words = wordsOf(heading);
  const rest = words.filter((word) => !fills.has(word) && word !== "#");
  const found = meanings.get(words.join("_")) ?? meanings.get(words.join("")) ?? meanings.get(rest.join("_"));
  if (found !== undefined) return found;
  const subject = rest.filter((word) => !own.has(word));
  if (subject.length !== 1) return undefined;
  const told = known(subject[0])?.alternatives;
  return told?.length === 1 && told[0].quantity === "temperature" ? "temperature" : undefined;
}

/** Words that mean something else elsewhere: `Charge` is a batch in German and a load in French, `data` a date in
 * Italian. They count by what stands in their cells. */
const dateLike = /^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}\b/;
const numberLike = /^[+-]?\d+([.,]\d+)?$/;

/** Whether cells can be what the heading says; empty ones can be anything. */
function fits(fact: Fact, word: string, cells: readonly string[]): boolean {
  const filled = cells.map((cell) => cell.trim()).filter((cell) => cell !== "");
  if (filled.length === 0) return false;
  if (fact === "date") return filled.every((cell) => dateLike.test(cell));
  if (fact === "temperature" || fact === "hours") return filled.every((cell) => numberLike.test(cell));
  return word !== "charge" || filled.some((cell) => !numberLike.test(cell));
}

/** What each column of a table says; undefined for a column of no use. */
export interface ToldHeadings {
  readonly facts: readonly (Fact | undefined)[];
  /** Columns that name the same fact by other words, of which none was taken. */
  readonly rivals: readonly { readonly fact: Fact; readonly columns: readonly string[] }[];
}

/**
 * Tells what the columns of a table about recordings or motors say: what the caller states, then the study's own words
 * (`motor`, `batch`), then what people of other habits and languages write, where the cells can be that and no other
 * column says it too.
 *
 * @param cells - text of the cells of a column
 * @param stated - column of a fact, as written in the heading
 */
export function tellHeadings(
  headings: readonly Heading[],
  cells: (column: number) => readonly string[],
  stated: Readonly<Partial<Record<Fact, string>>> = {},
): ToldHeadings {
  const facts: (Fact | undefined)[] = headings.map((heading) => {
    const said = (Object.keys(stated) as Fact[]).find((fact) => stated[fact] === heading.column.trim());
    if (said !== undefined) return said;
    const plain = heading.word as Fact;
    return (plain in factWords || plain === "temperature") && stated[plain] === undefined ? plain : undefined;
  });
  const rivals: { fact: Fact; columns: string[] }[] = [];
  const others = headings.map((heading, i) => {
    const fact = facts[i] === undefined ? factOf(heading.word) : undefined;
    if (fact === undefined || facts.includes(fact)) return undefined;
    return fits(fact, heading.word, cells(i)) ? fact : undefined;
  });
  for (const fact of new Set(others)) {
    if (fact === undefined) continue;
    const at = others.flatMap((other, i) => (other === fact ? [i] : []));
    if (at.length === 1) facts[at[0]] = fact;
    else rivals.push({ fact, columns: at.map((i) => headings[i].column) });
  }
  return { facts, rivals };
}
