import { medianOf } from "../population/sample.js";
import { aboutColumns } from "./aboutTable.js";
import { collectGarbage } from "./collectGarbage.js";
import { type LineFiles, LineReader, type Place } from "./lineFiles.js";
import { NumberLists } from "./numberRows.js";
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

type Row = Readonly<Record<string, unknown>>;

/** What is noted of a recording: the number of its batch, and the places of its line and of those of its trials. */
const [noBatch, batchAt, recordingAt, trialsAt, width] = [-1, 0, 1, 4, 7];
const placeOf = (row: readonly number[], at: number): Place => [row[at], row[at + 1], row[at + 2]];

/**
 * The table of motors, from the lines of recordings and trials: only where each motor's lines stand is held in memory,
 * and one motor after the other is read back. A name that stands in two batches is two motors, each with its batch
 * behind its name: serial numbers begin anew with many makers.
 */
export class MotorRows {
  /** The list of each motor's rows. */
  readonly #motors = new Map<string, number>();
  readonly #lists = new NumberLists(width);
  readonly #batches = new Map<string, number>();

  /** Notes the lines of one recording. */
  add(of: Row & { readonly motor: string }, recording: Place, trials: Place): void {
    const list = this.#motors.get(of.motor) ?? this.#lists.begin();
    this.#motors.set(of.motor, list);
    this.#lists.add(list, [this.#batchOf(of), ...recording, ...trials]);
  }

  #batchOf({ batch }: Row): number {
    if (typeof batch !== "string") return noBatch;
    const known = this.#batches.get(batch) ?? this.#batches.size;
    this.#batches.set(batch, known);
    return known;
  }

  /** Writes a row for each motor, in the order of their names, from the files of recordings and trials. */
  write(recordings: readonly string[], trials: readonly string[], to: LineFiles): void {
    const [ofRecordings, ofTrials] = [new LineReader(recordings), new LineReader(trials)];
    try {
      let done = 0;
      for (const [motor, lines] of this.#apart()) {
        if (++done % betweenCollections === 0) collectGarbage();
        const rows = lines.flatMap((one) => ofRecordings.rows(placeOf(one, recordingAt)));
        to.add([
          motorRow(
            motor,
            rows,
            lines.flatMap((one) => ofTrials.rows(placeOf(one, trialsAt))),
          ),
        ]);
      }
    } finally {
      ofRecordings.close();
      ofTrials.close();
    }
  }

  /** Motors with their lines in the order of their names, those of two batches apart. */
  *#apart(): Iterable<[motor: string, lines: readonly number[][]]> {
    const batches = [...this.#batches.keys()];
    const apart = new Map<string, number[][]>();
    const whole = new Set<string>();
    for (const [motor, list] of this.#motors) {
      const lines = this.#lists.rows(list);
      if (new Set(lines.map((one) => one[batchAt]).filter((batch) => batch !== noBatch)).size < 2) {
        whole.add(motor);
        continue;
      }
      for (const one of lines) {
        const own = one[batchAt] === noBatch ? motor : `${motor} (batch ${batches[one[batchAt]]})`;
        const known = apart.get(own);
        if (known === undefined) apart.set(own, [one]);
        else known.push(one);
      }
    }
    const names = [...whole, ...[...apart.keys()].filter((name) => !whole.has(name))].sort();
    for (const name of names) {
      const own = whole.has(name) ? this.#lists.rows(this.#motors.get(name) as number) : [];
      yield [name, [...own, ...(apart.get(name) ?? [])]];
    }
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
