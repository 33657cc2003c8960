import type { StageTold } from "../../run/run.js";
import { numberText, scaleOf } from "../../units/forPeople.js";
import { isUndetermined, type Life, type Undetermined } from "../life/lifeData.js";
import { type LifeOptions, type LifeSummary, lifeSummary } from "../life/lifeSummary.js";
import { readTables, type StudyRecording, type StudyTables } from "../pipeline/readTables.js";
import { type StudyConstant, unitOfConstant, wordsOfConstant } from "../pipeline/studyConstants.js";
import { type Capability, capability } from "./capability.js";
import { describeSample, type SampleDescription } from "./describeSample.js";
import { doubtOfLimits } from "./doubtfulLimits.js";
import { type Drift, drift } from "./drift.js";
import type { DriftFound, Drifting } from "./driftingMotors.js";
import { columnOf, commonConstants, type Fleet, fleetOf, independentConstants } from "./fleet.js";
import { type FleetDecisions, fleetDecisions, runsOf } from "./fleetDecisions.js";
import { type ConstantRemaining, fleetRemaining } from "./fleetRemaining.js";
import { type GaugeStudy, gaugeStudy } from "./gaugeStudy.js";
import { keptApart } from "./keptApart.js";
import { type NotSound, notSound } from "./notSound.js";
import type { OddGroup, OddGroups } from "./oddGroups.js";
import { type TooCoarse, tooCoarse } from "./tooCoarse.js";
import { type VarianceComponents, varianceComponents } from "./varianceComponents.js";

/** Options of `studySummary`. */
export interface SummaryOptions {
  /** Constants to look at; those that most motors have when absent. */
  readonly constants?: readonly StudyConstant[];
  /** Constants that enter the distance of outlying motors; those of `constants` that do not follow from others when
   * absent. */
  readonly distance?: readonly StudyConstant[];
  /** Limits for capability, and for the time left until a drifting constant reaches one. */
  readonly limits?: Readonly<
    Partial<Record<StudyConstant, { readonly lower?: number; readonly upper?: number }>>
  >;
  /** Life table. */
  readonly lives?: readonly Life[];
  readonly lifeUnit?: string;
  /** How the lives are looked at, see `lifeSummary`. */
  readonly lifeOptions?: LifeOptions;
  /** Chance of any false alarm in each table; 0.01 when absent. */
  readonly alpha?: number;
  /** Told what is looked at next, and how many parts of it are done where it has several. */
  readonly told?: StageTold;
}

/** One constant across motors. */
export interface ConstantDistribution {
  readonly constant: StudyConstant;
  readonly words: string;
  readonly unit: string;
  /** First recording of each motor. */
  readonly description: SampleDescription;
}

/** A motor whose wiring is not right, by what its trials showed. */
export interface WiringTrouble {
  readonly motor: string;
  readonly recording: string;
  readonly verdict: string;
  readonly sense: string;
  readonly cause: string | null;
  readonly text: string;
}

/** A motor whose constant drifts. */
export interface DriftingMotor extends DriftFound {
  readonly constant: StudyConstant;
  /** The same series by ranks, where it is long enough. */
  readonly ranks?: Drift;
  readonly text: string;
}

/** Statistics across the motors of a study. Every part that the data do not allow is absent or `Undetermined`. */
export interface StudySummary {
  readonly motors: number;
  readonly recordings: number;
  readonly withoutResult: number;
  /** Recordings whose motor nobody states: each counts as a motor of its own. */
  readonly unnamed: number;
  /** Chance of any false alarm in each part that decides. */
  readonly alpha: number;
  readonly wiring: readonly WiringTrouble[];
  /** Every motor with a trial that is not sound or not decided, with cause and remedy or with what it needs. */
  readonly notSound: readonly NotSound[];
  /** Trials by verdict; `tracking` against the command is counted under `against`. */
  readonly verdicts: Readonly<Record<string, number>>;
  readonly distributions: readonly ConstantDistribution[];
  /** Outlying motors, each measured against its own batch and rig, and how small a deviation would have been seen. */
  readonly outlying: FleetDecisions["outlying"];
  /** Constants that are too coarse in some motors, or that too few have, to take part. */
  readonly coarse: readonly TooCoarse[];
  /** Differences between batches and between rigs (motors as first measured). */
  readonly differences: FleetDecisions["differences"];
  /** Batches and rigs that stand out from how batches and rigs differ among themselves. */
  readonly odd: readonly (OddGroup & { readonly factor: "batch" | "rig" })[];
  /** For each factor, how small an odd group would have been seen, or why none can be. */
  readonly oddJudged: readonly {
    readonly factor: "batch" | "rig";
    readonly judged: Pick<OddGroups, "groups" | "smallest"> | Undetermined;
  }[];
  /** How the spread divides into batch, motor and repeat, drifting motors left out. */
  readonly components: readonly { readonly constant: StudyConstant; readonly split: VarianceComponents }[];
  /** Motors measured often enough to see a drift. */
  readonly watched: number;
  readonly drifting: readonly DriftingMotor[];
  /** Drift of the fleet as a whole, and how small a drift would have been seen; or why none can be. */
  readonly drift: Pick<Drifting, "fleet" | "smallest"> | Undetermined;
  /** Daily means as first measured, over time. */
  readonly charts: FleetDecisions["charts"];
  readonly capability: readonly {
    readonly constant: StudyConstant;
    readonly result: Capability | Undetermined;
    /** Why the limits are hardly meant as they stand. */
    readonly doubt?: string;
  }[];
  /** Time left until each limited constant reaches its limit, of motors measured three times or more. */
  readonly remaining: readonly ConstantRemaining[];
  /** Motors that were measured on every rig several times. */
  readonly gauge: readonly { readonly constant: StudyConstant; readonly study: GaugeStudy }[];
  readonly life?: LifeSummary;
  /** Lives of motors that are not in the study; absent without a life table. */
  readonly livesElsewhere?: number;
}

/**
 * Statistics across the motors of a study: which are miswired, how the constants are distributed, which motors lie away
 * and why, which batches and rigs differ, where the spread comes from, what drifts, control charts, capability, the
 * gauge, and lives.
 *
 * @param source - a results folder, or tables already read by `readTables`
 * @example
 * const summary = await studySummary("datasets/parcel-sorter-fleet/study", { lives, lifeUnit: "h" });
 * summary.odd; // [{ group: "B06", constant: "coulombFriction", share: 0.35, ... }]
 */
export async function studySummary(
  source: string | StudyTables,
  options: SummaryOptions = {},
): Promise<StudySummary> {
  const tables = keptApart(typeof source === "string" ? await readTables(source) : source);
  const { alpha = 0.01, told = () => {} } = options;
  const fleet = fleetOf(tables);
  const constants = options.constants ?? commonConstants(fleet);
  const distance = options.distance ?? constants.filter((name) => independentConstants.includes(name));
  const decided = fleetDecisions(fleet, { constants, distance, alpha, told });
  told("where spread comes from", 0, 0);
  const drifting = driftingOf(fleet, decided.drifting);
  const moved = new Set(drifting.map((d) => d.motor));
  const batches = new Set(fleet.first.map((m) => m.batch).filter((b) => b !== null)).size > 1;
  return {
    motors: fleet.motors.size,
    recordings: tables.recordings.length,
    withoutResult: tables.recordings.filter((r) => r.reason !== null).length,
    unnamed: tables.recordings.filter(isUnnamed).length,
    alpha,
    wiring: wiringOf(tables),
    notSound: notSound(tables),
    verdicts: tables.verdicts,
    distributions: constants.map((constant) => ({
      constant,
      words: wordsOfConstant(constant),
      unit: unitOfConstant(constant),
      description: describeSample(columnOf(fleet.first, constant).values, unitOfConstant(constant)),
    })),
    outlying: decided.outlying,
    coarse: tooCoarse(fleet.first, constants),
    differences: decided.differences,
    odd: decided.odd.flatMap(({ factor, found }) =>
      isUndetermined(found) ? [] : found.odd.map((odd) => ({ factor, ...odd })),
    ),
    oddJudged: decided.odd.map(({ factor, found }) => ({
      factor,
      judged: isUndetermined(found) ? found : { groups: found.groups, smallest: found.smallest },
    })),
    components: componentsOf(fleet, moved, constants, batches),
    watched: isUndetermined(decided.drifting) ? 0 : decided.drifting.watched,
    drifting,
    drift: isUndetermined(decided.drifting)
      ? decided.drifting
      : { fleet: decided.drifting.fleet, smallest: decided.drifting.smallest },
    charts: decided.charts,
    capability: capabilityOf(fleet, options.limits ?? {}),
    remaining: fleetRemaining(fleet, options.limits ?? {}),
    gauge: gaugeOf(tables.recordings, fleet.troubled, moved, constants),
    ...(options.lives === undefined
      ? {}
      : {
          life: lifeSummary(options.lives, { unit: options.lifeUnit, ...options.lifeOptions }),
          livesElsewhere: elsewhere(options.lives, fleet),
        }),
  };
}

const elsewhere = (lives: readonly Life[], { motors }: Fleet): number =>
  lives.filter(({ motor }) => motor !== undefined && !motors.has(motor)).length;

/** A recording that is a motor of its own for want of a name. */
const isUnnamed = ({ recording, motor, part }: StudyRecording): boolean =>
  motor === recording || (part != null && motor === `${recording}#${part}`);

function capabilityOf(
  { first }: Fleet,
  limits: NonNullable<SummaryOptions["limits"]>,
): StudySummary["capability"] {
  return (Object.keys(limits) as StudyConstant[]).map((constant) => {
    const values = Array.from(columnOf(first, constant).values).filter(Number.isFinite);
    const own = limits[constant] ?? {};
    const doubt = doubtOfLimits(constant, values, own);
    const common = { constant, ...(doubt === undefined ? {} : { doubt }) };
    if (new Set(values).size > 1) return { ...common, result: capability(values, own) };
    const have = values.length === 1 ? "1 motor has" : `${values.length} motors have`;
    const why = values.length > 1 ? "all the same value" : "it: a spread takes 2 at least";
    return { ...common, result: { undetermined: `${have} ${why}` } };
  });
}

function wiringOf({ troubled }: StudyTables): WiringTrouble[] {
  const wrong = new Set(["blocked", "reversed", "runaway", "tracking"]);
  return troubled
    .filter((t) => wrong.has(t.verdict) || t.sense === "against")
    .map(({ motor, recording, verdict, sense, cause, text }) => ({
      motor,
      recording,
      verdict,
      sense,
      cause,
      text,
    }));
}

function driftingOf(fleet: Fleet, found: Drifting | Undetermined): DriftingMotor[] {
  if (isUndetermined(found)) return [];
  return found.motors.map((one) => {
    const constant = one.constant as StudyConstant;
    const runs = runsOf(fleet, constant).filter((r) => r.motor === one.motor);
    const ranks = drift(
      runs.map((r) => r.time),
      runs.map((r) => r.value),
      { unit: unitOfConstant(constant), timeUnit: "d" },
    );
    const [unit, size] = scaleOf(one.shift, unitOfConstant(constant));
    const moved = one.relative
      ? `${Math.abs(one.change * 100).toFixed(0)} %`
      : `${numberText(Math.abs(one.shift) / size, 2)} ${unit}`.trim();
    return {
      ...one,
      constant,
      ...(isUndetermined(ranks) ? {} : { ranks }),
      text: `${wordsOfConstant(constant)} of ${one.motor} ${one.shift > 0 ? "rose" : "fell"} by ${moved} along its line over ${one.runs} runs`,
    };
  });
}

function componentsOf(
  { motors: byMotor, troubled }: Fleet,
  drifting: ReadonlySet<string>,
  constants: readonly StudyConstant[],
  batches: boolean,
): StudySummary["components"] {
  const rows = [...byMotor].flatMap(([motor, list]) =>
    drifting.has(motor) ? [] : list.filter((r) => r.reason === null && !troubled.has(r.recording)),
  );
  return constants.flatMap((constant) => {
    const have = rows.filter((r) => r.constants[constant] !== undefined && (!batches || r.batch !== null));
    const motors = new Set(have.map((r) => r.motor)).size;
    if (motors < 3 || motors === have.length) return [];
    const factors: Record<string, string[]> = { motor: have.map((r) => r.motor) };
    if (batches && new Set(have.map((r) => r.batch)).size > 1)
      factors.batch = have.map((r) => r.batch as string);
    if (have.every((r) => r.rig !== null) && new Set(have.map((r) => r.rig)).size > 1)
      factors.rig = have.map((r) => r.rig as string);
    const split = varianceComponents(
      have.map((r) => r.constants[constant] as number),
      factors,
      { unit: unitOfConstant(constant), intervals: false },
    );
    return [{ constant, split }];
  });
}

function gaugeOf(
  recordings: readonly StudyRecording[],
  troubled: ReadonlySet<string>,
  drifting: ReadonlySet<string>,
  constants: readonly StudyConstant[],
): StudySummary["gauge"] {
  const rows = recordings.filter(
    (r) => r.rig !== null && !troubled.has(r.recording) && !drifting.has(r.motor),
  );
  const rigs = [...new Set(rows.map((r) => r.rig as string))].sort();
  if (rigs.length < 2) return [];
  return constants.flatMap((constant) => {
    const cells = new Map<string, Map<string, number[]>>();
    for (const r of rows) {
      const value = r.constants[constant];
      if (value === undefined) continue;
      const motor = cells.get(r.motor) ?? new Map<string, number[]>();
      cells.set(r.motor, motor);
      motor.set(r.rig as string, [...(motor.get(r.rig as string) ?? []), value]);
    }
    const full = [...cells].filter(([, motor]) => rigs.every((rig) => (motor.get(rig)?.length ?? 0) >= 2));
    if (full.length < 2) return [];
    const repeats = Math.min(...full.flatMap(([, motor]) => rigs.map((rig) => motor.get(rig)!.length)));
    const readings = full.flatMap(([motor, by]) =>
      rigs.flatMap((rig) =>
        by
          .get(rig)!
          .slice(-repeats)
          .map((value) => ({ motor, rig, value })),
      ),
    );
    return [{ constant, study: gaugeStudy(readings, { intervals: false, unit: unitOfConstant(constant) }) }];
  });
}
