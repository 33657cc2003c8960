import { isUndetermined, type Life, type Undetermined } from "../life/lifeData.js";
import { type LifeSummary, lifeSummary } from "../life/lifeSummary.js";
import { readTables, type StudyRecording, type StudyTables } from "../pipeline/readTables.js";
import { type StudyConstant, unitOfConstant, wordsOfConstant } from "../pipeline/studyConstants.js";
import { type Capability, capability } from "./capability.js";
import { type ControlChart, ewmaChart, individualsChart } from "./controlChart.js";
import { describeSample, type SampleDescription } from "./describeSample.js";
import { type Drift, drift } from "./drift.js";
import { type GaugeStudy, gaugeStudy } from "./gaugeStudy.js";
import { type ConstantDifference, groupDifferences } from "./groupDifferences.js";
import { holm } from "./multiplicity.js";
import { type OddGroup, oddGroups } from "./oddGroups.js";
import { type OutlyingMotor, outlyingMotors } from "./robustDistance.js";
import { meanOf, medianOf } from "./sample.js";
import { type VarianceComponents, varianceComponents } from "./varianceComponents.js";

/** Options of `studySummary`. */
export interface SummaryOptions {
  /** Constants to look at; those that most motors have when absent. */
  readonly constants?: readonly StudyConstant[];
  /** Constants that enter the distance of outlying motors; those of `constants` that do not follow from others when absent. */
  readonly distance?: readonly StudyConstant[];
  /** Limits for capability. */
  readonly limits?: Readonly<
    Partial<Record<StudyConstant, { readonly lower?: number; readonly upper?: number }>>
  >;
  /** Life table. */
  readonly lives?: readonly Life[];
  readonly lifeUnit?: string;
  /** Chance of any false alarm in each table; 0.01 when absent. */
  readonly alpha?: number;
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
export interface DriftingMotor {
  readonly motor: string;
  readonly constant: StudyConstant;
  readonly drift: Drift;
  /** Median of the last quarter of the runs over that of the first quarter, less one. */
  readonly change: number;
  /** p of the trend, adjusted by Holm over all motors and constants watched. */
  readonly p: number;
  readonly text: string;
}

/** Statistics across the motors of a study. Every part that the data do not allow is absent or `Undetermined`. */
export interface StudySummary {
  readonly motors: number;
  readonly recordings: number;
  readonly withoutResult: number;
  readonly wiring: readonly WiringTrouble[];
  readonly distributions: readonly ConstantDistribution[];
  /** Outlying motors, each measured against its own batch. */
  readonly outlying: readonly OutlyingMotor[] | Undetermined;
  /** Differences between batches and between rigs (first recording of each motor). */
  readonly differences: readonly {
    readonly factor: "batch" | "rig";
    readonly constants: readonly ConstantDifference[];
  }[];
  /** Batches and rigs that stand out from how batches and rigs differ among themselves. */
  readonly odd: readonly (OddGroup & { readonly factor: "batch" | "rig" })[];
  /** How the spread divides into batch, motor and repeat, drifting motors left out. */
  readonly components: readonly { readonly constant: StudyConstant; readonly split: VarianceComponents }[];
  readonly watched: number;
  readonly drifting: readonly DriftingMotor[];
  /** Daily means of first recordings over time. */
  readonly charts: readonly {
    readonly constant: StudyConstant;
    readonly dates: readonly string[];
    readonly individuals: ControlChart;
    readonly movingRange: ControlChart;
    readonly ewma: ControlChart;
  }[];
  readonly capability: readonly { readonly constant: StudyConstant; readonly result: Capability }[];
  /** Motors that were measured on every rig several times. */
  readonly gauge: readonly { readonly constant: StudyConstant; readonly study: GaugeStudy }[];
  readonly life?: LifeSummary;
}

/** Constants that stand for others: one of each dependent set enters the distance. */
const independent: readonly StudyConstant[] = [
  "kv",
  "resistance",
  "inertia",
  "coulombFriction",
  "viscousFriction",
  "offsetError",
];

/** Constants whose natural scale is a ratio: their logarithms enter the distance. */
const positive = new Set<StudyConstant>([
  "kv",
  "resistance",
  "inertia",
  "coulombFriction",
  "viscousFriction",
]);

/**
 * Statistics across the motors of a study: which are miswired, how the constants are distributed, which motors lie away and why, which
 * batches and rigs differ, where the spread comes from, what drifts, control charts, capability, the gauge, and lives.
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
  const { recordings, troubled } = typeof source === "string" ? await readTables(source) : source;
  const { alpha = 0.01 } = options;
  const byMotor = new Map<string, StudyRecording[]>();
  for (const recording of recordings) {
    const list = byMotor.get(recording.motor);
    if (list === undefined) byMotor.set(recording.motor, [recording]);
    else list.push(recording);
  }
  const when = (r: StudyRecording) => r.date ?? "";
  for (const list of byMotor.values())
    list.sort((a, b) =>
      when(a) < when(b) ? -1 : when(a) > when(b) ? 1 : a.recording < b.recording ? -1 : 1,
    );
  const troubledRecordings = new Set(troubled.map((t) => t.recording));
  const first = [...byMotor.values()].map((list) => list[0]);
  // A miswired recording says little about the motor itself.
  const sound = first.filter((r) => r.reason === null && !troubledRecordings.has(r.recording));
  const constants =
    options.constants ??
    ([...independent, "torqueConstant"] as StudyConstant[]).filter(
      (name) => sound.filter((r) => r.constants[name] !== undefined).length >= Math.max(3, sound.length / 2),
    );
  const column = (rows: readonly StudyRecording[], name: StudyConstant) =>
    Float64Array.from(rows, (r) => r.constants[name] ?? Number.NaN);
  const columns = (rows: readonly StudyRecording[], names: readonly StudyConstant[] = constants) =>
    Object.fromEntries(
      names.map((name) => [name, { values: column(rows, name), unit: unitOfConstant(name) }]),
    );

  const drifts = driftsOf(byMotor, troubledRecordings, constants, alpha);
  const drifting = new Set(drifts.drifting.map((d) => d.motor));
  const distance = options.distance ?? constants.filter((name) => independent.includes(name));
  const groupsOf = (factor: "batch" | "rig") => sound.map((r) => r[factor] ?? "");
  const several = (factor: "batch" | "rig") =>
    new Set(sound.flatMap((r) => (r[factor] === null ? [] : [r[factor]]))).size > 1;
  const factors = (["batch", "rig"] as const).filter(several);
  const centred = outlyingMotors(
    Object.fromEntries(
      distance.map((name) => [
        wordsOfConstant(name),
        { values: column(sound, name), unit: unitOfConstant(name), logarithm: positive.has(name) },
      ]),
    ),
    sound.map((r) => r.motor),
    alpha,
    several("batch") ? groupsOf("batch") : undefined,
  );
  return {
    motors: byMotor.size,
    recordings: recordings.length,
    withoutResult: recordings.filter((r) => r.reason !== null).length,
    wiring: troubled
      .filter(
        (t) =>
          t.verdict === "blocked" ||
          t.verdict === "reversed" ||
          t.verdict === "runaway" ||
          t.sense === "against",
      )
      .map(({ motor, recording, verdict, sense, cause, text }) => ({
        motor,
        recording,
        verdict,
        sense,
        cause,
        text,
      })),
    distributions: constants.map((constant) => ({
      constant,
      words: wordsOfConstant(constant),
      unit: unitOfConstant(constant),
      description: describeSample(column(sound, constant), unitOfConstant(constant)),
    })),
    outlying: isUndetermined(centred) ? centred : centred.outlying,
    differences: factors.map((factor) => ({
      factor,
      constants: groupDifferences(columns(sound), groupsOf(factor), alpha),
    })),
    odd: factors.flatMap((factor) =>
      oddGroups(
        columns(sound),
        sound.map((r) => r[factor]),
        alpha,
      ).map((odd) => ({ factor, ...odd })),
    ),
    components: componentsOf(byMotor, troubledRecordings, drifting, constants, several("batch")),
    watched: drifts.watched,
    drifting: drifts.drifting,
    charts: chartsOf(sound, constants),
    capability: (Object.keys(options.limits ?? {}) as StudyConstant[]).map((constant) => ({
      constant,
      result: capability(column(sound, constant), options.limits![constant]!),
    })),
    gauge: gaugeOf(recordings, troubledRecordings, drifting, constants),
    ...(options.lives === undefined ? {} : { life: lifeSummary(options.lives, { unit: options.lifeUnit }) }),
  };
}

const dayOf = (date: string) => Date.parse(date) / 86_400_000;

function driftsOf(
  byMotor: ReadonlyMap<string, readonly StudyRecording[]>,
  troubled: ReadonlySet<string>,
  constants: readonly StudyConstant[],
  alpha: number,
): { watched: number; drifting: DriftingMotor[] } {
  const found: DriftingMotor[] = [];
  let watched = 0;
  for (const [motor, list] of byMotor) {
    const rows = list.filter(
      (r) => r.date !== null && Number.isFinite(dayOf(r.date)) && !troubled.has(r.recording),
    );
    if (new Set(rows.map((r) => r.date)).size < 6) continue;
    watched++;
    const times = rows.map((r) => dayOf(r.date as string));
    for (const constant of constants) {
      const answer = drift(
        times,
        rows.map((r) => r.constants[constant] ?? Number.NaN),
        { unit: unitOfConstant(constant), timeUnit: "d" },
      );
      if (isUndetermined(answer)) continue;
      const values = rows.flatMap((r) =>
        r.constants[constant] === undefined ? [] : [r.constants[constant] as number],
      );
      const ends = Math.max(2, Math.floor(values.length / 4));
      const change = medianOf(values.slice(-ends)) / medianOf(values.slice(0, ends)) - 1;
      const share = `${Math.abs(change * 100).toFixed(0)} %`;
      found.push({
        motor,
        constant,
        drift: answer,
        change,
        p: answer.mannKendall.p,
        text: `${wordsOfConstant(constant)} of ${motor} ${change > 0 ? "rose" : "fell"} by ${share} from the first to the last quarter of ${answer.runs} runs`,
      });
    }
  }
  const adjusted = holm(found.map((f) => f.p));
  return {
    watched,
    drifting: found
      .map((f, i) => ({ ...f, p: adjusted[i] }))
      .filter((f) => f.p < alpha)
      .sort((a, b) => a.p - b.p || (a.motor < b.motor ? -1 : 1)),
  };
}

function componentsOf(
  byMotor: ReadonlyMap<string, readonly StudyRecording[]>,
  troubled: ReadonlySet<string>,
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
    const split = varianceComponents(
      have.map((r) => r.constants[constant] as number),
      factors,
      { unit: unitOfConstant(constant), intervals: false },
    );
    return [{ constant, split }];
  });
}

function chartsOf(
  sound: readonly StudyRecording[],
  constants: readonly StudyConstant[],
): StudySummary["charts"] {
  const dated = sound.filter((r) => r.date !== null);
  const dates = [...new Set(dated.map((r) => (r.date as string).slice(0, 10)))].sort();
  if (dates.length < 8) return [];
  return constants.flatMap((constant) => {
    const days = dates.flatMap((date) => {
      const values = dated.flatMap((r) =>
        r.date?.startsWith(date) && r.constants[constant] !== undefined
          ? [r.constants[constant] as number]
          : [],
      );
      return values.length === 0 ? [] : [{ date, mean: meanOf(values) }];
    });
    if (days.length < 8) return [];
    const means = days.map((d) => d.mean);
    const baseline = Math.min(20, means.length);
    return [
      {
        constant,
        dates: days.map((d) => d.date),
        ...individualsChart(means, baseline),
        ewma: ewmaChart(means, { baseline }),
      },
    ];
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
