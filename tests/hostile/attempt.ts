import { mkdirSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { cutTrials, diagnose, type Recording, readRecordings } from "../../lib/index.js";
import type { Finding } from "../../lib/recording/types.js";
import { rowsCounted } from "../house/rowsCounted.js";
import { type Columns, damageContents } from "./columns.js";
import { encode, encodings } from "./encode.js";
import { damage } from "./mutate.js";
import { type SeedFile, seedColumns } from "./seeds.js";
import { structured } from "./structure.js";

/** Damage to bytes, text and contents, or to the structure of the formats under a limit of memory. */
export type Kind = "bytes" | "structure";

/** What became of one damaged file. */
export interface Attempt {
  readonly number: number;
  readonly ending: string;
  readonly did: readonly string[];
  /** `judged`, `refused`, given up for its memory, or what went wrong. */
  readonly outcome: "judged" | "refused" | "gaveUp" | "failed";
  readonly milliseconds: number;
  readonly failure?: string;
}

const hostileNames = [
  "=cmd",
  "a b",
  "ünï",
  "x\u001b[31m",
  "q'uote",
  'd"quote',
  "semi;colon",
  "per%cent",
  "-dash",
  "star*",
  "br[ack]et",
  "back\\slash",
];

let columns: Columns | undefined;

interface Damaged {
  readonly bytes: Buffer;
  readonly did: readonly string[];
  readonly ending: string;
  /** Rows that a sound file of damaged contents has. */
  readonly rows?: number;
}

/**
 * The damaged file of a number: every third has its contents damaged before it is written (and one in ten of those its
 * bytes too), the others are sound files whose bytes or text are damaged.
 */
export async function damaged(seeds: readonly SeedFile[], number: number): Promise<Damaged> {
  if (number % 3 !== 0) {
    const early = seeds.findIndex((seed) => !seed.early);
    const seed = seeds[number % (number < 100_000 ? early : seeds.length)];
    return { ...damage(seed.bytes, seed.text, number), ending: seed.ending };
  }
  columns ??= seedColumns();
  const { table, did } = damageContents(columns, number);
  const ending = encodings[(number / 3) % encodings.length];
  const bytes = await encode(table, ending);
  if (number % 10 !== 0) return { bytes, did, ending, rows: table.data[0]?.length };
  const more = damage(bytes, false, number);
  return { bytes: more.bytes, did: [...did, ...more.did], ending };
}

/** Why a line for people is none; undefined when it is. */
function unclear({ message, meaning }: Finding): string | undefined {
  const text = `${message} ${meaning ?? ""}`;
  if (/[\u0000-\u001f\u007f]/.test(text)) return `control character in a message: ${JSON.stringify(text)}`;
  if (text.length > 2000) return `a message of ${text.length} characters`;
  return /\bat (?:\S+ \()?\S+:\d+:\d+|TypeError|undefined|\[object/.test(text)
    ? `not a clear line: ${text}`
    : undefined;
}

/** Whether rows are in no recording, in no count and in no refusal. */
function lost(
  rows: number,
  recordings: readonly Recording[],
  problems: readonly Finding[],
): string | undefined {
  if (problems.some(({ severity }) => severity === "error")) return undefined;
  const kept = recordings.reduce((sum, { time }) => sum + time.length, 0);
  const told = rowsCounted([...problems, ...recordings.flatMap(({ findings }) => findings)]);
  return kept + told < rows ? `lost in silence: ${rows} rows, ${kept} kept, ${told} told` : undefined;
}

function judged(recordings: readonly Recording[], problems: readonly Finding[]): string | undefined {
  const diagnosis = diagnose(
    recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials })),
    { problems },
  );
  for (const { trials } of diagnosis.recordings) {
    for (const trial of trials) {
      if (!(trial.confidence >= 0 && trial.confidence <= 1)) return `confidence ${trial.confidence}`;
      const odds = trial.causes.reduce((sum, cause) => sum + cause.probability, 0);
      if (trial.causes.length > 0 && !(Math.abs(odds - 1) < 1e-6)) return `odds add up to ${odds}`;
    }
  }
  JSON.stringify(diagnosis);
  return undefined;
}

/**
 * Damages a seed by the number of the attempt, reads it, cuts it, judges it, and holds the result against what every
 * input must get: no exception, no row lost in silence, and either a judged recording or one clear line for each
 * problem.
 */
export async function attempt(
  seeds: readonly SeedFile[],
  number: number,
  folder: string,
  kind: Kind = "bytes",
): Promise<Attempt> {
  const made: Damaged = kind === "bytes" ? await damaged(seeds, number) : structured(seeds, number);
  const { bytes, did, ending } = made;
  mkdirSync(folder, { recursive: true });
  const name = number % 5 === 0 ? hostileNames[(number / 5) % hostileNames.length] : "file";
  const path = join(folder, `${number}-${name}${ending}`);
  writeFileSync(path, bytes);
  const started = performance.now();
  const done = (outcome: Attempt["outcome"], failure?: string): Attempt => ({
    number,
    ending,
    did,
    outcome,
    milliseconds: performance.now() - started,
    ...(failure === undefined ? {} : { failure }),
  });
  try {
    const limits = { seconds: 30, bytes: 2 ** 30 };
    const { recordings, problems } = await readRecordings([path], kind === "bytes" ? {} : { limits });
    const all = [...problems, ...recordings.flatMap(({ findings }) => findings)];
    const wrong = all.map(unclear).find((text) => text !== undefined);
    if (wrong !== undefined) return done("failed", wrong);
    const gaveUp = problems.find(({ code }) => code === "given-up");
    // Memory has a limit for just such files; time, or an end of the process without a reason, is a fault of the
    // reader.
    if (gaveUp !== undefined)
      return /of memory/.test(gaveUp.message) ? done("gaveUp") : done("failed", gaveUp.message);
    if (recordings.length === 0)
      return problems.length > 0 ? done("refused") : done("failed", "neither a recording nor a problem");
    const failure =
      (made.rows === undefined ? undefined : lost(made.rows, recordings, problems)) ??
      judged(recordings, problems);
    return failure === undefined ? done("judged") : done("failed", failure);
  } catch (error) {
    return done("failed", (error as Error)?.stack ?? String(error));
  } finally {
    rmSync(path, { force: true });
  }
}
