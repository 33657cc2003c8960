import { studentQuantile } from "../numeric/distributions/studentQuantile.js";
import { linearRegression } from "../numeric/linear/linearRegression.js";
import { quantile } from "../numeric/series/median.js";
import type { Recording, Trial } from "../recording/types.js";
import { type Run, runOf } from "../run/run.js";
import type { Estimate } from "../units/estimate.js";
import { intervalText, quantityText } from "../units/forPeople.js";
import { Book, intervalOf, magnitude } from "./book.js";
import { compareRoutes } from "./compareRoutes.js";
import { type AngleHarmonic, type Constants, constantNames, type Route } from "./constants.js";
import { addDcConstants } from "./electrical/dc/dcConstants.js";
import { electricalFromVoltages } from "./electrical/electrical.js";
import { backEmfFromPlateaus } from "./electrical/plateau.js";
import { resistanceAtStandstill } from "./electrical/standstillResistance.js";
import { travel } from "./electrical/travel.js";
import { controlPeriod } from "./electrical/voltageEquations.js";
import { backEmfFromVoltageLimit } from "./electrical/voltageLimited.js";
import { meanEstimate } from "./meanEstimate.js";
import { behindFilter, overFilters } from "./mechanical/behindFilter.js";
import { addBreakaway } from "./mechanical/breakaway.js";
import { coarseRows } from "./mechanical/coarseRows.js";
import { addCoastDown, coastStretches, type LeftInCoast, withoutSpeedingUp } from "./mechanical/coastDown.js";
import {
  type FrictionKind,
  fitMotion,
  frictionOverInertia,
  frictionOverInput,
  type InputErrors,
  inertiaOverInput,
  type MotionFit,
} from "./mechanical/equationOfMotion.js";
import { harmonicsOf } from "./mechanical/harmonics.js";
import { addJointConstants, isJointTrial } from "./mechanical/jointConstants.js";
import { type MechanicalRow, mechanicalRows, samplesIn } from "./mechanical/mechanicalRows.js";
import { frictionFromSteadyPoints } from "./mechanical/steadyFriction.js";
import { type SteadyPoint, steadyPoints } from "./mechanical/steadyPoints.js";
import { stretchesOf } from "./mechanical/stretches.js";
import { stribeckFrom } from "./mechanical/stribeck.js";
import { missingConstants } from "./missingConstants.js";
import { currentError } from "./modelError.js";
import { combined, reciprocal } from "./quantity.js";
import { type Signals, signalsOf, valuesOf, withTorqueCommand, withTorqueInput } from "./signals.js";
import { withoutScale } from "./withoutScale.js";

/** Options of `estimateConstants`. */
export interface EstimateOptions {
  /** Least share of the largest speed at which friction is taken as Coulomb plus viscous; 0.05 when absent. */
  readonly leastSpeedShare?: number;
  /**
   * Enter what a sampled drive may put into its own log, and what is not known at the voltage limit, into the intervals
   * of constants from voltages (sizes in docs/constants.md); true when absent. False leaves the scatter alone: for a
   * log in which voltage and current are known to belong to one instant.
   */
  readonly modelErrors?: boolean;
}

/**
 * The constants of a motor from one recording: whatever its channels, trials and stated facts allow, each with an
 * interval, the convention it is in and the method. Never throws for poor data: what cannot be had is listed in
 * `missing`.
 *
 * Only trials in which the physics holds are used: the shaft must have turned (two turns at least) for friction and
 * inertia, a plateau must be limited by voltage for kv. Where commutation has an offset error, currents make only `g =
 * cos(offset error)` of their torque; ratios to the torque constant then carry `1/abs(g)` unless g is known from the dq
 * voltages.
 *
 * @param recording a recording in SI
 * @param trials its trials, as cut by `cutTrials`
 * @example
 * const { ratios, missing } = estimateConstants(recording, trials);
 * ratios.coulombOverInertia; // { value: 175, low: 169, high: 182, unit: "rad/s2", method: "coast-down, ...", ... }
 */
export function estimateConstants(
  recording: Recording,
  trials: readonly Trial[],
  options: EstimateOptions = {},
): Constants {
  return constantsOf(runOf(recording, trials), options);
}

/**
 * The constants of a run, estimated once and kept with it: what `estimateConstants` gives for its recording and trials.
 *
 * @example
 * constantsOf(run) === constantsOf(run); // => true
 */
export function constantsOf(run: Run, options: EstimateOptions = {}): Constants {
  return run.once(`constants ${JSON.stringify(options)}`, () => estimate(run, options));
}

function estimate(run: Run, options: EstimateOptions): Constants {
  const { recording, chosenTrials: trials } = run;
  const book = new Book();
  run.told?.("estimating constants", 0, 0);
  const signals = signalsOf(run);
  if (signals !== null) {
    const used = trials.filter((t) => t.to - t.from >= 24);
    const turning = used.filter(
      (t) =>
        (t.kind === "torque" || t.kind === "speed" || t.kind === "position" || t.kind === "coast") &&
        travel(signals.angle, t.from, t.to) > 4 * Math.PI &&
        !isJointTrial(signals, t),
    );
    addJointConstants(recording, signals, used, book);
    const modelErrors = options.modelErrors ?? true;
    electricalFromVoltages(run, book, modelErrors);
    resistanceAtStandstill(run, signals, used, book);
    torqueFromTransducer(run, signals, turning, book);
    const steady =
      signals.input === null
        ? []
        : steadyPoints(
            signals,
            turning.filter((t) => t.kind !== "coast").flatMap(stretchesOf),
            signals.input.data,
          );
    const plateaus = voltageLimited(run, signals, steady);
    const found = backEmfFromVoltageLimit(
      run,
      signals,
      turning.filter((t) => t.kind === "torque").flatMap(stretchesOf),
      book,
      modelErrors,
    );
    backEmfFromPlateaus(run, plateaus, largestCurrent(signals), found, book);
    noLoadCurrent(signals, plateaus, book);
    mechanicalFromMotion(run, signals, used, turning, steady, options, book);
    addBreakaway(signals, used, book);
    if (signals.spikes > Math.max(3, 5e-4 * recording.time.length))
      book.find(
        "note",
        "spikes-removed",
        `${signals.spikes} isolated outliers were taken out of the motion and current channels before estimating.`,
        { value: signals.spikes, unit: "1" },
      );
  }
  addDcConstants(recording, trials, book);
  derived(recording, book);
  const harmonics = signals === null ? [] : harmonicsFrom(signals, trials, book);
  compareRoutes(book);
  missingConstants(recording, trials, signals !== null, book);
  return withoutScale(collected(book, harmonics), run);
}

/** Sorts what the book holds into groups; of several routes the first is reported. */
function collected(book: Book, harmonics: readonly AngleHarmonic[]): Constants {
  const groups: Record<string, Record<string, Estimate>> = { electrical: {}, mechanical: {}, ratios: {} };
  const routes: Route[] = [];
  for (const quantity of new Set(book.routes.map((r) => r.quantity))) {
    const all = book.all(quantity);
    groups[constantNames[quantity].group][quantity] = all[0];
    for (const estimate of all) routes.push({ quantity, estimate });
  }
  return {
    electrical: groups.electrical,
    mechanical: groups.mechanical,
    ratios: groups.ratios,
    harmonics,
    routes,
    findings: book.findings,
    missing: book.missing,
  };
}

/** Cogging and ripple, in N m where a torque constant is known, else in A. */
function harmonicsFrom(signals: Signals, trials: readonly Trial[], book: Book): AngleHarmonic[] {
  const ratio = book.get("inertiaOverTorqueConstant");
  if (ratio === undefined || signals.input?.kind !== "current") return [];
  const kt = book.get("torqueConstant");
  const stretches = trials.filter((t) => t.kind === "torque" || t.kind === "speed").flatMap(stretchesOf);
  return harmonicsOf(signals, stretches, { leastSpeed: 0.5, inertiaRatio: ratio.value }).map((h) => {
    if (kt === undefined) return h;
    const amplitude = combined(h.amplitude, kt, "times", {
      ...h.amplitude,
      unit: "N.m",
      convention: `peak; current times Kt (${kt.method})`,
    });
    return amplitude === null ? h : { ...h, amplitude };
  });
}

/** Torque constant from a measured torque against the measured current. */
function torqueFromTransducer(run: Run, signals: Signals, trials: readonly Trial[], book: Book): void {
  const torque = valuesOf(run, "torque");
  const { input } = signals;
  if (torque === undefined || input === null || input.kind !== "current") return;
  const rows: number[][] = [];
  const response: number[] = [];
  const length = Math.max(8, Math.round(0.02 / signals.interval));
  for (const trial of trials) {
    for (let a = trial.from; a + length <= trial.to; a += length) {
      let i = 0;
      let t = 0;
      for (let k = a; k < a + length; k++) {
        i += input.data[k];
        t += torque[k];
      }
      if (!Number.isFinite(i) || !Number.isFinite(t)) continue;
      rows.push([i / length, 1]);
      response.push(t / length);
    }
  }
  const fit = linearRegression(rows, response);
  if (fit === null || fit.explained < 0.8) return;
  book.add("torqueConstant", {
    ...magnitude(intervalOf(fit, 0)),
    method: "measured torque against current",
    source: "measured-torque",
    convention: "N m per A of the current as logged; carries the torque gain g",
    samples: rows.length * length,
    channels: ["torque", "current"],
  });
}

/** Steady points of torque trials at which the measured current had fallen clearly below its command: no voltage was
 * left. */
function voltageLimited(run: Run, signals: Signals, steady: readonly SteadyPoint[]): SteadyPoint[] {
  const command = valuesOf(run, "currentCommand");
  if (command === undefined || signals.input?.kind !== "current") return [];
  return steady.filter((point) => {
    if (point.stretch.trial.kind !== "torque") return false;
    const m = meanEstimate(command.subarray(point.from, point.to));
    // A drive that has tripped shows a fallen current too: none.
    if (!(Math.abs(point.input) > 4 * point.inputError)) return false;
    return Math.abs(point.input) < 0.9 * Math.abs(m.mean) && Math.abs(m.mean) > 0;
  });
}

function largestCurrent(signals: Signals): number {
  if (signals.input === null) return 0;
  const { data } = signals.input;
  // Of a long log every so manieth row: the quantile of 200,000 is as good.
  const stride = Math.max(1, Math.ceil(data.length / 200_000));
  const sizes = new Float64Array(Math.ceil(data.length / stride));
  for (let k = 0; k < sizes.length; k++) sizes[k] = Math.abs(data[k * stride]);
  const most = quantile(sizes, 0.995);
  return Number.isFinite(most) ? most : 0;
}

function noLoadCurrent(signals: Signals, plateaus: readonly SteadyPoint[], book: Book): void {
  if (plateaus.length === 0) return;
  const values = plateaus.map((p) => Math.abs(p.input));
  const mean = values.reduce((s, x) => s + x, 0) / values.length;
  const own = Math.sqrt(plateaus.reduce((s, p) => s + p.inputError ** 2, 0)) / plateaus.length;
  const degrees = plateaus.reduce((s, p) => s + p.degreesOfFreedom, 0);
  const half = studentQuantile(0.975, degrees) * own;
  book.add("noLoadCurrent", {
    value: mean,
    low: mean - half,
    high: mean + half,
    method: `mean over ${plateaus.length} voltage-limited plateau${plateaus.length === 1 ? "" : "s"}`,
    convention: `A peak of i_q, at ${Math.round(plateaus.reduce((s, p) => s + Math.abs(p.speed), 0) / plateaus.length)} rad/s`,
    samples: plateaus.reduce((s, p) => s + p.samples, 0),
    channels: ["current", signals.angleChannel],
  });
}

function mechanicalFromMotion(
  run: Run,
  signals: Signals,
  trials: readonly Trial[],
  turning: readonly Trial[],
  steady: readonly SteadyPoint[],
  options: EstimateOptions,
  book: Book,
): void {
  const coasting = withoutSpeedingUp(signals, coastStretches(run, signals, trials), book);
  let peak = 0;
  for (const trial of [...turning, ...coasting])
    for (let i = trial.from; i < trial.to; i++) {
      const w = Math.abs(signals.motion.speed[i]);
      if (w > peak) peak = w;
    }
  if (!(peak > 0)) return;
  const leastSpeed = (options.leastSpeedShare ?? 0.05) * peak;
  const rowsOf = (s: Signals, kinds: readonly Trial["kind"][], where?: (i: number) => boolean) =>
    mechanicalRows(s, turning.filter((t) => kinds.includes(t.kind)).flatMap(stretchesOf), {
      leastSpeed,
      ...(where ? { where } : {}),
    });
  const angle = signals.angleChannel;
  const turned = turnedIntoRotor(run, signals, book);

  // Coast-down: no torque constant in it.
  const runDowns = mechanicalRows(signals, coasting, { leastSpeed });
  const left =
    options.modelErrors === false || runDowns.length === 0 ? { slowing: 0, speed: 1 } : leftInCoast();
  addCoastDown(runDowns, left, angle, book);

  // Measured torque: absolute values without a torque constant.
  const withTorque = withTorqueInput(run, signals);
  if (withTorque !== null) driven(withTorque, "torque", book);
  else if (signals.input === null) {
    const commanded = withTorqueCommand(run, signals);
    if (commanded !== null) driven(commanded, "torque", book);
  }
  if (turned.input !== null) driven(turned, "current", book);

  /**
   * What a current left in the coast-downs may do: a drive that holds its current at zero leaves a little of it, which
   * the log cannot tell from the sensor's offset. Its mean along the motion times Kt/J of the driven trials, rad/s2,
   * with the largest speed of the coast-downs.
   */
  function leftInCoast(): LeftInCoast {
    let sum = 0;
    let n = 0;
    let speed = 0;
    if (signals.input?.kind === "current")
      for (const t of coasting)
        for (let i = t.from; i < t.to; i += 1) {
          const w = signals.motion.speed[i];
          if (!(Math.abs(w) > leastSpeed) || !Number.isFinite(signals.input.data[i])) continue;
          sum += Math.sign(w) * signals.input.data[i];
          n += 1;
          speed = Math.max(speed, Math.abs(w));
        }
    if (n === 0) return { slowing: 0, speed: 1 };
    const byTorque = turning.some((t) => t.kind === "torque");
    const run = fitMotion(
      rowsOf(signals, byTorque ? ["torque"] : ["speed", "position"]),
      byTorque ? "driven" : "held",
      "pooled",
    );
    const inertia = run === null ? null : inertiaOverInput(run);
    const gain = inertia === null ? 0 : Math.abs(1 / inertia.value);
    return { slowing: Number.isFinite(gain) ? (gain * Math.abs(sum)) / n : 0, speed };
  }

  function driven(s: Signals, kind: "torque" | "current", into: Book): void {
    // Where only the command is known, the current follows it only while there is voltage to spare.
    const where =
      s.input?.kind === "currentCommand" || s.input?.kind === "torqueCommand"
        ? (i: number) => Math.abs(s.motion.speed[i]) < 0.5 * peak
        : undefined;
    const torqueTrials = turning.some((t) => t.kind === "torque");
    const kinds: Trial["kind"][] = torqueTrials ? ["torque"] : ["speed", "position"];
    const how = torqueTrials ? "driven" : "held";
    const angleError = s.input?.inRotor?.angleError ?? 0;
    const pairs = run.recording.machine.polePairs ?? run.recording.drive.polePairs ?? 4;
    const errors: InputErrors =
      kind === "current" && options.modelErrors !== false
        ? { angle: angleError, input: currentError, turn: pairs * controlPeriod }
        : { angle: angleError };
    const fitted = (friction: FrictionKind) => (r: readonly MechanicalRow[]) =>
      fitMotion(r, how, friction, errors);
    const windows = behindFilter(s, (signal) => rowsOf(signal, kinds, where), fitted("pooled"));
    // A log too coarse for windows is taken sample by sample.
    const driving = turning.filter((t) => kinds.includes(t.kind)).flatMap(stretchesOf);
    const single = windows[0].rows.length < fewWindows ? coarseRows(s, driving, leastSpeed) : [];
    const bySample = single.length >= fewWindows;
    const parts = bySample ? [{ rows: single, weight: 1 }] : windows;
    const apart = overFilters(parts, fitted("apart"));
    const loaded = apart !== null && differ(apart) ? overFilters(parts, fitted("loaded")) : null;
    const pooled = loaded ?? overFilters(parts, fitted("pooled"));
    if (pooled === null) return;
    if (pooled.regression.explained < 0.7) {
      into.find(
        "warning",
        "motion-unexplained",
        `Current, speed and acceleration fit the equation of motion poorly (${Math.round(100 * pooled.regression.explained)} % explained); inertia and friction are not taken from ${kinds[0]} trials.`,
        {
          value: pooled.regression.explained,
          unit: "1",
          meaning:
            "torque does not follow the current: commutation turns against the magnets, or a load acts",
        },
      );
      return;
    }
    const way = bySample ? "sample by sample (few samples to a run-up), weak" : "weak";
    trajectory(s, pooled, apart, kind, `regression over ${kinds[0]} trials, ${way}`, into);
    const points =
      s === signals
        ? steady
        : steadyPoints(
            s,
            turning.filter((t) => t.kind !== "coast").flatMap(stretchesOf),
            s.input!.data,
            s.input!.inRotor?.across,
          );
    const first = pooled.regression.coefficients[pooled.at.first!];
    const perAcceleration = pooled.form === "input" ? first : 1 / first;
    const load = loaded === null ? 0 : (frictionOverInput(loaded, "load")?.value ?? 0);
    steadyRoute(
      s,
      points.map((q) => ({ ...q, input: q.input - q.acceleration * perAcceleration - load })),
      2 * leastSpeed,
      kind,
      into,
    );
  }
}

/**
 * Windows below which their residuals tell nothing of their errors: two blocks of the regression.
 */
const fewWindows = 24;

/**
 * With the offset error known from the dq voltages and both currents logged, the currents are turned from the drive's
 * coordinates into the magnets', so that what drives the shaft is the current that makes torque, and no torque gain is
 * left in the ratios.
 */
function turnedIntoRotor(run: Run, signals: Signals, book: Book): Signals {
  const offset = book.get("offsetError");
  const id = valuesOf(run, "currentD");
  if (offset === undefined || id === undefined || signals.input?.kind !== "current") return signals;
  const angle = (offset.value * Math.PI) / 180;
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  const data = signals.input.data.map((iq, k) => iq * c + id[k] * s);
  const across = signals.input.data.map((iq, k) => id[k] * c - iq * s);
  const angleError = (((offset.high - offset.low) / 2 / 1.96) * Math.PI) / 180;
  if (c < 0)
    book.find(
      "warning",
      "torque-against-current",
      "The back-EMF points against the drive's quadrature axis.",
      {
        value: c,
        unit: "1",
        meaning: "the torque gain g is negative: a speed loop closed on this order runs away",
      },
    );
  const usable = signals.usable.map((u, k) => (Number.isFinite(data[k]) ? u : 0));
  return { ...signals, usable, input: { ...signals.input, data, inRotor: { across, angleError } } };
}

const carriesGain = "divided by Kt*abs(g), g the torque gain: 1 unless the offset of commutation is off";

const gainTakenOut = "divided by Kt; currents turned into the magnets' coordinates by the offset error found";

/** What ratios to the torque constant are ratios of, by where the currents were taken. */
function gainOf({ input }: Signals): Pick<Estimate, "convention" | "source"> {
  return input?.inRotor
    ? { convention: gainTakenOut, source: "driven-motion-in-rotor" }
    : { convention: carriesGain, source: "driven-motion" };
}

/** Inertia and friction from whole trajectories. */
function trajectory(
  signals: Signals,
  pooled: MotionFit,
  apart: MotionFit | null,
  kind: "torque" | "current",
  method: string,
  book: Book,
): void {
  const r = pooled.regression;
  const sign = Math.sign(r.coefficients[pooled.at.first!]);
  const inertia = inertiaOverInput(pooled);
  const channels = [signals.input!.kind, signals.angleChannel];
  const labels = {
    method: `${method} form of the equation of motion`,
    samples: samplesIn(pooled.rows),
    channels,
  };
  for (const [quantity, name] of [
    ["coulombOverInertia", "coulomb"],
    ["viscousOverInertia", "viscous"],
  ] as const) {
    const e = frictionOverInertia(pooled, name);
    book.add(quantity, e === null ? null : { ...e, ...labels });
  }
  if (inertia === null) return;
  if (frictionOverInput(pooled, "coulomb") === null)
    book.missing.push({
      quantity: kind === "current" ? "coulombOverTorqueConstant" : "coulombFriction",
      needs: "more of it at other speeds, turning both ways: too few rows tell friction from the rest",
    });
  if (sign < 0)
    book.find(
      "warning",
      "torque-against-current",
      `The shaft accelerates against the sense of its ${kind}.`,
      {
        meaning:
          kind === "current"
            ? "the torque gain g is negative: a speed loop closed on this order runs away"
            : "the torque channel has the opposite sign convention",
      },
    );
  const current = kind === "current";
  const with_ = current ? { ...labels, ...gainOf(signals) } : labels;
  type Interval = { value: number; low: number; high: number };
  const upright = (e: Interval | null): Interval | null =>
    e === null || sign > 0 ? e : { value: -e.value, low: -e.high, high: -e.low };
  const add = (q: Parameters<Book["add"]>[0], e: { value: number; low: number; high: number } | null): void =>
    book.add(q, e === null ? null : { ...e, ...with_ });
  add(current ? "inertiaOverTorqueConstant" : "inertia", upright(inertia));
  add(
    current ? "coulombOverTorqueConstant" : "coulombFriction",
    upright(frictionOverInput(pooled, "coulomb")),
  );
  add(
    current ? "viscousOverTorqueConstant" : "viscousFriction",
    upright(frictionOverInput(pooled, "viscous")),
  );
  if (apart === null) return;
  const names = current
    ? ([
        "coulombOverTorqueConstantPositive",
        "coulombOverTorqueConstantNegative",
        "viscousOverTorqueConstantPositive",
        "viscousOverTorqueConstantNegative",
      ] as const)
    : ([
        "coulombFrictionPositive",
        "coulombFrictionNegative",
        "viscousFrictionPositive",
        "viscousFrictionNegative",
      ] as const);
  const each = (["coulombPositive", "coulombNegative", "viscousPositive", "viscousNegative"] as const).map(
    (name) => upright(frictionOverInput(apart, name)),
  );
  each.forEach((e, k) => {
    add(names[k], e);
  });
  const [up, down] = each;
  if (up === null || down === null || !differ(apart)) return;
  const load = upright(frictionOverInput(pooled, "load"));
  const unit = current ? "A" : "N.m";
  book.find(
    "note",
    "friction-differs-by-direction",
    `Coulomb friction is ${up.value > down.value ? "larger" : "smaller"} in the positive direction, beyond both intervals.`,
    {
      value: up.value / down.value,
      unit: "1",
      meaning:
        load === null
          ? "half the difference is a constant load (a weight, a belt), or the bearing is loaded one way"
          : `a constant load (a weight, a belt) of ${quantityText(load.value, unit, 2)} (${intervalText({ ...load, unit, method: "" })}) pulls against the positive direction, or the bearing is loaded one way; inertia and friction of both directions are given beside it`,
    },
  );
}

/** Whether the Coulomb friction of either direction lies beyond the other's interval. */
function differ(apart: MotionFit): boolean {
  const [up, down] = [
    frictionOverInput(apart, "coulombPositive"),
    frictionOverInput(apart, "coulombNegative"),
  ];
  return up !== null && down !== null && (up.low > down.high || down.low > up.high);
}

/**
 * Friction from steady points at several speeds: a curve that falls first where the points carry it, else a line
 * through those above `lineFrom` (a tenth of the largest speed: below it friction is not yet a line).
 */
function steadyRoute(
  signals: Signals,
  points: readonly SteadyPoint[],
  lineFrom: number,
  kind: "torque" | "current",
  book: Book,
): void {
  if (signals.input?.kind === "currentCommand" || signals.input?.kind === "torqueCommand") return;
  const channels = [signals.input!.kind, signals.angleChannel];
  const convention = kind === "current" ? gainOf(signals) : {};
  const [coulombName, viscousName] =
    kind === "current"
      ? (["coulombOverTorqueConstant", "viscousOverTorqueConstant"] as const)
      : (["coulombFriction", "viscousFriction"] as const);
  const curve = stribeckFrom(points);
  if (typeof curve !== "string") {
    const labels = {
      method: `steady points at ${curve.points} speeds, friction falling first`,
      samples: points.reduce((sum, p) => sum + p.samples, 0),
      channels,
    };
    book.add(coulombName, { ...curve.coulomb, ...labels, ...convention });
    book.add(viscousName, { ...curve.viscous, ...labels, ...convention });
    book.add("stribeckSpeed", {
      ...curve.speed,
      ...labels,
      convention: "ws in exp(-(w/ws)^2)",
    });
    const unit = signals.input!.unit;
    book.find(
      "note",
      "friction-falls-with-speed",
      `Friction at low speed is ${quantityText(curve.excess.value, unit, 2)} above Coulomb friction and falls away around ${quantityText(curve.speed.value, "rad/s", 2)}.`,
      {
        value: curve.excess.value,
        unit,
        meaning:
          "a slow speed loop may stick and slip below that speed; routes that take friction as a line are off near it",
      },
    );
    return;
  }
  if (book.get("stribeckSpeed") === undefined && !book.missing.some((m) => m.quantity === "stribeckSpeed"))
    book.missing.push({ quantity: "stribeckSpeed", needs: curve });
  const straight = points.filter((q) => Math.abs(q.speed) > lineFrom);
  const friction = frictionFromSteadyPoints(straight, signals.input?.inRotor?.angleError ?? 0);
  if (friction === null) return;
  // Torque against motion at a steady speed is the sign of g: magnitudes are reported.
  const backwards = friction.coulomb.value + friction.viscous.value * Math.abs(straight[0].speed) < 0;
  const turn = (e: { value: number; low: number; high: number }): typeof e =>
    backwards ? { value: -e.value, low: -e.high, high: -e.low } : e;
  const labels = {
    method: `steady points at ${friction.points} speeds`,
    samples: friction.samples,
    channels,
    ...convention,
  };
  book.add(coulombName, { ...turn(friction.coulomb), ...labels });
  book.add(viscousName, { ...turn(friction.viscous), ...labels });
}

/** What follows from two constants together. */
function derived(recording: Recording, book: Book): void {
  const { machine } = recording;
  for (const rate of book.all("viscousOverInertia"))
    if (rate.low > 0) book.add("mechanicalTimeConstant", { ...reciprocal(rate, 1, {})!, convention: "J/B" });
  const fact = (value: number | undefined, unit: string): Estimate | undefined =>
    value === undefined
      ? undefined
      : { value, low: value, high: value, unit, method: "as stated", source: "stated" };
  const kt = book.get("torqueConstant") ?? fact(machine.torqueConstant, "N.m/A");
  if (kt !== undefined) {
    const pairs = [
      ["inertiaOverTorqueConstant", "inertia"],
      ["coulombOverTorqueConstant", "coulombFriction"],
      ["gravityOverTorqueConstant", "gravityTorque"],
      ["viscousOverTorqueConstant", "viscousFriction"],
      ["coulombOverTorqueConstantPositive", "coulombFrictionPositive"],
      ["coulombOverTorqueConstantNegative", "coulombFrictionNegative"],
      ["viscousOverTorqueConstantPositive", "viscousFrictionPositive"],
      ["viscousOverTorqueConstantNegative", "viscousFrictionNegative"],
    ] as const;
    for (const [ratio, whole] of pairs)
      for (const r of book.all(ratio)) {
        // A torque constant from a transducer carries g, and so does a ratio from the drive's own current: it cancels.
        const carries = kt.source === "measured-torque";
        const freed = r.source === "driven-motion-in-rotor";
        const convention = freed
          ? "torque gain g taken out"
          : carries
            ? "torque gain g cancels"
            : "torque gain g taken as 1";
        const product = combined(r, kt, "times", { unit: "", method: "" });
        if (product === null) continue;
        book.add(whole, {
          value: product.value,
          low: product.low,
          high: product.high,
          method: `${r.method}, times Kt (${kt.method})`,
          convention,
          samples: r.samples ?? 0,
          channels: [...new Set([...(r.channels ?? []), ...(kt.channels ?? [])])],
        });
      }
  }
  const breakaway = book.get("breakawayCurrent");
  if (kt !== undefined && breakaway !== undefined) {
    const gain = book.get("torqueGain");
    const carries = kt.source === "measured-torque";
    const whole =
      gain === undefined || carries
        ? kt
        : combined(kt, { ...gain, ...magnitude(gain) }, "times", { unit: "", method: "" });
    const product = whole && combined(breakaway, whole, "times", { unit: "", method: "" });
    if (product)
      book.add("staticFriction", {
        value: product.value,
        low: product.low,
        high: product.high,
        method: `${breakaway.method}, times Kt (${kt.method})`,
        convention: gain === undefined && !carries ? "torque gain g taken as 1" : "torque gain g taken out",
        samples: breakaway.samples ?? 0,
        channels: [...new Set([...(breakaway.channels ?? []), ...(kt.channels ?? [])])],
      });
  }
  // Coast-down times inertia.
  const inertia = book.get("inertia") ?? fact(machine.inertia, "kg.m2");
  if (inertia !== undefined) {
    for (const [rate, whole] of [
      ["coulombOverInertia", "coulombFriction"],
      ["viscousOverInertia", "viscousFriction"],
    ] as const) {
      const r = book.all(rate).find((e) => e.source === "coast-down");
      if (r === undefined) continue;
      const product = combined(r, inertia, "times", { unit: "", method: "" });
      if (product === null) continue;
      book.add(whole, {
        value: product.value,
        low: product.low,
        high: product.high,
        method: `coast-down, times J (${inertia.method})`,
        samples: r.samples ?? 0,
        channels: [...new Set([...(r.channels ?? []), ...(inertia.channels ?? [])])],
      });
    }
  }
  const R = book.get("resistance") ?? fact(machine.resistance, "Ohm");
  const J = book.get("inertia");
  if (R !== undefined && J !== undefined && kt !== undefined) {
    // Phase quantities: Kt = 1.5*psi, so J*R/(1.5*psi^2) = 1.5*J*R/Kt^2.
    const top = combined(J, R, "times", { unit: "", method: "" });
    const bottom = combined(kt, kt, "times", { unit: "", method: "" });
    const tau = top && bottom && combined(top, bottom, "over", { unit: "", method: "" });
    if (tau)
      book.add("electromechanicalTimeConstant", {
        value: 1.5 * tau.value,
        low: 1.5 * tau.low,
        high: 1.5 * tau.high,
        method: "1.5*J*R/Kt^2",
        convention: "phase resistance, Kt in N m per A peak",
        samples: J.samples ?? 0,
        channels: [...new Set([...(J.channels ?? []), ...(R.channels ?? [])])],
      });
  }
}
