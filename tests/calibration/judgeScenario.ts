import { diagnose } from "../../lib/diagnosis/index.js";
import { type BenchFault, randomBench, simulate } from "../../lib/index.js";
import { recordingFromTrace } from "../../lib/recording/fromBench.js";
import type { Recording, Trial } from "../../lib/recording/types.js";
import { seeded } from "../diagnosis/secondBench.js";
import { type Scenario, scenario, truthOf } from "./scenario.js";

/** The outcome of one simulated recording, small enough to keep. */
export interface Outcome {
  readonly seed: number;
  readonly made: string;
  readonly cause: string;
  readonly gain: number;
  readonly named: string;
  readonly odds: number;
  readonly separable: boolean;
  /** Odds given to the true cause. */
  readonly oddsOfTruth: number;
  readonly usable: boolean;
  readonly trials: readonly {
    readonly kind: string;
    readonly truth: string;
    readonly truthSense: string;
    readonly said: string;
    readonly saidSense: string;
    readonly confidence: number;
    readonly forecast?: string;
    readonly forecastOdds?: number;
  }[];
}

const codes: Readonly<Record<string, string>> = {
  none: "nothing-wrong",
  "leads-exchanged": "phases-swapped",
  "offset-half-turn": "half-turn-offset",
  "offset-disturbed": "disturbed-offset",
  "pole-pairs": "pole-pairs-wrong",
  "lead-open": "open-phase",
  jam: "jam",
  overload: "load-or-friction",
  "counts-missing": "sensor-fault",
  "encoder-stuck": "sensor-fault",
  "encoder-noise": "sensor-fault",
  "loop-mistuned": "speed-loop-mistuned",
  "display-reversed": "speed-sign-display",
};

/** How often each fault is drawn: the priors the causes are shipped with, so that stated odds can be held against
 * frequencies. */
const drawn: readonly (readonly [BenchFault, number])[] = [
  ["none", 0.28],
  ["leads-exchanged", 0.2],
  ["stale-offset", 0.11],
  ["offset-half-turn", 0.06],
  ["offset-disturbed", 0.1],
  ["pole-pairs", 0.06],
  ["line-count", 0.07],
  ["lead-open", 0.03],
  ["jam", 0.04],
  ["overload", 0.03],
  ["current-not-following", 0.025],
  ["counts-missing", 0.006],
  ["encoder-stuck", 0.007],
  ["encoder-noise", 0.007],
  ["loop-mistuned", 0.02],
  ["display-reversed", 0.01],
];

type MadeBench = ReturnType<typeof randomBench>;

/** Counts entered as lines, or the reverse. */
const fourfold = ({ encoder, drive }: MadeBench["bench"]): boolean => {
  const ratio = encoder.lines / drive.encoderLines;
  return ratio === 4 || ratio === 0.25;
};

/** A bench with a wrong line count, off by four or not: the library draws the one more often than the shipped priors
 * have it. */
function wrongLines(seed: number, four: boolean): MadeBench {
  let made = randomBench(seed, { fault: "line-count" });
  for (let k = 1; k < 60 && fourfold(made.bench) !== four; k += 1)
    made = randomBench(seed + 1_000_003 * k, { fault: "line-count" });
  return made;
}

/** A bench of the library's own sampling, its fault drawn by `drawn`, with or without voltages and phase currents in
 * the log. */
export function libraryScenario(seed: number, evenly = false): Scenario {
  const random = seeded(seed * 31 + 7);
  let left = random() * drawn.reduce((sum, [, w]) => sum + w, 0);
  const fault = drawn.find(([, w]) => {
    left -= w;
    return left <= 0;
  })?.[0];
  const made =
    fault === "line-count" && !evenly
      ? wrongLines(seed, random() < 0.5)
      : randomBench(seed, evenly || fault === undefined ? {} : { fault });
  const { truth } = made;
  // Half the time the logged speed alone has the wrong sign; motion is then read from the position.
  const speedTurned = fault === "display-reversed" && random() < 0.5;
  const bench = speedTurned
    ? { ...made.bench, drive: { ...made.bench.drive, displaySense: 1 as const } }
    : made.bench;
  const coast = [{ kind: "coast" as const, duration: 1.5 }];
  const withSpeed = seed % 2 === 0;
  const program = withSpeed ? [...made.torqueProgram, ...coast, ...made.speedProgram] : made.torqueProgram;
  const trace = simulate(bench, program, {
    logRate: made.logRate,
    currentNoise: made.currentNoise,
    seed,
    startAngle: made.startAngle,
  });
  const all = recordingFromTrace(trace, bench, { path: `bench-${seed}`, motor: "m" });
  if (speedTurned && all.channels.speed)
    Object.assign(all.channels, {
      speed: { ...all.channels.speed, data: all.channels.speed.data.map((v) => -v) },
    });
  // Every third log has no voltages and phase currents, as most have not.
  const { currentCommand, current, speed, position, speedCommand } = all.channels;
  const recording: Recording =
    seed % 3 === 0
      ? all
      : {
          ...all,
          channels: {
            ...(currentCommand ? { currentCommand } : {}),
            ...(current ? { current } : {}),
            ...(speed ? { speed } : {}),
            ...(position ? { position } : {}),
            ...(speedCommand ? { speedCommand } : {}),
          },
        };
  const duration = (list: readonly { duration: number }[]): number =>
    list.reduce((s, x) => s + x.duration, 0);
  const torqueEnd = duration(made.torqueProgram);
  const at = (t: number): number => {
    const k = trace.time.findIndex((x) => x >= t - 1e-9);
    return k < 0 ? trace.time.length : k;
  };
  const scale =
    bench.motor.fluxLinkage * bench.motor.polePairs > 0
      ? bench.drive.busVoltage / Math.sqrt(3) / (bench.motor.fluxLinkage * bench.motor.polePairs)
      : 1;
  const trials: Trial[] = [
    {
      kind: "torque",
      from: 0,
      to: at(torqueEnd),
      start: 0,
      end: torqueEnd,
      command: "currentCommand",
      steps: [],
      source: "found",
    },
  ];
  const first = truthOf(
    "torque",
    made.torqueProgram,
    0,
    trace.time,
    trace.truth.speed,
    // What the log shows: a display with the sign turned shows a sound torque trial as turning against.
    bench.encoder.sense * (bench.drive.displaySense ?? 1),
    scale,
  );
  const verdicts = [first[0]];
  const senses = [first[1]];
  if (withSpeed) {
    const begin = torqueEnd + 1.5;
    trials.push({
      kind: "speed",
      from: at(begin),
      to: trace.time.length,
      start: begin,
      end: trace.time[trace.time.length - 1],
      command: "speedCommand",
      steps: [],
      source: "found",
    });
    const ratio = bench.encoder.lines / bench.drive.encoderLines;
    const second = truthOf(
      "speed",
      made.speedProgram,
      begin,
      trace.time,
      trace.truth.speed.map((v) => v * ratio),
      bench.encoder.sense,
      scale,
    );
    const mirrored = bench.drive.displaySense === -1 && second[0] === "tracking";
    verdicts.push(mirrored ? "reversed" : second[0]);
    senses.push(mirrored ? "against" : second[1]);
  }
  const cause =
    truth.fault === "stale-offset"
      ? truth.offsetError > 0
        ? "stale-offset-plus"
        : "stale-offset-minus"
      : truth.fault === "line-count"
        ? fourfold(bench)
          ? "line-count-quadrature"
          : "line-count-wrong"
        : truth.fault === "loop-mistuned" && !withSpeed
          ? "nothing-wrong" // without a speed trial the gains have no part in the log
          : (codes[truth.fault] ?? truth.fault);
  const whole = truth.mismatch < 1e-9;
  return {
    recording,
    trials,
    truth: { cause, mismatch: truth.mismatch, gain: whole ? truth.torqueGain : Number.NaN, verdicts, senses },
    made: `library-sampling ${Math.round(made.logRate)} Hz`,
  };
}

/** Simulates and judges one recording; odd seeds come from the library's sampling, even ones from the varied logs. */
export function judgeScenario(seed: number): Outcome {
  const made = seed % 2 === 1 ? libraryScenario((seed - 1) / 2) : scenario(seed / 2);
  return outcomeOf(seed, made);
}

export function outcomeOf(seed: number, made: Scenario): Outcome {
  const { recording, trials, truth } = made;
  const diagnosis = diagnose([{ recording, trials }]);
  const judged = diagnosis.recordings[0].trials;
  const causes = judged.find((t) => t.causes.length > 0)?.causes ?? [];
  const first = judged.find((t) => t.causes.length > 0);
  const named = causes[0];
  const drive = recording.drive.encoderLines ?? 0;
  const cause = truth.cause;
  return {
    seed,
    made: made.made,
    cause,
    gain: truth.gain,
    named: named?.cause ?? "none",
    odds: named?.probability ?? 0,
    separable: named !== undefined && first?.inseparable === undefined && drive >= 0,
    oddsOfTruth: causes.find((c) => c.cause === cause)?.probability ?? 0,
    usable: diagnosis.orderings.some((o) => o.usable),
    trials: judged.map((t, k) => ({
      kind: t.kind,
      truth: truth.verdicts[k],
      truthSense: truth.senses[k],
      said: t.verdict,
      saidSense: t.sense,
      confidence: t.confidence,
      // What the torque trial alone foretold counts, also where the speed trial beside it made the tool withhold it.
      ...(t.forecast
        ? {
            forecast: t.forecast.contradicted?.verdict ?? t.forecast.verdict,
            forecastOdds: t.forecast.probability,
          }
        : {}),
    })),
  };
}
