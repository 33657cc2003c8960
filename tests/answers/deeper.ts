/** Steps of judging and of fitting that no route shows alone: doubts of a verdict, windows, filters, torque laws, and
 * what each route writes into the book of constants. */
import { goesOn } from "../../lib/diagnosis/goesOn.js";
import { heldShare } from "../../lib/diagnosis/heldShare.js";
import { withoutCurrent } from "../../lib/diagnosis/likelihood.js";
import { measure } from "../../lib/diagnosis/measures.js";
import { mismatchCandidates } from "../../lib/diagnosis/mismatch.js";
import type { Observation } from "../../lib/diagnosis/observation.js";
import { observe } from "../../lib/diagnosis/observe.js";
import { holdsSteady, settles } from "../../lib/diagnosis/offsetEvidence.js";
import { openCommand } from "../../lib/diagnosis/openCommand.js";
import { openReadings } from "../../lib/diagnosis/openReadings.js";
import { positionOfOtherSense } from "../../lib/diagnosis/otherSense.js";
import { peak, pressedAtEnd } from "../../lib/diagnosis/speedHolds.js";
import { doubtStandstill, doubtWitness } from "../../lib/diagnosis/standstill.js";
import { standsBetweenSteps } from "../../lib/diagnosis/standstillDoubts.js";
import { drawnBefore, turnedBack, yielding } from "../../lib/diagnosis/torqueAccounts.js";
import { unlessByAngle } from "../../lib/diagnosis/torqueByAngle.js";
import { torqueTrialOf } from "../../lib/diagnosis/torqueTrial.js";
import { heedless, lawSureness } from "../../lib/diagnosis/torqueVotes.js";
import { Book } from "../../lib/identify/book.js";
import { fitTorqueLaw, weakFormOf, windowHalves } from "../../lib/identify/commutation/torqueLaw.js";
import { addDerived } from "../../lib/identify/derivedConstants.js";
import { addDcConstants } from "../../lib/identify/electrical/dc/dcConstants.js";
import { electricalFromVoltages } from "../../lib/identify/electrical/electrical.js";
import { backEmfFromPlateaus } from "../../lib/identify/electrical/plateau.js";
import {
  largestCurrent,
  noLoadCurrent,
  voltageLimited,
} from "../../lib/identify/electrical/plateauPoints.js";
import { resistanceAtStandstill } from "../../lib/identify/electrical/standstillResistance.js";
import { torqueFromTransducer } from "../../lib/identify/electrical/transducer.js";
import { backEmfFromVoltageLimit } from "../../lib/identify/electrical/voltageLimited.js";
import { likeliestLaw } from "../../lib/identify/loop/laggedLaws.js";
import { lawColumns } from "../../lib/identify/loop/lawColumns.js";
import { oneRowATread } from "../../lib/identify/loop/oneRowATread.js";
import { atLimit, trialColumns } from "../../lib/identify/loop/trialColumns.js";
import { windowedColumns } from "../../lib/identify/loop/windowedColumns.js";
import { behindFilter, overFilters } from "../../lib/identify/mechanical/behindFilter.js";
import { addBreakaway } from "../../lib/identify/mechanical/breakaway.js";
import { coarseRows } from "../../lib/identify/mechanical/coarseRows.js";
import { addCoastDown, coastStretches, withoutSpeedingUp } from "../../lib/identify/mechanical/coastDown.js";
import {
  drivenByFriction,
  fitMotion,
  frictionOverInertia,
  frictionOverInput,
  inertiaOverInput,
  type MotionFit,
} from "../../lib/identify/mechanical/equationOfMotion.js";
import { harmonicsFrom } from "../../lib/identify/mechanical/harmonicConstants.js";
import { harmonicsOf } from "../../lib/identify/mechanical/harmonics.js";
import { addJointConstants } from "../../lib/identify/mechanical/jointConstants.js";
import { mechanicalRows, samplesIn } from "../../lib/identify/mechanical/mechanicalRows.js";
import { addMotionConstants } from "../../lib/identify/mechanical/motionConstants.js";
import { turnedIntoRotor } from "../../lib/identify/mechanical/rotorCurrents.js";
import { steadyPoints } from "../../lib/identify/mechanical/steadyPoints.js";
import { steadyRoute } from "../../lib/identify/mechanical/steadyRoute.js";
import { stretchesOf } from "../../lib/identify/mechanical/stretches.js";
import { missingConstants } from "../../lib/identify/missingConstants.js";
import { type Signals, signalsOf } from "../../lib/identify/signals.js";
import type { Recording, Trial } from "../../lib/recording/types.js";
import { type Run, runOf } from "../../lib/run/run.js";
import type { Question } from "./routes.js";

const bare = ({ signals: _, trial: __, ...rest }: Observation): object => rest;

function ofTrial(name: string, run: Run, trial: Trial): Question[] {
  const seen = observe(run, trial);
  const { signals, holds } = seen;
  const { speed, angle, command } = signals;
  const moving = speed && angle ? { ...signals, speed, angle } : undefined;
  const torque = moving && torqueTrialOf(moving, holds, undefined);
  const some = holds.slice(0, 8);
  const still: Observation = { ...seen, verdict: "blocked", behaviour: "still" };
  const asked = (what: string, ask: () => unknown): Question => [`${name} ${what}`, ask];
  return [
    asked("goes-on", () => some.map((hold) => goesOn(signals, hold))),
    asked("held", () => command && [heldShare(command, holds), heldShare(command, some.slice(0, 2))]),
    asked("steady", () => [holdsSteady(seen), settles(seen), standsBetweenSteps(signals)]),
    asked("currentless", () => withoutCurrent(seen, measure(run, seen, mismatchCandidates(run.recording)))),
    asked("other-sense", () => positionOfOtherSense(run, trial)),
    asked("doubted", () => [seen, still].map((one) => bare(doubtStandstill(run, one, trial)))),
    asked("witness", () => [seen, still].map((one) => bare(doubtWitness(run, one)))),
    asked("by-angle", () =>
      (["tracking", "reversed", "undetermined"] as const).map((verdict) =>
        bare(unlessByAngle({ ...seen, verdict }, signals, holds) as Observation),
      ),
    ),
    asked("holds", () => speed && some.map((hold) => [peak(speed, hold), pressedAtEnd(signals, hold)])),
    asked("drawn", () => speed && drawnBefore({ ...signals, speed }, holds)),
    asked(
      "back",
      () => moving && some.map((hold) => [turnedBack(moving, hold, 1), turnedBack(moving, hold, -1)]),
    ),
    asked(
      "yields",
      () =>
        moving &&
        (command ?? signals.effort) &&
        [0.05, 0.5].map((longest) => yielding(moving, (command ?? signals.effort) as Float64Array, longest)),
    ),
    asked(
      "heedless",
      () => torque && some.map((hold) => [heedless(torque, hold, 1), heedless(torque, hold, -1)]),
    ),
    asked("laws", () => {
      const halves = windowHalves(signals, holds);
      const forms = halves
        .slice(0, 2)
        .flatMap((half) => [
          weakFormOf(signals, holds, half, true, 200, false),
          weakFormOf(signals, holds, half, false, 60, true),
        ]);
      return [
        halves,
        ...forms.map(
          (form) => form && [form, fitTorqueLaw(form, [0, 0.5, 1, 2]).map((law) => [law, lawSureness(law)])],
        ),
      ];
    }),
    asked("columns", () => {
      const whole = trialColumns(run, trial);
      const law = whole && lawColumns(run, trial, whole);
      return (
        whole && [
          atLimit(whole),
          atLimit(whole, 2),
          windowedColumns(whole),
          windowedColumns(whole, 2),
          oneRowATread(whole, undefined),
          oneRowATread(whole, 0.004),
          law && [true, false].map((own) => likeliestLaw(law, own)),
        ]
      );
    }),
  ];
}

/** What a route writes into the book. */
const written = (write: (book: Book) => unknown): object => {
  const book = new Book();
  const told = write(book);
  return {
    told: told instanceof Object && "motion" in told ? undefined : told,
    routes: book.routes,
    findings: book.findings,
    missing: book.missing,
  };
};

const shown = (fit: MotionFit | null) =>
  fit && [
    inertiaOverInput(fit),
    drivenByFriction(fit),
    ...(["coulomb", "viscous"] as const).flatMap((what) => [
      frictionOverInertia(fit, what),
      frictionOverInput(fit, what),
    ]),
    frictionOverInput(fit, "load"),
  ];

function ofMotion(name: string, run: Run, signals: Signals): Question[] {
  const { recording, trials } = run;
  const stretches = trials.flatMap(stretchesOf);
  const top = signals.motion.speed.reduce((most, v) => Math.max(most, Math.abs(v)), 0);
  const input = signals.input?.data;
  const steady = (input && steadyPoints(signals, stretches, input)) ?? [];
  const limited = { leastSpeed: 0.05 * top };
  const asked = (what: string, ask: () => unknown): Question => [`${name} ${what}`, ask];
  return [
    asked("coarse", () => [coarseRows(signals, stretches, 0), coarseRows(signals, stretches, 0.1 * top)]),
    asked("filter", () => {
      const solve = (rows: Parameters<typeof fitMotion>[0]) => fitMotion(rows, "driven", "apart");
      const parts = behindFilter(signals, (of) => mechanicalRows(of, stretches, limited), solve);
      return [
        parts.map(({ rows, weight }) => [weight, rows.length, samplesIn(rows)]),
        shown(overFilters(parts, solve)),
      ];
    }),
    asked("motion", () =>
      (["driven", "coast"] as const).map((form) =>
        shown(fitMotion(mechanicalRows(signals, stretches, limited), form, "pooled")),
      ),
    ),
    asked("harmonics", () => [
      harmonicsOf(signals, stretches, { leastSpeed: 0.1 * top, inertiaRatio: 1e-3 }),
      harmonicsOf(signals, stretches, { leastSpeed: 0, inertiaRatio: 0.1 }),
    ]),
    asked("harmonics-book", () => written((book) => harmonicsFrom(signals, trials, book))),
    asked("rotor", () => written((book) => turnedIntoRotor(run, signals, book))),
    asked("slowing", () =>
      written((book) => withoutSpeedingUp(signals, coastStretches(run, signals, trials), book).length),
    ),
    asked("coast", () =>
      written((book) =>
        shown(addCoastDown(mechanicalRows(signals, stretches, limited), {} as never, "speed", book)),
      ),
    ),
    asked("limit", () => written((book) => backEmfFromVoltageLimit(run, signals, stretches, book))),
    asked("limit-alone", () =>
      written((book) => backEmfFromVoltageLimit(run, signals, stretches, book, false)),
    ),
    asked("plateaus", () => [
      largestCurrent(signals),
      voltageLimited(run, signals, steady).length,
      written((book) => noLoadCurrent(signals, steady, book)),
      written((book) => backEmfFromPlateaus(run, steady, largestCurrent(signals), false, book)),
    ]),
    asked("standstill", () => written((book) => resistanceAtStandstill(run, signals, trials, book))),
    asked("transducer", () => written((book) => torqueFromTransducer(run, signals, trials, book))),
    asked("breakaway", () => written((book) => addBreakaway(signals, trials, book))),
    asked("joint", () => written((book) => addJointConstants(recording, signals, trials, book))),
    asked("steady-route", () =>
      (["torque", "current"] as const).map((kind) =>
        written((book) => steadyRoute(signals, steady, 0.05 * top, kind, book)),
      ),
    ),
    asked("motion-book", () =>
      [0.05, 0.3].map((leastSpeedShare) =>
        written((book) =>
          addMotionConstants(
            { run, signals, trials, turning: trials, steady },
            { leastSpeedShare, modelErrors: leastSpeedShare < 0.1 },
            book,
          ),
        ),
      ),
    ),
  ];
}

/** The steps of one recording, `k`-th of its case. */
export function deeperIn(recording: Recording, stated: readonly Trial[] | undefined, k: number): Question[] {
  const run = runOf(recording, stated);
  const signals = signalsOf(run);
  const name = `${k + 1}d`;
  return [
    ...run.trials.slice(0, 3).flatMap((trial, j) => ofTrial(`${k + 1}d${j + 1}`, run, trial)),
    [
      `${name} voltages`,
      () => [
        written((book) => electricalFromVoltages(run, book)),
        written((book) => electricalFromVoltages(run, book, false)),
      ],
    ],
    [`${name} dc`, () => written((book) => addDcConstants(run.recording, run.trials, book))],
    [
      `${name} missing`,
      () =>
        [true, false].map((motion) =>
          written((book) => {
            addDerived(run.recording, book);
            missingConstants(run.recording, run.trials, motion, book);
          }),
        ),
    ],
    [
      `${name} open`,
      () => [
        openCommand(run.recording),
        openCommand(run.recording, 0.2),
        openReadings(run.recording, () => true).map(({ readings, ...rest }) => [
          rest,
          readings.map(({ weight, words }) => [weight, words]),
        ]),
      ],
    ],
    ...(signals ? ofMotion(name, run, signals) : []),
  ];
}
