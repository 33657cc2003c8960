import type { StageTold } from "../../run/run.js";
import { isUndetermined, type Undetermined } from "../life/lifeData.js";
import type { StudyRecording } from "../pipeline/readTables.js";
import { type StudyConstant, unitOfConstant, wordsOfConstant } from "../pipeline/studyConstants.js";
import { type DayChart, dayChart, leastDays } from "./dayChart.js";
import { type Drifting, driftingMotors } from "./driftingMotors.js";
import { columnOf, comparedByLogarithm, type Fleet } from "./fleet.js";
import { type ConstantDifference, groupDifferences } from "./groupDifferences.js";
import { levelModel } from "./levelModel.js";
import type { MeasuredRun } from "./motorSlopes.js";
import { type OddGroups, oddGroups } from "./oddGroups.js";
import { type OutlyingMotors, outlyingMotors } from "./outlyingMotors.js";

/** A way in which motors can be grouped. */
export type Factor = "batch" | "rig";

/** What a study decides, each part with the same stated chance of any false alarm in it. */
export interface FleetDecisions {
  readonly outlying: OutlyingMotors | Undetermined;
  readonly differences: readonly {
    readonly factor: Factor;
    readonly constants: readonly ConstantDifference[];
  }[];
  readonly odd: readonly { readonly factor: Factor; readonly found: OddGroups | Undetermined }[];
  readonly drifting: Drifting | Undetermined;
  readonly charts: readonly { readonly constant: StudyConstant; readonly chart: DayChart }[] | Undetermined;
}

/** What is looked at, and how often a false alarm may come. */
export interface DecisionOptions {
  readonly constants: readonly StudyConstant[];
  /** Constants that enter the search for outlying motors. */
  readonly distance: readonly StudyConstant[];
  /** Chance of any false alarm in each part. */
  readonly alpha: number;
  /** Told what is looked at next, and how many parts of it are done where it has several. */
  readonly told?: StageTold;
}

/**
 * Decides which motors, batches and rigs stand out, which motors drift and on which days the production was not as
 * before. Every part holds the chance of any false alarm in it, over all motors, groups, days and constants; the
 * false-alarm table in docs/study.md measures that.
 */
export function fleetDecisions(fleet: Fleet, options: DecisionOptions): FleetDecisions {
  const { constants, distance, alpha, told = () => {} } = options;
  const part = <T>(name: string, decide: () => T): T => {
    told(name, 0, 0);
    return decide();
  };
  const { first } = fleet;
  const groups = { batch: first.map((m) => m.batch), rig: first.map((m) => m.rig) };
  const several = (factor: Factor) => new Set(groups[factor].filter((g) => g !== null)).size > 1;
  const factors = (["batch", "rig"] as const).filter(several);
  const levels = Object.fromEntries(factors.map((factor) => [factor, groups[factor]]));
  const columns = Object.fromEntries(constants.map((name) => [name, columnOf(first, name)]));
  return {
    outlying: part("outlying motors", () =>
      outlyingMotors(
        Object.fromEntries(
          distance.map((name) => [wordsOfConstant(name), columns[name] ?? columnOf(first, name)]),
        ),
        first.map((m) => m.motor),
        { alpha, factors: levels },
      ),
    ),
    differences: factors.map((factor) => ({
      factor,
      constants: part(`differences by ${factor}`, () =>
        groupDifferences(
          Object.fromEntries(
            constants.map((name) => [name, { values: columns[name].values, unit: unitOfConstant(name) }]),
          ),
          groups[factor].map((g) => g ?? ""),
          alpha,
        ),
      ),
    })),
    odd: factors.map((factor) => {
      const { [factor]: own, ...others } = levels;
      return { factor, found: oddGroups(columns, own, { alpha, factors: crossedOnly(own, others) }) };
    }),
    drifting: part("drift", () => driftsOf(fleet, constants, alpha)),
    charts: chartsOf(fleet, constants, levels, { alpha, told }),
  };
}

/** Other factors that can be told from this one: some level of theirs is met by more than one level of it. */
function crossedOnly(
  own: readonly (string | null)[],
  others: Readonly<Record<string, readonly (string | null)[]>>,
): Record<string, readonly (string | null)[]> {
  return Object.fromEntries(
    Object.entries(others).filter(([, levels]) => {
      const met = new Map<string, Set<string | null>>();
      levels.forEach((level, i) => {
        if (level !== null) met.set(level, (met.get(level) ?? new Set()).add(own[i]));
      });
      return met.size > 1 && [...met.values()].every((set) => set.size > 1);
    }),
  );
}

/** Days since 1970 of a date, with or without a time of day. */
export const daysOf = (date: string) => Date.parse(date) / 86_400_000;

/** Runs of one constant with a date, of motors that are wired as they should be. */
export function runsOf(fleet: Fleet, constant: StudyConstant): MeasuredRun[] {
  return [...fleet.motors].flatMap(([motor, list]) =>
    list
      .filter((r) => usable(r, fleet))
      .flatMap((r): MeasuredRun[] => {
        const value = r.constants[constant];
        if (value === undefined) return [];
        const { rig, temperature } = r;
        return [{ motor, time: daysOf(r.date as string), value, rig, temperature }];
      }),
  );
}

function usable(r: StudyRecording, fleet: Fleet): boolean {
  return r.date !== null && Number.isFinite(daysOf(r.date)) && !fleet.troubled.has(r.recording);
}

function driftsOf(fleet: Fleet, constants: readonly StudyConstant[], alpha: number): Drifting | Undetermined {
  return driftingMotors(
    Object.fromEntries(
      constants.map((name) => {
        const runs = runsOf(fleet, name);
        const logarithm = comparedByLogarithm(
          name,
          runs.map((r) => r.value),
        );
        return [name, { runs, unit: unitOfConstant(name), logarithm }];
      }),
    ),
    { alpha, timeUnit: "d" },
  );
}

function chartsOf(
  { first }: Fleet,
  constants: readonly StudyConstant[],
  levels: Readonly<Record<string, readonly (string | null)[]>>,
  { alpha, told }: { readonly alpha: number; readonly told: StageTold },
): FleetDecisions["charts"] {
  const dated = first.flatMap((m, i) => (m.date === null ? [] : [i]));
  const days = new Set(dated.map((i) => first[i].date)).size;
  if (days < leastDays)
    return {
      undetermined: `sound motors were first measured on ${days === 0 ? "no day with a date" : days === 1 ? "one day" : `${days} days`}: at least ${leastDays} are needed`,
    };
  const charts = constants.flatMap((constant, done) => {
    told("control charts", done, constants.length);
    const { values, logarithm = false } = columnOf(first, constant);
    const chart = dayChart(
      withoutRig(values, logarithm, levels.rig),
      first.map((m) => m.date ?? ""),
      first.map((m) => m.batch),
      { alpha: alpha / constants.length, logarithm, rows: dated },
    );
    return isUndetermined(chart) ? [] : [{ constant, chart }];
  });
  return charts.length > 0 ? charts : { undetermined: "no constant has a scatter to draw limits from" };
}

/** Values without what the rigs differ by. */
function withoutRig(
  values: ArrayLike<number>,
  logarithm: boolean,
  rig: readonly (string | null)[] | undefined,
): Float64Array {
  const plain = Float64Array.from(values);
  if (rig === undefined) return plain;
  const scaled = plain.map((v) => (logarithm ? Math.log(v) : v));
  const { effects } = levelModel(scaled, new Float64Array(plain.length), { rig }).factors.rig;
  return plain.map((v, i) => {
    const effect = effects.get(rig[i] ?? "")?.effect ?? 0;
    return logarithm ? v * Math.exp(-effect) : v - effect;
  });
}
