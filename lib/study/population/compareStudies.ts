import { studentT } from "../../numeric/distributions/distributions.js";
import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { smallestFound } from "../../numeric/distributions/smallestFound.js";
import type { Estimate } from "../../units/estimate.js";
import { readTables, type StudyTables } from "../pipeline/readTables.js";
import { type StudyConstant, unitOfConstant, wordsOfConstant } from "../pipeline/studyConstants.js";
import { columnOf, commonConstants, fleetOf } from "./fleet.js";
import { groupDifferences } from "./groupDifferences.js";
import { keptApart } from "./keptApart.js";
import { batchesNamedAlike, matchRecordings, motorsNamedAlike } from "./matchRecordings.js";
import { type NotSound, notSound } from "./notSound.js";

/** What changed from one study to another. */
export interface StudyComparison {
  /** Motors and recordings that only the later study has, and those that only the earlier one had. */
  readonly newMotors: readonly string[];
  readonly goneMotors: readonly string[];
  readonly newRecordings: number;
  readonly goneRecordings: number;
  /** Recordings that both have with the same bytes under another path: a file that was moved or renamed. */
  readonly movedRecordings: number;
  /** Recordings that both have under one path with other bytes. */
  readonly changedRecordings: number;
  /** Motors that were sound, or not there, and are not sound now; and those that were not and are now. */
  readonly newlyNotSound: readonly NotSound[];
  readonly soundAgain: readonly string[];
  /** Not sound before and now, with another verdict. */
  readonly changed: readonly { readonly motor: string; readonly before: string; readonly now: string }[];
  /** Change of each constant: of the same motors between the studies, or of the means where the motors are others. */
  readonly constants: readonly ConstantChange[];
}

/** How one constant changed between two studies. */
export interface ConstantChange {
  readonly constant: StudyConstant;
  readonly words: string;
  readonly of: "same motors" | "motors of the one against those of the other";
  readonly motors: number;
  /** Later less earlier, with its interval. */
  readonly change: Estimate;
  /** Chance of such a change without any, over all constants. */
  readonly p: number;
  readonly differs: boolean;
  /** Smallest change, either way, that would have been found nine times out of ten. */
  readonly smallest: number;
}

/**
 * Compares two studies of one fleet, or of two: what is new, which motors have become unsound or sound again, and which
 * constants moved. The same motor in both is compared with itself. A recording is the same when its bytes are
 * (`matchRecordings`), however its file is named and wherever it lies; a motor that is known by its path alone goes
 * with it.
 *
 * @param before - results folder of the earlier study, or its tables
 * @param now - of the later one
 * @param alpha - chance of any false alarm over the constants
 * @example
 * const same = "datasets/parcel-sorter-fleet/study";
 * (await compareStudies(same, same)).newMotors; // => []
 */
export async function compareStudies(
  before: string | StudyTables,
  now: string | StudyTables,
  alpha = 0.01,
): Promise<StudyComparison> {
  const [earlier, later] = await Promise.all(
    [before, now].map(async (source) => (typeof source === "string" ? await readTables(source) : source)),
  );
  const match = matchRecordings(earlier.recordings, later.recordings);
  const alike = motorsNamedAlike(batchesNamedAlike(earlier, match), later, match);
  const [a, b] = alike.map((tables) => keptApart(tables, alike));
  const motors = [a, b].map((t) => new Set(t.recordings.map((r) => r.motor)));
  const only = (one: ReadonlySet<string>, other: ReadonlySet<string>) =>
    [...one].filter((x) => !other.has(x)).sort();
  const [bad, badNow] = [notSound(a), notSound(b)];
  const was = new Map(bad.map((n) => [n.motor, n.verdict]));
  const is = new Map(badNow.map((n) => [n.motor, n.verdict]));
  return {
    newMotors: only(motors[1], motors[0]),
    goneMotors: only(motors[0], motors[1]),
    newRecordings: match.added,
    goneRecordings: match.gone,
    movedRecordings: match.moved.length,
    changedRecordings: match.changed,
    newlyNotSound: badNow.filter((n) => !was.has(n.motor)),
    soundAgain: bad.filter((n) => !is.has(n.motor) && motors[1].has(n.motor)).map((n) => n.motor),
    changed: badNow.flatMap((n) => {
      const before = was.get(n.motor);
      return before === undefined || before === n.verdict ? [] : [{ motor: n.motor, before, now: n.verdict }];
    }),
    constants: changesOf(a, b, alpha),
  };
}

function changesOf(a: StudyTables, b: StudyTables, alpha: number): ConstantChange[] {
  const [fleetA, fleetB] = [fleetOf(a), fleetOf(b)];
  const shared = commonConstants(fleetA).filter((name) => commonConstants(fleetB).includes(name));
  const placeOf = new Map(fleetB.first.map((m, i) => [m.motor, i]));
  const same = fleetA.first.flatMap((m, i) => {
    const j = placeOf.get(m.motor);
    return j === undefined ? [] : [[i, j] as const];
  });
  // The same motors, each against itself: the differences against nothing. Else one fleet against the other.
  const fewer = Math.min(fleetA.first.length, fleetB.first.length);
  const paired = same.length >= 8 || (same.length >= 2 && same.length >= fewer / 2);
  const tables = Object.fromEntries(
    shared.map((name) => {
      const [x, y] = [columnOf(fleetA.first, name).values, columnOf(fleetB.first, name).values];
      const values = paired ? same.flatMap(([i, j]) => [x[i], y[j]]) : [...Array.from(x), ...Array.from(y)];
      return [name, { values, unit: unitOfConstant(name) }];
    }),
  );
  if (paired) return pairedChanges(tables, alpha);
  const groups = [...fleetA.first.map(() => "before"), ...fleetB.first.map(() => "now")];
  return groupDifferences(tables, groups, alpha).flatMap((c): ConstantChange[] => {
    const [later, other] = ["now", "before"].map((name) => c.groups.find((g) => g.group === name));
    if (later === undefined || other === undefined) return [];
    const constant = c.constant as StudyConstant;
    const { difference: change, df } = later;
    // Few motors can be exchanged in so few ways that no chance is small.
    const p = waysToSplit(later.count, other.count) < fewWays ? Math.min(1, shared.length * later.p) : c.p;
    return [
      {
        constant,
        words: wordsOfConstant(constant),
        of: "motors of the one against those of the other",
        motors: later.count + other.count,
        change,
        p,
        differs: p < alpha,
        smallest: smallestOf(errorOf(change, df), df, { constants: shared.length, alpha }),
      },
    ];
  });
}

/** Ways below which exchanging motors between two studies cannot tell small chances, and t serves (seven of each
 * have more). */
const fewWays = 3000;

/** In how many ways motors can be split into two groups of these sizes. */
function waysToSplit(a: number, b: number): number {
  let ways = 1;
  for (let k = 1; k <= Math.min(a, b) && ways < fewWays; k++) ways *= (a + b - k + 1) / k;
  return ways;
}

/** Changes of the same motors: the signs of the differences are exchanged at random. Values come as pairs, before and
 * now. */
function pairedChanges(
  tables: Readonly<Record<string, { readonly values: readonly number[]; readonly unit: string }>>,
  alpha: number,
): ConstantChange[] {
  const names = Object.keys(tables) as StudyConstant[];
  return names.flatMap((constant): ConstantChange[] => {
    const { values, unit } = tables[constant];
    const differences: number[] = [];
    for (let i = 0; i < values.length; i += 2) {
      const d = values[i + 1] - values[i];
      if (Number.isFinite(d)) differences.push(d);
    }
    if (differences.length < 2) return [];
    const { change, p } = changeOf(differences, unit, names.length);
    const df = differences.length - 1;
    return [
      {
        constant,
        words: wordsOfConstant(constant),
        of: "same motors",
        motors: differences.length,
        change,
        p,
        differs: p < alpha,
        smallest: smallestOf(errorOf(change, df), df, { constants: names.length, alpha }),
      },
    ];
  });
}

/** Standard error behind a t interval of 95 %. */
const errorOf = ({ low, high }: Estimate, df: number) => (high - low) / 2 / studentT.quantile(0.975, df);

/** Smallest change that a t test at `alpha` over all constants finds nine times out of ten. */
function smallestOf(
  error: number,
  df: number,
  { constants, alpha }: { readonly constants: number; readonly alpha: number },
): number {
  return smallestFound(studentT.quantile(1 - alpha / (2 * constants), df), df) * error;
}

/** Below this number of motors the exchanges of signs are too few to tell a small chance, and t serves. */
const fewMotors = 14;

/** Mean change with its t interval, and the chance of it by exchanging signs (by t for few motors). */
function changeOf(
  differences: readonly number[],
  unit: string,
  constants: number,
): { change: Estimate; p: number } {
  const n = differences.length;
  const mean = differences.reduce((a, b) => a + b, 0) / n;
  const squares = differences.reduce((sum, d) => sum + (d - mean) ** 2, 0);
  const half = studentT.quantile(0.975, n - 1) * Math.sqrt(squares / (n - 1) / n);
  const byT = () => {
    if (squares === 0) return mean === 0 ? 1 : 0;
    return 2 * studentT.upper((Math.abs(mean) * Math.sqrt((n - 1) * n)) / Math.sqrt(squares), n - 1);
  };
  const bySigns = n < fewMotors ? undefined : exchangedSigns(differences, mean);
  return {
    change: {
      value: mean,
      low: mean - half,
      high: mean + half,
      unit,
      level: 0.95,
      samples: n,
      method: "mean change of the same motors, t interval",
    },
    p: squares === 0 && mean === 0 ? 1 : Math.min(1, constants * (bySigns ?? byT())),
  };
}

/** Part of random exchanges of signs in which the mean lies as far out. */
function exchangedSigns(differences: readonly number[], mean: number): number {
  const random = seededRandom(1);
  let beyond = 1;
  for (let k = 0; k < exchanges; k++) {
    const sum = differences.reduce((total, d) => total + (random.uniform() < 0.5 ? d : -d), 0);
    if (Math.abs(sum / differences.length) >= Math.abs(mean) * (1 - 1e-12)) beyond++;
  }
  return beyond / (exchanges + 1);
}

/** Times that signs are exchanged. */
const exchanges = 4999;
