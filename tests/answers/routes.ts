/**
 * Numbers of the inner steps of judging and of fitting, which the answers to whole recordings leave out: every trial is
 * shown to the judges of every kind of trial, and every route to a constant is gone alone, whether or not the log as a
 * whole would have it gone.
 */

import { judgeSweep } from "../../lib/diagnosis/alignmentSweep.js";
import { fallsBack } from "../../lib/diagnosis/fallsBack.js";
import { handBackEmf } from "../../lib/diagnosis/handBackEmf.js";
import { judgeHandTurn } from "../../lib/diagnosis/handTurn.js";
import { healthBounds, surest } from "../../lib/diagnosis/healthBounds.js";
import { trialLikelihood } from "../../lib/diagnosis/likelihood.js";
import { picturesOf } from "../../lib/diagnosis/likePicture.js";
import { measure } from "../../lib/diagnosis/measures.js";
import { lawLog, mismatchCandidates, mismatchLikelihood } from "../../lib/diagnosis/mismatch.js";
import { type Observation, observe } from "../../lib/diagnosis/observe.js";
import { observeHeld } from "../../lib/diagnosis/observeHeld.js";
import { observeMotion } from "../../lib/diagnosis/observeMotion.js";
import { observePosition } from "../../lib/diagnosis/observePosition.js";
import { observeSpeed } from "../../lib/diagnosis/observeSpeed.js";
import { observeSteps } from "../../lib/diagnosis/observeSteps.js";
import { observeTorque } from "../../lib/diagnosis/observeTorque.js";
import { observeVoltage } from "../../lib/diagnosis/observeVoltage.js";
import { judgeOpenInput } from "../../lib/diagnosis/openInput.js";
import { signsOf } from "../../lib/diagnosis/signs.js";
import { speedByDrive } from "../../lib/diagnosis/speedByDrive.js";
import { judgeHold } from "../../lib/diagnosis/speedHolds.js";
import { makesTorque, movedByItself, notTried } from "../../lib/diagnosis/standstillDoubts.js";
import { unlessTooShort } from "../../lib/diagnosis/standstillTime.js";
import { loopOfKind } from "../../lib/diagnosis/tables/motion.js";
import {
  byAcceleration,
  byWholeTrial,
  givesWay,
  movesAsInertia,
  stillUnderWay,
  sways,
  swungUnderOne,
  twists,
  wandered,
} from "../../lib/diagnosis/torqueAccounts.js";
import { blocked, waves } from "../../lib/diagnosis/torqueAtRest.js";
import { torqueByAngle } from "../../lib/diagnosis/torqueByAngle.js";
import { endSpeeds, lawEvidence, travelAndCurrent } from "../../lib/diagnosis/torqueEvidence.js";
import { changesAllTheTime, goesOneWay, keptSpeed, torqueTrialOf } from "../../lib/diagnosis/torqueTrial.js";
import { castVotes } from "../../lib/diagnosis/torqueVotes.js";
import { judgeUnclocked } from "../../lib/diagnosis/unclocked.js";
import { judgeUnscaled } from "../../lib/diagnosis/unscaled.js";
import { bestDirectFit } from "../../lib/identify/commutation/torqueLaw.js";
import { torqueSign } from "../../lib/identify/commutation/torqueSign.js";
import { backEmfVector } from "../../lib/identify/electrical/backEmfVector.js";
import { dcInputOf } from "../../lib/identify/electrical/dc/dcInput.js";
import { dcResponse } from "../../lib/identify/electrical/dc/dcResponse.js";
import { staticCurve } from "../../lib/identify/electrical/dc/staticCurve.js";
import { voltageEquations } from "../../lib/identify/electrical/voltageEquations.js";
import { voltageLimitOf } from "../../lib/identify/electrical/voltageLimit.js";
import { voltageRows } from "../../lib/identify/electrical/voltageRows.js";
import { currentLoopFromTrial } from "../../lib/identify/loop/currentLoopFromTrial.js";
import { currentShortfall } from "../../lib/identify/loop/currentShortfall.js";
import { gainsOfTrial } from "../../lib/identify/loop/gainsFromSteps.js";
import { growthFromTrial } from "../../lib/identify/loop/growthFromTrial.js";
import { identifyGains } from "../../lib/identify/loop/identifyGains.js";
import { lawColumns } from "../../lib/identify/loop/lawColumns.js";
import { sampleTimeFromTrial } from "../../lib/identify/loop/sampleTimeFromTrial.js";
import { speedLagFromTrial } from "../../lib/identify/loop/speedLagFromTrial.js";
import { torqueShortfall } from "../../lib/identify/loop/torqueShortfall.js";
import { missingColumns, trialColumns } from "../../lib/identify/loop/trialColumns.js";
import { coastStretches } from "../../lib/identify/mechanical/coastDown.js";
import { fitMotion } from "../../lib/identify/mechanical/equationOfMotion.js";
import { mechanicalRows } from "../../lib/identify/mechanical/mechanicalRows.js";
import { frictionFromSteadyPoints } from "../../lib/identify/mechanical/steadyFriction.js";
import { steadyPoints } from "../../lib/identify/mechanical/steadyPoints.js";
import { stretchesOf } from "../../lib/identify/mechanical/stretches.js";
import { stribeckFrom } from "../../lib/identify/mechanical/stribeck.js";
import { torqueBySense } from "../../lib/identify/mechanical/torqueBySense.js";
import { signalsOf, withTorqueCommand, withTorqueInput } from "../../lib/identify/signals.js";
import { stepsOfTrial } from "../../lib/identify/steps/fitSteps.js";
import type { Recording, Trial } from "../../lib/recording/types.js";
import { holdsOf } from "../../lib/run/holds.js";
import { type Run, runOf } from "../../lib/run/run.js";
import { trialSignals } from "../../lib/run/trialSignals.js";
import { answerLines, lettersOf } from "./answerLines.js";
import type { Case } from "./cases.js";

/** A question under its name. */
export type Question = readonly [string, () => unknown];

const asked = (name: string, questions: Readonly<Record<string, () => unknown>>): Question[] =>
  Object.entries(questions).map(([what, ask]) => [`${name} ${what}`, ask]);

/** Lines of the answers, by default at length; an error is an answer as well. */
export const answersTo = (questions: readonly Question[], told = answerLines): string[] =>
  questions.flatMap(([name, ask]) => {
    try {
      return told(name, ask());
    } catch (error) {
      return [`${name}: thrown ${error instanceof Error ? error.message : String(error)}`];
    }
  });

/** What a judge says, without the columns. */
function bare(seen: object | undefined): object | undefined {
  if (seen === undefined) return undefined;
  const { signals: _, trial: __, ...rest } = seen as Record<string, unknown>;
  return rest;
}

/** Every judge of a trial, whatever its kind. */
function judges(name: string, run: Run, trial: Trial): Question[] {
  const signals = trialSignals(run, trial);
  const levels = signals.command ?? signals.effort;
  const holds = levels ? holdsOf(signals, trial, levels) : [];
  const law = bestDirectFit(signals, holds);
  const { speed, angle } = signals;
  const seen: Observation = observe(run, trial);
  const moving = speed && angle ? { ...signals, speed, angle } : undefined;
  const torque = moving && torqueTrialOf(moving, holds, law);
  const top = speed ? Math.max(...speed.map(Math.abs)) : 0;
  return [
    ...asked(name, {
      holds: () => holds,
      law: () => law,
      "as torque": () => bare(observeTorque(signals, holds, law)),
      "as speed": () => bare(observeSpeed(signals, holds, undefined)),
      "as steps": () => signals.command && bare(observeSteps(signals, holds)),
      "as position": () => bare(observePosition(signals, signals.effort)),
      "as position that wraps": () => bare(observePosition(signals, undefined, 2 * Math.PI)),
      "as voltage": () => bare(observeVoltage(run, trial, signals)),
      "as held": () => bare(observeHeld(run, trial, signals)),
      "as motion": () => bare(observeMotion(trial, signals)),
      "by drive": () => bare(speedByDrive(signals, law)),
      "as sweep": () => judgeSweep(run, trial),
      "as hand turn": () => judgeHandTurn(run, trial),
      "back-EMF": () => angle && handBackEmf(run, trial, angle),
      signs: () => signsOf(run, seen),
      "falls back": () => bare(fallsBack(run, { ...seen, holds })),
      "too short": () =>
        bare(unlessTooShort(run, { ...seen, holds, verdict: "blocked", behaviour: "still" })),
      doubts: () => ({
        sure: surest(run, seen),
        itself: movedByItself({ ...seen, holds }),
        torque: makesTorque(run, seen),
        untried: notTried(run, seen),
        sways: [1e-3, 0.1, 3].map((way) => sways(signals, way)),
        kept: speed && keptSpeed(speed, signals.speedNoise),
      }),
      "speed of holds": () =>
        signals.command && speed && holds.slice(0, 6).map((hold) => judgeHold(signals, hold, top)),
    }),
    ...(torque
      ? asked(name, {
          torque: () => ({
            votes: castVotes(torque),
            changing: changesAllTheTime(torque),
            "one way": goesOneWay(torque),
            inertia: movesAsInertia(torque),
            "under way": stillUnderWay(torque),
            wandered: wandered(torque),
            swung: holds.slice(0, 12).map((hold) => swungUnderOne(torque.signals, hold)),
            evidence: [
              ...travelAndCurrent(torque),
              ...endSpeeds(torque),
              ...(law ? [lawEvidence(law, signals)] : []),
            ],
          }),
          whole: () => bare(byWholeTrial(torque, [])),
          acceleration: () => bare(byAcceleration(torque, [])),
          yields: () => bare(givesWay(torque, [])),
          twists: () => bare(twists(torque, [])),
          waves: () => bare(waves(torque, [])),
          blocked: () => bare(blocked(torque, [])),
          angle: () => torqueByAngle(torque.signals, torque.driven),
        })
      : []),
    ...weighed(name, run, { ...seen, holds }),
  ];
}

/** What a trial says of the causes, whatever it was judged. */
function weighed(name: string, run: Run, seen: Observation): Question[] {
  const candidates = mismatchCandidates(run.recording);
  const measures = measure(run, seen, candidates);
  const mismatches = [0, 0.5, 1, 2, 5];
  return asked(name, {
    measures: () => measures,
    offsets: () =>
      (["turns", "locks", "still", "swings", "runs-away"] as const).map((behaviour) => {
        const said = trialLikelihood(run.recording, { ...seen, behaviour } as Observation, measures);
        return { offsets: said && [...said.offsets], ...said?.acceleration };
      }),
    mismatches: () =>
      loopOfKind[seen.trial.kind] && {
        law: mismatches.map((n) => lawLog(measures, n)),
        chance: mismatches.slice(1).map((n) => mismatchLikelihood(seen, measures, n)),
        rubbed: mismatches.slice(1).map((n) => mismatchLikelihood(seen, measures, n, 0.2)),
      },
  });
}

/** Every route of a trial to gains of its loop. */
const loops = (name: string, run: Run, trial: Trial): Question[] =>
  asked(name, {
    gains: () => identifyGains(run, trial),
    "gains of steps": () => gainsOfTrial(run, trial),
    growth: () => growthFromTrial(run, trial),
    "current loop": () => currentLoopFromTrial(run, trial),
    period: () => sampleTimeFromTrial(run, trial),
    shortfall: () => [currentShortfall(run, trial, 1), currentShortfall(run, trial, -1)],
    columns: () => {
      const whole = trialColumns(run, trial);
      return whole && { whole, law: lawColumns(run, trial, whole) };
    },
    steps: () => stepsOfTrial(run, trial).map(({ trial: _, ...step }) => step),
  });

/** Routes to the constants of the whole recording. */
function constants(name: string, run: Run): Question[] {
  const { recording, trials } = run;
  const signals = signalsOf(run);
  const stretches = trials.flatMap(stretchesOf);
  const top = signals ? signals.motion.speed.reduce((most, v) => Math.max(most, Math.abs(v)), 0) : 0;
  const input = signals?.input?.data;
  return asked(name, {
    health: () => healthBounds(run),
    sense: () => [torqueSign(run), torqueShortfall(run, 1), torqueShortfall(run, -1)],
    missing: () => missingColumns(run),
    lag: () => speedLagFromTrial(run),
    equations: () => [voltageEquations(run), voltageEquations(run, false)],
    vector: () => [backEmfVector(run), backEmfVector(run, false)],
    limit: () => voltageLimitOf(run),
    dc: () => {
      const found = dcInputOf(recording, trials);
      return found && { found, curve: staticCurve(found.values, found.speed) };
    },
    "dc response": () => {
      const found = dcInputOf(recording, trials);
      return (
        found &&
        dcResponse({ time: run.time.subarray(found.from, found.to), input: found.values, speed: found.speed })
      );
    },
    senses: () => torqueBySense(run, 3),
    unclocked: () => judgeUnclocked(recording)?.map(({ observation }) => bare(observation)),
    unscaled: () => judgeUnscaled(recording)?.map(({ observation }) => bare(observation)),
    open: () => judgeOpenInput(recording)?.map(({ observation }) => bare(observation)),
    alike: () => trials.map(picturesOf(recording, trials)),
    ...(signals && {
      signals: () => ({
        ...signals,
        torque: withTorqueInput(run, signals)?.input,
        asked: withTorqueCommand(run, signals)?.input,
      }),
      coasts: () => coastStretches(run, signals, trials),
      rows: () => voltageRows(run, signals),
      motion: () => {
        const rows = mechanicalRows(signals, stretches, { leastSpeed: 0.05 * top });
        const even = mechanicalRows(signals, stretches, { leastSpeed: 0.2 * top, even: true });
        return [
          { rows },
          { rows: even },
          fitMotion(rows, "driven", "apart"),
          fitMotion(rows, "held", "loaded"),
          fitMotion(even, "coast", "pooled"),
        ];
      },
      friction: () => {
        const points = input ? steadyPoints(signals, stretches, input) : [];
        return [
          { points },
          frictionFromSteadyPoints(points),
          frictionFromSteadyPoints(points, 0.1),
          { fall: stribeckFrom(points) },
        ];
      },
    }),
  });
}

/** What every judge and every route is asked of one recording, `k`-th of its case. */
export function routesOf(recording: Recording, stated: readonly Trial[] | undefined, k: number): Question[] {
  const run = runOf(recording, stated);
  const trials = run.trials.slice(0, 4);
  return [
    ...trials.flatMap((trial, j) => [
      ...judges(`${k + 1}.${j + 1}`, run, trial),
      ...loops(`${k + 1}.${j + 1} loop`, run, trial),
    ]),
    ...constants(`${k + 1} routes`, run),
  ];
}

/** The same, in letters. */
export const inLetters = (questions: readonly Question[]): string[] =>
  answersTo(questions, (name, answer) => (answer === undefined ? [] : [`${name}: ${lettersOf(answer)}`]));

/** The routes of recordings that other cases give. */
export const routes = (of: readonly Case[]): readonly Case[] =>
  of.map(({ name, prepare, give }) => ({
    name: `routes: ${name}`,
    prepare,
    give,
    answer: async () => {
      const { recordings, trials } = await give();
      return recordings.flatMap((recording, k) => answersTo(routesOf(recording, trials?.[k], k)));
    },
  }));
