import { parity } from "../motor/leadOrder.js";
import type { Finding, Recording, Trial } from "../recording/types.js";
import { adviceFor } from "./advice.js";
import { type CauseCode, causeByCode, causes, offsetCauses } from "./causes.js";
import { forecastOf, gainAndOffset } from "./forecast.js";
import { weighHand } from "./handEvidence.js";
import { judgeHandTurn, judgeSweep } from "./handTrials.js";
import { type JudgedRecording, type JudgedTrial, loopChances, together } from "./judged.js";
import { measure } from "./measures.js";
import { observe } from "./observe.js";
import { judgeOrders } from "./orders.js";
import type { Diagnosis, EvidenceWeight, RecordingVerdict, TrialVerdict, VerdictWord } from "./types.js";
import { type Background, mismatchCandidates, oddsOf, weigh } from "./weigh.js";

/** One recording and the trials it was cut into. */
export interface DiagnosisInput {
  readonly recording: Recording;
  readonly trials: readonly Trial[];
}

/** What is known besides the recordings. */
export interface DiagnoseOptions {
  /** Problems met while reading; they are passed on in the diagnosis. */
  readonly problems?: readonly Finding[];
  /** Wanted sense of rotation seen from the drive end (IEC 60034-8). */
  readonly wanted?: "clockwise" | "counterclockwise";
  /** Version to write into the document. */
  readonly version?: string;
  /** Odds expected of causes before the log, in place of the shipped ones; they need not add up to one. */
  readonly priors?: Partial<Record<CauseCode, number>>;
}

/**
 * Judges one trial by itself, without the rest of its recording or set.
 *
 * @example
 * judgeTrial(recording, trial).verdict; // => "tracking"
 */
export function judgeTrial(recording: Recording, trial: Trial, options: DiagnoseOptions = {}): TrialVerdict {
  const single: Recording =
    recording.ordering === undefined ? recording : { ...recording, ordering: undefined };
  return diagnose([{ recording: single, trials: [trial] }], options).recordings[0].trials[0];
}

/**
 * Judges recordings: every trial, every lead order, and what to do. Recordings that name the same motor are taken together.
 *
 * Pure; bad data gives `undetermined`, never an exception.
 *
 * @example
 * const inputs = recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials }));
 * const { orderings, advice } = diagnose(inputs);
 * orderings.filter((order) => order.usable).map((order) => order.ordering); // => ["UVW"]
 */
export function diagnose(inputs: readonly DiagnosisInput[], options: DiagnoseOptions = {}): Diagnosis {
  return diagnoseJudged(
    inputs.map((input) => judgeAlone(input, options.priors)),
    options,
  );
}

/** The first pass: one recording by itself. */
export function judgeAlone(
  { recording, trials }: DiagnosisInput,
  priors: DiagnoseOptions["priors"],
): JudgedRecording {
  return judgeRecording(recording, trials, priorsOf(priors), {});
}

function priorsOf(given: DiagnoseOptions["priors"]): ReadonlyMap<CauseCode, number> {
  return new Map<CauseCode, number>(causes.map(({ code, prior }) => [code, given?.[code] ?? prior]));
}

/** The second pass: recordings that were judged by themselves, each with what the others of its motor say. It needs no columns. */
export function diagnoseJudged(first: readonly JudgedRecording[], options: DiagnoseOptions = {}): Diagnosis {
  const priors = priorsOf(options.priors);
  // Second pass: what the other orders of the same motor say.
  const groups = groupByMotor(first);
  const second = first.map((judged) => {
    const group = groups.get(motorOf(judged)) as JudgedRecording[];
    return refine(judged, group, priors);
  });
  const regrouped = groupByMotor(second.map(({ judged }) => judged));
  const recordings = second.map(({ judged, background }) =>
    recordingVerdict(judged, background, regrouped.get(motorOf(judged)) as JudgedRecording[]),
  );
  const orderings = judgeOrders(second.map(({ judged }) => judged));
  const { advice, nextTest } = adviceFor(
    second.map(({ judged }) => judged),
    options,
  );
  return {
    schemaVersion: 2,
    version: options.version ?? "",
    recordings,
    orderings,
    advice,
    ...(nextTest ? { nextTest } : {}),
    problems: options.problems ?? [],
  };
}

const motorOf = (judged: JudgedRecording): string => judged.recording.motor ?? "";

function groupByMotor(list: readonly JudgedRecording[]): Map<string, JudgedRecording[]> {
  const groups = new Map<string, JudgedRecording[]>();
  for (const judged of list) {
    const key = motorOf(judged);
    const group = groups.get(key);
    if (group) group.push(judged);
    else groups.set(key, [judged]);
  }
  return groups;
}

/** Watches, measures and weighs all trials of one recording. */
function judgeRecording(
  recording: Recording,
  trials: readonly Trial[],
  priors: ReadonlyMap<CauseCode, number>,
  given: Background,
): JudgedRecording {
  const candidates = mismatchCandidates(recording);
  // Nothing is commanded at rest, nor in a coast-down beside declared trials: there is nothing to judge.
  const declared = trials.some((trial) => trial.source === "declared");
  const used = trials.filter(
    (trial) => trial.kind !== "idle" && !(declared && trial.kind === "coast" && trial.source === "found"),
  );
  const hands = used.map((trial) =>
    trial.kind === "alignment-sweep"
      ? judgeSweep(recording, trial)
      : trial.kind === "hand-turn"
        ? judgeHandTurn(recording, trial)
        : undefined,
  );
  const swept = hands.find((hand) => hand?.mismatch !== undefined)?.mismatch;
  const { machine } = recording;
  const stated =
    machine.torqueConstant !== undefined && machine.inertia !== undefined && machine.inertia > 0
      ? {
          value: machine.torqueConstant / machine.inertia,
          error: 0.3,
          from: "the stated torque constant and inertia",
        }
      : undefined;
  const background: Background = {
    ...(stated ? { fullGain: stated } : {}),
    ...given,
    ...(swept ? { sweepMismatch: swept } : {}),
  };
  const judged: JudgedTrial[] = used.map((trial, k) => {
    const observation = observe(recording, trial);
    const hand = hands[k];
    if (hand)
      return {
        observation,
        measures: {},
        hand,
        weighed: weighHand(recording, hand, trial.kind === "alignment-sweep"),
      };
    const measures = measure(recording, observation, candidates);
    return { observation, measures, weighed: weigh(recording, observation, measures, background) };
  });
  return combine(recording, judged, priors);
}

/** Adds up the log likelihoods of a recording's trials: they share wiring, settings and offset. */
function combine(
  recording: Recording,
  trials: readonly JudgedTrial[],
  priors: ReadonlyMap<CauseCode, number>,
): JudgedRecording {
  const torque = trials.filter(({ observation, hand }) => hand || observation.trial.kind === "torque");
  const { logs, offsets } = together(trials);
  const { logs: torqueLogs, offsets: torqueOffsets } = together(torque);
  return {
    recording,
    trials,
    odds: oddsOf(logs, priors),
    torqueOdds: oddsOf(torqueLogs, priors),
    logs,
    offsets,
    torqueOffsets,
  };
}

/** Judges a recording again with what the other orders of its motor say: a sound order's gain, and the priors the set leaves. */
function refine(
  judged: JudgedRecording,
  group: readonly JudgedRecording[],
  priors: ReadonlyMap<CauseCode, number>,
): { judged: JudgedRecording; background: Background } {
  const others = group.filter((other) => other !== judged);
  const own = soundGain(judged);
  let full: Background["fullGain"];
  for (const other of others) {
    const gain = soundGain(other);
    if (gain && (!full || gain.error < full.error) && other.recording.ordering !== judged.recording.ordering)
      full = gain;
  }
  const background: Background = full ? { fullGain: full } : {};
  const adjusted = setPriors(judged, others, priors);
  let next = judged;
  if (full && !(own && own.value >= 0.8 * full.value)) {
    const trials = judged.trials.map((trial) =>
      trial.weighed && !trial.hand
        ? {
            ...trial,
            weighed: weigh(judged.recording, trial.observation, trial.measures, {
              ...background,
              ...sweepOf(judged),
            }),
          }
        : trial,
    );
    next = combine(judged.recording, trials, adjusted);
  } else next = combine(judged.recording, judged.trials, adjusted);
  return { judged: next, background };
}

function sweepOf(judged: JudgedRecording): Background {
  const mismatch = judged.trials.find((trial) => trial.hand?.mismatch)?.hand?.mismatch;
  return mismatch ? { sweepMismatch: mismatch } : {};
}

/** Acceleration per ampere of a recording that is most likely sound. */
function soundGain(judged: JudgedRecording): Background["fullGain"] {
  const sound = (judged.odds.get("nothing-wrong") ?? 0) + (judged.odds.get("speed-loop-mistuned") ?? 0);
  if (sound < 0.5) return undefined;
  for (const { observation } of judged.trials) {
    const { law, trial } = observation;
    if (trial.kind !== "torque" || observation.behaviour !== "turns" || observation.sense !== "with")
      continue;
    if (!law || law.unexplained > 0.2 || law.direct <= 0) continue;
    if (observation.signals.effortRole !== "current") continue;
    return {
      value: law.direct,
      error: Math.hypot(law.error / law.direct, 0.05),
      from: judged.recording.ordering ? `order ${judged.recording.ordering}` : "another recording",
    };
  }
  return undefined;
}

/**
 * Priors after a look at the other orders: a sound order excludes wrong settings everywhere, exchanged leads in its own
 * group of three and anything but exchanged leads in the other; a set in which neither group works speaks for what is common to all.
 */
function setPriors(
  judged: JudgedRecording,
  others: readonly JudgedRecording[],
  priors: ReadonlyMap<CauseCode, number>,
): ReadonlyMap<CauseCode, number> {
  const order = judged.recording.ordering;
  if (order === undefined) return priors;
  let same = 0;
  let opposite = 0;
  let sameTried = false;
  const settings: CauseCode[] = ["pole-pairs-wrong", "line-count-wrong", "line-count-quadrature"];
  /** Odds in the other orders of each fault that all orders share, and that an order of the other group is blocked by one of them. */
  const common: CauseCode[] = ["open-lead", "jam", "current-not-following", "sensor-fault"];
  const elsewhere = new Map<CauseCode, number>([...settings, ...common].map((code) => [code, 0]));
  let oppositeSet = 0;
  let oppositeTried = false;
  for (const other of others) {
    const ordering = other.recording.ordering;
    if (ordering === undefined || ordering === order) continue;
    // An order in which the shaft turned has n = 0.
    const turned = other.trials.some(
      ({ observation: o }) =>
        (o.behaviour === "turns" || o.behaviour === "follows" || o.behaviour === "runs-away") &&
        o.confidence > 0.9,
    );
    let sum = 0;
    for (const code of offsetCauses) sum += other.odds.get(code) ?? 0;
    const evidence = turned ? sum : 0;
    const set = settings.reduce((total, code) => total + (other.odds.get(code) ?? 0), 0);
    if (parity(ordering) !== parity(order)) oppositeSet = Math.max(oppositeSet, set);
    for (const code of elsewhere.keys())
      elsewhere.set(code, Math.max(elsewhere.get(code) as number, other.odds.get(code) ?? 0));
    if (parity(ordering) === parity(order)) {
      same = Math.max(same, evidence);
      sameTried = true;
    } else {
      opposite = Math.max(opposite, evidence);
      oppositeTried = true;
    }
  }
  const out = new Map(priors);
  const scale = (code: CauseCode, factor: number): void => {
    out.set(code, (out.get(code) as number) * factor);
  };
  const any = Math.max(same, opposite);
  for (const code of settings) scale(code, 1 - 0.98 * any);
  // A number set wrong is wrong in every order: where the other three show it, these three are blocked by both faults at once.
  if (any < 0.3) {
    for (const code of settings) scale(code, 1 + 25 * (elsewhere.get(code) as number) ** 2);
    scale("leads-exchanged", 1 - 0.95 * oppositeSet ** 2);
    // So are an open lead, a held shaft, a drive without current and a bad encoder: what one order shows plainly, the others have too.
    for (const code of common) scale(code, 1 + 12 * (elsewhere.get(code) as number) ** 2);
  }
  for (const code of ["sensor-fault", "open-lead", "current-not-following"] as const)
    scale(code, 1 - 0.6 * any);
  // The same shaft turned in another order: it was free and light enough then.
  scale("jam", 1 - 0.5 * any);
  scale("load-or-friction", 1 - 0.8 * any);
  scale("leads-exchanged", Math.max(0.02, 1 - 0.98 * same));
  if (opposite > same) {
    scale("leads-exchanged", 1 + 5 * opposite);
    for (const code of offsetCauses) scale(code, 1 - 0.98 * opposite);
  }
  if (any < 0.3 && oppositeTried && (sameTried || others.length > 0)) {
    scale("leads-exchanged", 0.4);
    for (const code of [
      "pole-pairs-wrong",
      "line-count-wrong",
      "line-count-quadrature",
      "open-lead",
      "jam",
    ] as const)
      scale(code, 2.5);
  }
  return out;
}

function recordingVerdict(
  judged: JudgedRecording,
  background: Background,
  group: readonly JudgedRecording[],
): RecordingVerdict {
  const { recording } = judged;
  return {
    path: recording.path,
    ordering: recording.ordering ?? null,
    ...(recording.motor === undefined ? {} : { motor: recording.motor }),
    trials: judged.trials.map((trial) => trialVerdict(judged, trial, background, group)),
    findings: recording.findings,
  };
}

/** Verdict of the speed trial that belongs to the same order, in the recording itself or in another of the same motor. */
function speedSeen(judged: JudgedRecording, group: readonly JudgedRecording[]): VerdictWord | undefined {
  const of = (list: readonly JudgedTrial[]): VerdictWord | undefined =>
    list.find(
      ({ observation }) => observation.trial.kind === "speed" && observation.verdict !== "undetermined",
    )?.observation.verdict;
  const own = of(judged.trials);
  if (own || judged.recording.ordering === undefined) return own;
  for (const other of group)
    if (other.recording.ordering === judged.recording.ordering) {
      const seen = of(other.trials);
      if (seen) return seen;
    }
  return undefined;
}

function trialVerdict(
  judged: JudgedRecording,
  trial: JudgedTrial,
  background: Background,
  group: readonly JudgedRecording[],
): TrialVerdict {
  const { observation, hand } = trial;
  const base = {
    kind: observation.trial.kind,
    ...(observation.trial.conditions ? { conditions: observation.trial.conditions } : {}),
    start: observation.trial.start,
    end: observation.endAsCut ?? observation.trial.end,
  };
  if (hand) {
    // Cheap trials come first: what they say of the causes is shown with them, also where no torque trial was run.
    const told =
      hand.mismatch !== undefined ||
      hand.lineRatio !== undefined ||
      hand.frozen === true ||
      hand.verdict === "blocked";
    return {
      ...base,
      verdict: hand.verdict,
      confidence: hand.confidence,
      sense: hand.sense,
      evidence: hand.evidence,
      causes: told ? listCauses(judged.odds) : [],
      ...(told ? separation(judged, judged.odds) : {}),
      ...(hand.verdict === "undetermined" ? { missing: ["a command: this stretch drives nothing"] } : {}),
      text: hand.text,
    };
  }
  const driven = observation.trial.kind === "torque" || observation.trial.kind === "speed";
  const weighable = driven && trial.weighed !== undefined && observation.holds.some((h) => h.sense !== 0);
  const odds = weighable ? judged.odds : undefined;
  const listed = odds ? listCauses(odds) : [];
  const turned = judged.trials.some(
    ({ observation: o }) => o.trial.kind === "torque" && o.behaviour === "turns",
  );
  const chances = loopChances(judged.torqueOdds, judged.torqueOffsets, turned);
  // A shaft that only swings through a long rest angle can look as if it turned: the torque law knows.
  let mismatch = 0;
  if (odds)
    for (const code of [
      "leads-exchanged",
      "pole-pairs-wrong",
      "line-count-wrong",
      "line-count-quadrature",
    ] as const)
      mismatch += odds.get(code) ?? 0;
  const illusory = observation.trial.kind === "torque" && observation.behaviour === "turns" && mismatch > 0.8;
  const forecast = weighable
    ? forecastOf(judged.recording, observation, chances, speedSeen(judged, group))
    : undefined;
  const separated = odds ? separation(judged, odds) : undefined;
  return {
    ...base,
    verdict: illusory ? "undetermined" : observation.verdict,
    confidence: illusory ? 0.6 : observation.confidence,
    sense: illusory ? "none" : observation.sense,
    evidence: observation.evidence,
    causes: listed,
    ...(forecast ? { forecast } : {}),
    ...(odds && !illusory ? gainAndOffset(observation, odds, judged.offsets, background) : {}),
    ...(separated ?? {}),
    ...(illusory
      ? { missing: ["a command held longer: the acceleration says the shaft is on its way to a rest angle"] }
      : observation.missing.length > 0
        ? { missing: observation.missing }
        : {}),
    text: illusory
      ? `The shaft moved under the command, but its acceleration changed with the angle as when the drive's angle does not turn with the magnets. Hold the command longer.`
      : observation.text,
  };
}

function listCauses(odds: ReadonlyMap<CauseCode, number>): TrialVerdict["causes"] {
  return [...odds]
    .sort((a, b) => b[1] - a[1])
    .map(([code, probability]) => ({
      cause: code as string,
      probability,
      text: causeByCode.get(code)?.text ?? code,
    }));
}

/** Causes the log does not tell from the leading one, and what moved the odds between the two that lead. */
function separation(
  judged: JudgedRecording,
  odds: ReadonlyMap<CauseCode, number>,
): { inseparable?: readonly string[]; weights?: readonly EvidenceWeight[] } {
  const sorted = [...odds].sort((a, b) => b[1] - a[1]);
  const [top] = sorted[0];
  const best = judged.logs.get(top) as number;
  const alike = sorted
    .filter(
      ([code, p]) =>
        p > 0.01 && (judged.logs.get(code) as number) > best - Math.log(20) && code !== "unexplained",
    )
    .map(([code]) => code);
  const rival = sorted.find(([code]) => code !== top)?.[0];
  const weights: EvidenceWeight[] = [];
  if (rival)
    for (const { weighed } of judged.trials)
      for (const part of weighed?.parts ?? []) {
        const gap = (part.logs.get(top) as number) - (part.logs.get(rival) as number);
        if (Math.abs(gap) > 0.2)
          weights.push({
            finding: part.finding,
            factor: Math.exp(Math.min(12, Math.abs(gap))),
            favoured: gap > 0 ? top : rival,
            against: gap > 0 ? rival : top,
          });
      }
  weights.sort((a, b) => b.factor - a.factor);
  return {
    ...(alike.length > 1 ? { inseparable: alike } : {}),
    ...(weights.length > 0 ? { weights: weights.slice(0, 6) } : {}),
  };
}
