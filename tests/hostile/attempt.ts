import { mkdirSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { cutTrials, diagnose, readRecordings } from "../../lib/index.js";
import { type Columns, damageContents } from "./columns.js";
import { encode, encodings } from "./encode.js";
import { damage } from "./mutate.js";
import { firstSeeds, type SeedFile, seedColumns } from "./seeds.js";

/** What became of one damaged file. */
export interface Attempt {
  readonly number: number;
  readonly ending: string;
  readonly did: readonly string[];
  /** `judged`, `refused`, or what went wrong. */
  readonly outcome: "judged" | "refused" | "failed";
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

/**
 * The damaged file of a number: every third has its contents damaged before it is written (and one in ten of those its bytes too), the
 * others are sound files whose bytes or text are damaged.
 */
export async function damaged(
  seeds: readonly SeedFile[],
  number: number,
): Promise<{ readonly bytes: Buffer; readonly did: readonly string[]; readonly ending: string }> {
  if (number % 3 !== 0) {
    const seed = seeds[number % (number < 100_000 ? firstSeeds : seeds.length)];
    return { ...damage(seed.bytes, seed.text, number), ending: seed.ending };
  }
  columns ??= seedColumns();
  const { table, did } = damageContents(columns, number);
  const ending = encodings[(number / 3) % encodings.length];
  const bytes = await encode(table, ending);
  if (number % 10 !== 0) return { bytes, did, ending };
  const more = damage(bytes, false, number);
  return { bytes: more.bytes, did: [...did, ...more.did], ending };
}

/**
 * Damages a seed by the number of the attempt, reads it, cuts it, judges it, and holds the result against what every input must get:
 * no exception, and either a judged recording or one clear line for each problem.
 */
export async function attempt(seeds: readonly SeedFile[], number: number, folder: string): Promise<Attempt> {
  const { bytes, did, ending } = await damaged(seeds, number);
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
    const { recordings, problems } = await readRecordings([path]);
    for (const problem of problems) {
      const text = `${problem.message} ${problem.meaning ?? ""}`;
      if (/[\u0000-\u001f\u007f]/.test(text))
        return done("failed", `control character in a message: ${JSON.stringify(text)}`);
      if (text.length > 2000) return done("failed", `a message of ${text.length} characters`);
      if (/\bat \S+ \(|TypeError|undefined|\[object/.test(text))
        return done("failed", `not a clear line: ${text}`);
    }
    if (recordings.length === 0) {
      return problems.length > 0 ? done("refused") : done("failed", "neither a recording nor a problem");
    }
    const diagnosis = diagnose(
      recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials })),
      { problems },
    );
    for (const { trials } of diagnosis.recordings) {
      for (const trial of trials) {
        if (!(trial.confidence >= 0 && trial.confidence <= 1))
          return done("failed", `confidence ${trial.confidence}`);
        const odds = trial.causes.reduce((sum, cause) => sum + cause.probability, 0);
        if (trial.causes.length > 0 && !(Math.abs(odds - 1) < 1e-6))
          return done("failed", `odds add up to ${odds}`);
      }
    }
    JSON.stringify(diagnosis);
    return done("judged");
  } catch (error) {
    return done("failed", (error as Error)?.stack ?? String(error));
  } finally {
    rmSync(path, { force: true });
  }
}
