import type { Undetermined } from "../life/lifeData.js";
import type { Limits } from "../pipeline/readLimits.js";
import { type StudyConstant, unitOfConstant } from "../pipeline/studyConstants.js";
import { comparedByLogarithm, type Fleet } from "./fleet.js";
import { daysOf } from "./fleetDecisions.js";
import type { MeasuredRun } from "./motorSlopes.js";
import { type RemainingLife, remainingLife } from "./remainingLife.js";

/** Time left of the motors of a fleet until one constant reaches one of its limits. */
export interface ConstantRemaining {
  readonly constant: StudyConstant;
  readonly side: "upper" | "lower";
  readonly limit: number;
  /** Hours of use where every run has them, else days since a motor's first run. */
  readonly timeUnit: "h" | "d";
  /** Ten times the longest watching: a straight line is not believed beyond. */
  readonly horizon: number;
  readonly found: RemainingLife | Undetermined;
}

/** For every limit of every constant, the time left of the motors that were measured three times or more, rig and
 * temperature taken out. */
export function fleetRemaining(fleet: Fleet, limits: Limits): ConstantRemaining[] {
  return (Object.keys(limits) as StudyConstant[]).flatMap((constant) =>
    (["upper", "lower"] as const).flatMap((side): ConstantRemaining[] => {
      const limit = limits[constant]?.[side];
      if (limit === undefined) return [];
      const { runs, timeUnit } = usedRuns(fleet, constant);
      const logarithm =
        limit > 0 &&
        comparedByLogarithm(
          constant,
          runs.map((r) => r.value),
        );
      const found =
        runs.length === 0
          ? { undetermined: "no motor was measured three times with a date or its hours of use" }
          : remainingLife(runs, limit, side, { unit: unitOfConstant(constant), timeUnit, logarithm });
      return [{ constant, side, limit, timeUnit, horizon: 10 * longestOf(runs), found }];
    }),
  );
}

/** The longest time over which a motor was watched. */
function longestOf(runs: readonly MeasuredRun[]): number {
  const ends = new Map<string, [number, number]>();
  for (const { motor, time } of runs) {
    const [first, last] = ends.get(motor) ?? [time, time];
    ends.set(motor, [Math.min(first, time), Math.max(last, time)]);
  }
  return [...ends.values()].reduce((most, [first, last]) => Math.max(most, last - first), 0);
}

/** Runs of one constant over the motor's own time. */
function usedRuns(fleet: Fleet, constant: StudyConstant): { runs: MeasuredRun[]; timeUnit: "h" | "d" } {
  const lists = [...fleet.motors].map(([motor, list]) => ({
    motor,
    list: list.filter((r) => r.constants[constant] !== undefined && !fleet.troubled.has(r.recording)),
  }));
  const several = lists.filter(({ list }) => list.length >= 3);
  const hours = several.every(({ list }) => list.every((r) => Number.isFinite(r.hours ?? Number.NaN)));
  const runs = several.flatMap(({ motor, list }) => {
    const days = list.map((r) => (r.date === null ? Number.NaN : daysOf(r.date)));
    const start = days.reduce(
      (least, d) => Math.min(least, Number.isNaN(d) ? least : d),
      Number.POSITIVE_INFINITY,
    );
    return list.flatMap((r, i): MeasuredRun[] => {
      const time = hours ? (r.hours as number) : days[i] - start;
      if (!Number.isFinite(time)) return [];
      return [
        { motor, time, value: r.constants[constant] as number, rig: r.rig, temperature: r.temperature },
      ];
    });
  });
  return { runs, timeUnit: hours ? "h" : "d" };
}
