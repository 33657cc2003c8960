import type { Channel, Finding, Recording } from "../../recording/types.js";
import type { Removal, ReportSource } from "../types.js";
import { type Pseudonym, saysNothing, textCleaner } from "./cleanText.js";

/**
 * Takes the customer out of a report by an allow-list: of recordings only roles, units, numbers and stated facts go
 * through; of texts only words of ours, numbers and units (`textCleaner`). Files, folders, motors, titles and columns
 * get pseudonyms that are the same everywhere ("file 1"). What was taken out is counted in `removed`.
 *
 * @param words - Further words to take out, such as the customer's name.
 * @throws Error when the list of our own words was not built.
 * @example
 * const shareable = redact(source, ["Example Conveyors"]);
 */
export function redact(source: ReportSource, words: readonly string[] = []): ReportSource {
  const counts = new Map<string, number>();
  const note = (what: string): void => {
    counts.set(what, (counts.get(what) ?? 0) + 1);
  };
  const files = filesOf(source);
  const motors = distinct([
    ...source.recordings.map(({ recording }) => recording.motor),
    ...source.diagnosis.recordings.map((verdict) => verdict.motor),
  ]);
  const names = pseudonyms(source, files, motors, words);
  const clean = textCleaner(names, note);
  const fileName = (path: string): string => {
    note("file and folder names");
    return `file ${files.indexOf(path) + 1}`;
  };
  const motorName = (motor: string): string => {
    note("names of motors");
    return `motor ${motors.indexOf(motor) + 1}`;
  };
  const walk = (value: unknown, key = ""): unknown => {
    if (typeof value === "string") {
      if (ours.has(key)) return value;
      if (key === "path" || key === "file") return fileName(value);
      if (key === "motor") return motorName(value);
      if (key === "column") return names.find(({ name }) => name === value)?.put ?? hidden(note);
      return clean(value);
    }
    if (Array.isArray(value)) return value.map((part) => walk(part, key));
    if (value === null || typeof value !== "object" || ArrayBuffer.isView(value)) return value;
    // Options name columns, for one who has the file.
    const kept = Object.entries(value).filter(([name]) => name !== "answers");
    return Object.fromEntries(kept.map(([name, part]) => [name, walk(part, name)]));
  };
  return {
    made: source.made.slice(0, 10),
    diagnosis: walk(source.diagnosis) as ReportSource["diagnosis"],
    recordings: source.recordings.map(({ recording, trials, constants }) => {
      if (recording.title) note("titles");
      for (const channel of Object.values(recording.channels))
        if (channel && channel.name !== channel.role) note("names of columns");
      return {
        recording: plainRecording(recording, {
          path: fileName(recording.path),
          ...(recording.motor === undefined ? {} : { motor: motorName(recording.motor) }),
          findings: walk(recording.findings) as readonly Finding[],
        }),
        trials,
        ...(constants ? { constants: walk(constants) as typeof constants } : {}),
      };
    }),
    ...(source.settings ? { settings: walk(source.settings) as ReportSource["settings"] } : {}),
    removed: [...counts].map(([what, count]) => ({ what, count }) satisfies Removal),
  };
}

function hidden(note: (what: string) => void): string {
  note("names of columns");
  return "[column]";
}

/** A recording with nothing of its log but roles, units, numbers and stated facts. */
function plainRecording(
  { ordering, time, channels, machine, drive, encoder }: Recording,
  kept: Pick<Recording, "path" | "motor" | "findings">,
): Recording {
  return {
    ...kept,
    ...(ordering ? { ordering } : {}),
    // A clock of the day would tell when it was recorded.
    time: time.length > 0 && Math.abs(time[0]) > 1e6 ? time.map((t) => t - time[0]) : time,
    channels: Object.fromEntries(
      Object.entries(channels).map(([role, channel]) => [role, plainChannel(channel as Channel)] as const),
    ),
    machine: facts(machine),
    drive: facts(drive),
    encoder: facts(encoder),
  };
}

function plainChannel({ role, sourceUnit, data, resolution, wrap }: Channel): Channel {
  return {
    role,
    name: role,
    sourceUnit,
    recognisedBy: "redacted",
    data,
    ...(resolution === undefined ? {} : { resolution }),
    ...(wrap === undefined ? {} : { wrap }),
  };
}

/** Stated facts by their own names, when they are numbers, switches or words of a fixed list; everything else goes. */
function facts<T extends object>(given: T): T {
  return Object.fromEntries(
    Object.entries(given).filter(
      ([key, value]) =>
        factNames.has(key) &&
        (typeof value === "number" ||
          typeof value === "boolean" ||
          key === "modulation" ||
          (key === "speedLoop" && typeof value === "object")),
    ),
  ) as T;
}

const factNames = new Set(
  "polePairs resistance inductanceD inductanceQ fluxLinkage torqueConstant inertia coulombFriction viscousFriction staticFriction ratedCurrent ratedTorque ratedSpeed busVoltage modulation currentLimit encoderLines speedLoop kp ki currentBandwidth speedSampleTime computationDelay speedFilterBandwidth positionGain lines index".split(
    " ",
  ),
);

function filesOf(source: ReportSource): string[] {
  return distinct([
    ...source.recordings.map(({ recording }) => recording.path),
    ...source.diagnosis.recordings.map((verdict) => verdict.path),
    ...source.diagnosis.problems.map((problem) => problem.file),
    ...source.diagnosis.recordings.flatMap(({ findings }) => findings.map((finding) => finding.file)),
    ...source.recordings.flatMap(({ recording }) => recording.findings.map((finding) => finding.file)),
  ]);
}

function distinct(list: readonly (string | undefined)[]): string[] {
  return [...new Set(list.filter((one) => one !== undefined))];
}

/** Everything of the customer's that has a name, with what stands for it. */
function pseudonyms(
  source: ReportSource,
  files: readonly string[],
  motors: readonly string[],
  words: readonly string[],
): Pseudonym[] {
  const found = new Map<string, Pseudonym>();
  const add = (name: string | undefined, put: string, what: string): void => {
    if (name && name.trim().length > 1 && !found.has(name) && !saysNothing(name))
      found.set(name, { name, put, what });
  };
  for (const word of words)
    if (word.trim().length > 1)
      found.set(word, { name: word, put: "[name]", what: "names given by the caller" });
  files.forEach((path, i) => {
    const put = `file ${i + 1}`;
    const parts = path.split(/[\\/]/).filter((part) => part !== "" && part !== "." && part !== "..");
    const file = parts[parts.length - 1] ?? path;
    for (const name of [path, file, file.replace(/\.\w{1,5}(?:\.\w{1,4})?$/, "")])
      add(name, put, "file and folder names");
  });
  motors.forEach((motor, i) => {
    add(motor, `motor ${i + 1}`, "names of motors");
  });
  for (const { recording } of source.recordings) {
    add(recording.title, "[title]", "titles");
    for (const channel of Object.values(recording.channels))
      if (channel) add(channel.name, channel.role, "names of columns");
    for (const { column } of recording.understanding ?? []) add(column, "[column]", "names of columns");
    for (const { name } of recording.source?.unused ?? []) add(name, "[column]", "names of columns");
  }
  return [...found.values()];
}

/** Fields that hold codes of ours. */
const ours = new Set([
  "unit",
  "sourceUnit",
  "code",
  "role",
  "kind",
  "verdict",
  "sense",
  "severity",
  "ordering",
  "cause",
  "remedy",
  "favoured",
  "against",
  "source",
  "input",
  "drive",
  "load",
  "shape",
  "version",
]);
