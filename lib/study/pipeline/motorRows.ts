import { medianOf } from "../population/sample.js";
import { aboutColumns } from "./aboutTable.js";
import { collectGarbage } from "./collectGarbage.js";
import { type LineFiles, LineReader, type Place } from "./lineFiles.js";
import { studyConstants } from "./studyConstants.js";
import { unaskedKinds } from "./trialResults.js";

/** Verdicts that are counted for each motor. */
const counted = ["blocked", "tracking", "reversed", "runaway", "undetermined"] as const;

/** Motors after which what was read for them is collected. */
const betweenCollections = 1000;

/** Columns of `motors.parquet`. */
export const motorColumns: Readonly<Record<string, string>> = {
  motor: "VARCHAR",
  recordings: "INTEGER",
  without_result: "INTEGER",
  trials: "BIGINT",
  ...Object.fromEntries(counted.map((verdict) => [verdict, "BIGINT"])),
  against: "BIGINT",
  causes: "VARCHAR",
  ...aboutColumns,
  ...Object.fromEntries(
    studyConstants
      .flatMap((name) => [name, `${name}_low`, `${name}_high`, `${name}_spread`])
      .map((name) => [name, "DOUBLE"]),
  ),
};

/** Where the lines of one recording and of its trials stand. */
interface Lines {
  readonly batch: string | null;
  readonly recording: Place;
  readonly trials: Place;
}
type Row = Readonly<Record<string, unknown>>;

/**
 * The table of motors, from the lines of recordings and trials: only where each motor's lines stand is held in memory,
 * and one motor after the other is read back. A name that stands in two batches is two motors, each with its batch
 * behind its name: serial numbers begin anew with many makers.
 */
export class MotorRows {
  readonly #motors = new Map<string, Lines[]>();

  /** Notes the lines of one recording. */
  add(of: Row & { readonly motor: string }, recording: Place, trials: Place): void {
    const batch = typeof of.batch === "string" ? of.batch : null;
    const lines = this.#motors.get(of.motor);
    if (lines === undefined) this.#motors.set(of.motor, [{ batch, recording, trials }]);
    else lines.push({ batch, recording, trials });
  }

  /** Writes a row for each motor, in the order of their names, from the files of recordings and trials. */
  write(recordings: readonly string[], trials: readonly string[], to: LineFiles): void {
    const [ofRecordings, ofTrials] = [new LineReader(recordings), new LineReader(trials)];
    try {
      let done = 0;
      for (const [motor, lines] of this.#apart()) {
        if (++done % betweenCollections === 0) collectGarbage();
        const rows = lines.flatMap((one) => ofRecordings.rows(one.recording));
        to.add([
          motorRow(
            motor,
            rows,
            lines.flatMap((one) => ofTrials.rows(one.trials)),
          ),
        ]);
      }
    } finally {
      ofRecordings.close();
      ofTrials.close();
    }
  }

  /** Motors with their lines in the order of their names, those of two batches apart. */
  *#apart(): Iterable<[motor: string, lines: readonly Lines[]]> {
    const named = new Map<string, Lines[]>();
    for (const [motor, lines] of this.#motors) {
      const batches = new Set(lines.flatMap(({ batch }) => batch ?? []));
      for (const one of lines) {
        const own = batches.size > 1 && one.batch !== null ? `${motor} (batch ${one.batch})` : motor;
        const list = named.get(own);
        if (list === undefined) named.set(own, batches.size > 1 ? [one] : lines);
        else if (list !== lines) list.push(one);
        if (batches.size < 2) break;
      }
    }
    for (const motor of [...named.keys()].sort()) yield [motor, named.get(motor) ?? []];
  }
}

/** One motor over its recordings and trials. */
function motorRow(motor: string, recordings: readonly Row[], trials: readonly Row[]): Row {
  const judged = (verdict: string) =>
    trials.filter(
      (t) => t.verdict === verdict && (verdict !== "undetermined" || !unaskedKinds.includes(String(t.kind))),
    ).length;
  const causes = trials.flatMap((t) =>
    Number(t.cause_odds ?? 0) > 0.5 && t.cause != null ? [String(t.cause)] : [],
  );
  return {
    motor,
    recordings: recordings.length,
    without_result: recordings.filter((r) => r.reason != null).length,
    trials: trials.filter((t) => t.trial != null).length,
    ...Object.fromEntries(counted.map((verdict) => [verdict, judged(verdict)])),
    against: trials.filter((t) => t.sense === "against").length,
    causes: causes.length === 0 ? null : [...new Set(causes)].sort().join(" "),
    ...Object.fromEntries(Object.keys(aboutColumns).map((name) => [name, leastOf(recordings, name)])),
    ...Object.fromEntries(
      studyConstants.flatMap((name) => [
        ...[name, `${name}_low`, `${name}_high`].map((column) => [
          column,
          middleOf(numbers(recordings, column)),
        ]),
        [`${name}_spread`, spreadOf(numbers(recordings, name))],
      ]),
    ),
  };
}

const numbers = (rows: readonly Row[], column: string): number[] =>
  rows.flatMap((row) => (typeof row[column] === "number" ? [row[column]] : []));

function leastOf(rows: readonly Row[], column: string): unknown {
  return rows.reduce<unknown>((least, row) => {
    const value = row[column] ?? null;
    return value !== null && (least === null || (value as string) < (least as string)) ? value : least;
  }, null);
}

function middleOf(values: readonly number[]): number | null {
  return values.length === 0 ? null : medianOf(values);
}

/** Deviation between recordings; none of one. */
function spreadOf(values: readonly number[]): number | null {
  let [mean, squares] = [0, 0];
  values.forEach((value, k) => {
    const off = value - mean;
    mean += off / (k + 1);
    squares += off * (value - mean);
  });
  return values.length < 2 ? null : Math.sqrt(squares / (values.length - 1));
}
