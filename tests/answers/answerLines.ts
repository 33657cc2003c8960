/** Typed answers as a short text: one line for each object with the plain values in it, numbers to five digits. */
import { createHash } from "node:crypto";

/** Names of members that hold where a file stood, or the version: they differ from machine to machine. */
const places = new Set(["path", "file", "files", "version", "schemaVersion", "startedAt"]);

const short = (value: number): string => String(Number(value.toPrecision(5)));

/** A number to five significant digits; a fraction near one by what lacks to one, so that a sure probability shows its
 * digits. What is nearer to zero than rounding can tell is zero. */
export function shortNumber(value: number): string {
  if (!Number.isFinite(value)) return String(value);
  if (Math.abs(value) < 1e-12) return "0";
  const lacks = 1 - value;
  if (value > 0.9 && value < 1) return lacks < 1e-9 ? "1" : `1-${short(lacks)}`;
  return short(value);
}

/** Four letters that stand for anything: another value has others. */
export function fewLetters(value: unknown): string {
  return `~${createHash("sha1")
    .update(JSON.stringify(value, listed) ?? "")
    .digest("hex")
    .slice(0, 4)}`;
}

/** Sets and maps as lists: a chart library gives sets a text of their own once it is loaded. */
function listed(this: Record<string, unknown>, key: string, value: unknown): unknown {
  const given = this[key];
  return given instanceof Set || given instanceof Map ? [...given] : value;
}

const numbers = /\d+(\.\d+)?(e[+-]?\d+)?/g;
const toFour = (text: string): string => String(Number(Number(text).toPrecision(4)));

/** Letters for all of an answer, numbers to four digits. */
export const lettersOf = (answer: unknown): string => fewLetters(inFour(answer));

function inFour(answer: unknown): unknown {
  if (typeof answer === "number") return Math.abs(answer) < 1e-12 ? 0 : answer.toPrecision(4);
  if (typeof answer === "string") return answer.replaceAll(numbers, toFour);
  if (answer === null || typeof answer !== "object") return answer;
  if (answer instanceof Set || answer instanceof Map) return inFour([...answer]);
  if (ArrayBuffer.isView(answer)) return lettersOfNumbers(answer as Float64Array);
  if (Array.isArray(answer)) return answer.map(inFour);
  return Object.entries(answer).flatMap(([key, value]) =>
    value === undefined || places.has(key) ? [] : [key, inFour(value)],
  );
}

/** A sentence by a fingerprint of its words and of its numbers to four digits. */
const fingerprint = (text: string): string => fewLetters(text.replaceAll(numbers, toFour));

function shortValue(value: unknown): string {
  if (typeof value === "number") return shortNumber(value);
  if (typeof value === "string") return /\s/.test(value) ? fingerprint(value) : value;
  return String(value);
}

const plain = (value: unknown): boolean => value === null || typeof value !== "object";

function isList(value: unknown): value is ArrayLike<unknown> {
  return Array.isArray(value) || ArrayBuffer.isView(value);
}

/** Letters for a column of numbers to four digits (ten of the 24 binary ones of a float of 32 bits are rounded
 * away). */
function lettersOfNumbers(values: ArrayLike<number>): string {
  const bits = new Uint32Array(Float32Array.from(values, (v) => (Math.abs(v) < 1e-12 ? 0 : v)).buffer);
  const rounded = bits.map((b) => (b + 0x200) & ~0x3ff);
  return `~${createHash("sha1").update(rounded).digest("hex").slice(0, 4)}`;
}

const allNumbers = (values: ArrayLike<unknown>): values is ArrayLike<number> =>
  ArrayBuffer.isView(values) || Array.from(values).every((v) => typeof v === "number");

/** The values of a list; of a long column its length, letters for all of it and five values, evenly spread. */
function some(values: ArrayLike<unknown>): unknown[] {
  const n = values.length;
  if (n <= 12) return Array.from(values);
  const letters = allNumbers(values) ? lettersOfNumbers(values) : fewLetters(Array.from(values));
  return [`n${n}${letters}`, ...Array.from({ length: 5 }, (_, k) => values[Math.round((k * (n - 1)) / 4)])];
}

/** The objects of a list; of a long one the first, middle and last ones, and letters for all. */
function few(values: ArrayLike<unknown>): unknown[] {
  const all = Array.from(values);
  if (all.length <= 40) return all;
  const middle = Math.floor(all.length / 2);
  return [
    { of: all.length, letters: lettersOf(all) },
    ...all.slice(0, 4),
    ...all.slice(middle, middle + 4),
    ...all.slice(-4),
  ];
}

/** An estimate in one word: value, interval, unit, method and source, samples. */
function estimate(value: unknown): string | undefined {
  if (plain(value) || isList(value)) return undefined;
  const { value: best, low, high, unit, method, ...rest } = value as Record<string, unknown>;
  if (typeof low !== "number" || typeof high !== "number" || typeof best !== "number") return undefined;
  const { samples, source, limit, level = 0.95, convention } = rest;
  const more = [
    unit,
    method,
    source,
    limit,
    convention,
    level === 0.95 ? undefined : level,
    samples === undefined ? undefined : `n${samples}`,
  ];
  const said = more.filter((one) => one !== undefined && one !== "").map(shortValue);
  return `${shortNumber(best)} [${shortNumber(low)} ${shortNumber(high)}] ${said.join(" ")}`;
}

/** A value that fits on the line of its object; undefined for one that needs lines of its own. */
function inline(value: unknown): string | undefined {
  if (plain(value)) return shortValue(value);
  if (isList(value))
    return Array.from(value).every(plain) ? some(value).map(shortValue).join(" ") : undefined;
  return estimate(value);
}

interface Parted {
  readonly here: readonly (readonly [string, string])[];
  readonly below: readonly (readonly [string, unknown])[];
}

function parted(answer: object): Parted {
  const here: [string, string][] = [];
  const below: [string, unknown][] = [];
  for (const [key, value] of Object.entries(answer)) {
    if (value === undefined || typeof value === "function" || places.has(key)) continue;
    const text = inline(value);
    if (text === undefined) below.push([key, value]);
    else if (text !== "") here.push([key, text]);
  }
  return { here, below };
}

const withKeys = (here: Parted["here"]): string => here.map(([key, text]) => `${key} ${text}`).join(", ");

/** Objects without lines of their own as one line; the names of members once where all have the same. */
function together(name: string, all: readonly Parted[]): string {
  const keys = ({ here }: Parted): string => here.map(([key]) => key).join();
  const same = all.every((one) => keys(one) === keys(all[0]));
  const rest = all
    .slice(1)
    .map(({ here }) => (same ? here.map(([, text]) => text).join(", ") : withKeys(here)));
  return `${name}: ${[withKeys(all[0].here), ...rest].join(" | ")}`;
}

/** Lines of an answer under a name. */
export function answerLines(name: string, answer: unknown): string[] {
  if (answer === undefined) return [];
  const text = inline(answer);
  if (text !== undefined) return text === "" ? [] : [`${name}: ${text}`];
  if (isList(answer)) {
    const all = few(answer);
    const parts = all.map((one) => (plain(one) || isList(one) ? undefined : parted(one as object)));
    if (parts.every((one) => one !== undefined && one.below.length === 0))
      return [together(name, parts as Parted[])];
    return all.flatMap((one, k) => answerLines(`${name} ${k + 1}`, one));
  }
  const { here, below } = parted(answer as object);
  const first = here.length > 0 ? [`${name}: ${withKeys(here)}`] : [];
  return [...first, ...below.flatMap(([key, value]) => answerLines(`${name}.${key}`, value))];
}

/**
 * Lines of answers in short: one line for what stands under the same first word, four letters for each question in it.
 * Numbers count to four digits.
 */
export function lettersByQuestion(lines: readonly string[]): string[] {
  const all = new Map<string, Map<string, string[]>>();
  for (const line of lines) {
    const at = line.indexOf(":");
    const [first, ...rest] = line.slice(0, at).split(" ");
    const question = rest.slice(0, 3).join("-").replace(/\..*/, "") || "all";
    const of = all.get(first) ?? new Map<string, string[]>();
    all.set(first, of);
    of.set(question, [
      ...(of.get(question) ?? []),
      line.slice(line.indexOf(" ")).replaceAll(numbers, toFour),
    ]);
  }
  return [...all].map(
    ([first, of]) =>
      `${first}: ${[...of].map(([question, said]) => `${question} ${fewLetters(said)}`).join(", ")}`,
  );
}
