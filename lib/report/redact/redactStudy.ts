import type { Life } from "../../study/life/lifeData.js";
import type { StudyRecording, StudyTables, StudyTrial } from "../../study/pipeline/readTables.js";
import { type Pseudonym, saysNothing, textCleaner } from "./cleanText.js";

/** Tables and lives without their customer. */
export interface RedactedStudy {
  /** As they were given. */
  readonly tables: readonly StudyTables[];
  readonly lives?: readonly Life[];
  readonly lifeUnit?: string;
}

/** Day in whose place the first day of a redacted study stands. */
export const firstDay = "2000-01-01";

/**
 * Takes the customer out of a study before anything is worked out from it: recordings, motors, batches, rigs, groups
 * and causes of failure get pseudonyms in the order of their names ("motor 03", "#2"), of texts only words of ours,
 * numbers and units go through, and the clock begins on the first of January 2000. Durations, temperatures and hours of
 * use stay, since the statistics rest on them.
 *
 * @param given - The study, with the one it is compared with where there is one: a name gets the same pseudonym in
 * both; and a life table.
 * @param words - Further words to take out.
 * @throws Error when the list of our own words was not built.
 * @example
 * const [tables] = redactStudy({ tables: [await readTables("results")] }).tables;
 */
export function redactStudy(given: RedactedStudy, words: readonly string[] = []): RedactedStudy {
  const recordings = given.tables.flatMap((table) => table.recordings);
  const trials = given.tables.flatMap(({ troubled }) => troubled);
  const lives = given.lives ?? [];
  const all = [...recordings, ...trials];
  const files = numbered("recording ", [...all.map(({ recording }) => recording)]);
  const motors = numbered(
    "motor ",
    [...all, ...lives].map(({ motor }) => motor),
  );
  const groups = numbered("#", [...recordings.map(({ batch }) => batch), ...lives.map(({ group }) => group)]);
  const rigs = numbered(
    "#",
    recordings.map(({ rig }) => rig),
  );
  const failures = numbered(
    "#",
    lives.map(({ cause }) => cause),
  );
  const names: Pseudonym[] = [
    ...words.map((name) => ({ name, put: "[name]", what: "names" })),
    ...[files, motors, groups, rigs, failures].flatMap((map) =>
      [...map].flatMap(([name, put]) =>
        [name, name.split(/[\\/]/).at(-1) ?? name].map((one) => ({ name: one, put, what: "names" })),
      ),
    ),
  ].filter(({ name }) => name.trim().length > 1 && (words.includes(name) || !saysNothing(name)));
  const clean = textCleaner(names, () => {});
  const first = Math.min(...recordings.map(({ date }) => Date.parse(date ?? "")).filter(Number.isFinite));
  const put = (map: ReadonlyMap<string, string>, name: string): string => map.get(name) ?? "[name]";
  const perhaps = (map: ReadonlyMap<string, string>, name: string | null): string | null =>
    name === null ? null : put(map, name);
  const recordingOf = (r: StudyRecording): StudyRecording => ({
    ...r,
    recording: put(files, r.recording),
    motor: put(motors, r.motor),
    ordering: r.ordering === null ? null : clean(r.ordering),
    batch: perhaps(groups, r.batch),
    rig: perhaps(rigs, r.rig),
    date: laterDay(r.date, first),
    reason: r.reason === null ? null : clean(r.reason),
  });
  const trialOf = (t: StudyTrial): StudyTrial => ({
    recording: put(files, t.recording),
    motor: put(motors, t.motor),
    kind: clean(t.kind),
    verdict: clean(t.verdict),
    sense: clean(t.sense),
    cause: t.cause === null ? null : clean(t.cause),
    text: clean(t.text),
  });
  const lifeOf = ({ motor, group, cause, ...rest }: Life): Life => ({
    ...rest,
    ...(motor === undefined ? {} : { motor: put(motors, motor) }),
    ...(group === undefined ? {} : { group: put(groups, group) }),
    ...(cause === undefined ? {} : { cause: put(failures, cause) }),
  });
  return {
    tables: given.tables.map((table) => ({
      recordings: table.recordings.map(recordingOf),
      troubled: table.troubled.map(trialOf),
      verdicts: Object.fromEntries(Object.entries(table.verdicts).map(([word, n]) => [clean(word), n])),
    })),
    ...(given.lives === undefined ? {} : { lives: given.lives.map(lifeOf) }),
    ...(given.lifeUnit === undefined ? {} : { lifeUnit: clean(given.lifeUnit) }),
  };
}

/** Pseudonyms in the order of the names, with as many digits as the last needs, so that they sort as the names did. */
function numbered(kind: string, names: readonly (string | null | undefined)[]): Map<string, string> {
  const distinct = [...new Set(names.filter((name) => name !== null && name !== undefined))].sort();
  const digits = String(distinct.length).length;
  return new Map(distinct.map((name, i) => [name, `${kind}${String(i + 1).padStart(digits, "0")}`]));
}

/** A date as far from the first of January 2000 as it was from the first recording; none where it could not be read. */
function laterDay(date: string | null, first: number): string | null {
  const at = Date.parse(date ?? "");
  if (!Number.isFinite(at)) return null;
  const day = 86_400_000;
  const begun = Math.floor(first / day) * day;
  return new Date(Date.parse(firstDay) + at - begun).toISOString().slice(0, 10);
}
