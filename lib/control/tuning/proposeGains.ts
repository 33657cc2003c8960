import type { SpeedGains } from "../../motor/speedGains.js";
import { analyseLoop, type LoopReport } from "../analyseLoop.js";
import type { BenchCheck } from "../benchCheck.js";
import type { LoopSimulation } from "../models/loopSimulation.js";
import { noiseGain } from "../models/noiseGain.js";
import { type FixedLoop, fixLoop, type SpeedLoop, smallTimeConstant } from "../models/speedLoop.js";
import { cornerLoops } from "../models/spread.js";
import { type StepFigures, stepPrediction } from "../models/stepPrediction.js";
import { integratingRule, polePlacement, sensitivityLimited, symmetricalOptimum } from "./gainRules.js";

/** How gains were found. */
export type GainRule = "pole placement" | "symmetrical optimum" | "sensitivity limit" | "integrating process";

/** What proposed gains are to reach; every one has a default. */
export interface ProposalOptions {
  /** Natural frequency of the placed poles, rad/s. Absent: one sixth of the reciprocal of the small lags. */
  readonly frequency?: number;
  /** Damping ratio of the placed poles. Absent: 1. */
  readonly damping?: number;
  /** Ratio a of the symmetrical optimum. Absent: 2. */
  readonly ratio?: number;
  /** Limit on the sensitivity peak Ms. Absent: 1.6. */
  readonly sensitivityLimit?: number;
  /** Height of the speed step the figures are for, rad/s. Absent: half the current limit's worth of the largest kp
   * proposed, or 10. */
  readonly stepSize?: number;
  /** Largest overshoot tolerated before the reference weight is lowered, share of the step. Absent: 0.1. */
  readonly overshoot?: number;
  /** Voltage the check by simulation may use. */
  readonly voltage?: LoopSimulation["voltage"];
  /** Draws for the spread of margins. Absent: 100. */
  readonly draws?: number;
  readonly seed?: number;
  /** A check of the gains on the real loop: gains that fail it are lowered, and marked where that does not help
   * (`benchForCheck` makes one). Undefined: these gains cannot be checked, and stay as the rule gave them. */
  readonly check?: (gains: Required<SpeedGains>, expectedOvershoot: number) => BenchCheck | undefined;
}

/** Gains to start from, with what they are expected to do. */
export interface GainProposal {
  readonly rule: GainRule;
  /** Parallel form, continuous, A per rad/s of the shaft. */
  readonly gains: Required<SpeedGains>;
  /** Integral time kp/ki, s. */
  readonly integralTime: number;
  /** Position gain that would fit, 1/s: a quarter of the crossover (common practice, no source). */
  readonly positionGain: number;
  /** The linear loop's step response. */
  readonly expected: StepFigures;
  /** Height of the step the figures are for, rad/s. */
  readonly stepSize: number;
  /** The same step with current limit, voltage, friction, counts as far as they are known. */
  readonly checked: StepFigures & {
    /** Share of samples at the current limit. */
    readonly limitedShare: number;
    readonly text: string;
  };
  readonly report: LoopReport;
  /** What a person must know before trying them. */
  readonly caution: string;
  /** Factor by which the rule's kp was lowered (and ki by its square) so that the encoder's counts stir little current
   * and the bench check passes; 1: not at all. */
  readonly lowered: number;
  /** What the real loop does with these gains on the bench simulator. Absent: not run. */
  readonly bench?: BenchCheck;
}

/** Proposals, or why there are none. */
export interface GainProposals {
  readonly proposals: readonly GainProposal[];
  readonly missing: readonly string[];
  /** What had to be taken for granted, for a person to correct. */
  readonly assumed?: readonly string[];
}

/** Largest part of the current limit that the rounding of the counts may stir, RMS (common practice, no source). */
const bearableRipple = 0.05;

const caution =
  "A starting point from a model, not a setting to run: try it first with the current limit and the speed reference reduced, the shaft unloaded " +
  "and guarded and an independent means of removing power at hand, under the site's rules and by qualified people.";

/**
 * Gains for a speed loop by four rules, each with its expected step response, its margins over the spread of the plant
 * and a check of the same step by running the sampled loop with its limits. The loop's own gains are not used.
 *
 * Without any known lag no gain is too large in the model, so rules that need one are left out and `missing` says so; a
 * negative torque gain gets no proposal at all, since no positive gain stabilises it.
 *
 * @throws RangeError when the plant's numbers make no loop
 * @example
 * const { proposals, missing } = proposeGains(loop);
 * proposals.map(({ rule, gains }) => `${rule}: ${gains.kp} A.s/rad`);
 */
export function proposeGains(
  loop: Omit<SpeedLoop, "gains"> & { readonly gains?: SpeedGains },
  options: ProposalOptions = {},
): GainProposals {
  const base: SpeedLoop = { ...loop, gains: { kp: 1, ki: 1 }, positionGain: undefined };
  const fixed = fixLoop(base);
  if (!(fixed.torquePerAmpere > 0))
    return {
      proposals: [],
      missing: [
        "the torque acts against the command (g is not above 0): no positive gain stabilises it; mend the offset or the leads first",
      ],
    };
  const lag = smallTimeConstant(fixed);
  const missing: string[] = [];
  const found: [GainRule, SpeedGains][] = [];
  const frequency = options.frequency ?? (lag > 0 ? 1 / (6 * lag) : undefined);
  if (frequency !== undefined) {
    const gains = polePlacement(fixed, frequency, options.damping ?? 1);
    if (gains.kp > 0) found.push(["pole placement", gains]);
    else
      missing.push(
        "pole placement: friction alone is faster than the wanted poles; ask for a higher frequency",
      );
  }
  if (lag > 0) {
    found.push(["symmetrical optimum", symmetricalOptimum(fixed, lag, options.ratio ?? 2)]);
    found.push(["integrating process", integratingRule(fixed, lag)]);
    const limited = sensitivityLimited(extremes(base, fixed), options.sensitivityLimit ?? 1.6);
    if (limited) found.push(["sensitivity limit", limited]);
    else
      missing.push(
        `sensitivity limit: no gains keep Ms at ${options.sensitivityLimit ?? 1.6} over the spread of the plant`,
      );
  } else
    missing.push(
      "no lag of the loop is known (current bandwidth, sample time, delay or speed filter): the model sets no upper bound on the gains, so only pole placement at a stated frequency can be proposed",
    );
  const quiet = found.map(([rule, gains]) => ({ rule, ...quieten(gains, base) }));
  // One step for all, so that they can be compared: half the current limit's worth of the largest proportional gain.
  const largest = Math.max(...quiet.map(({ gains }) => gains.kp));
  const stepSize =
    options.stepSize ?? (base.currentLimit === undefined ? 10 : (0.5 * base.currentLimit) / largest);
  return {
    proposals: quiet.map(({ rule, gains, lowered }) =>
      checkedProposal(rule, gains, lowered, base, stepSize, options),
    ),
    missing,
  };
}

/** A proposal, lowered in steps of a fifth until the bench check passes, five times at most; left as the rule gave it
 * where that does not help. */
function checkedProposal(
  rule: GainRule,
  gains: SpeedGains,
  lowered: number,
  base: SpeedLoop,
  stepSize: number,
  options: ProposalOptions,
): GainProposal {
  const first = proposal(rule, gains, lowered, base, stepSize, options);
  const whole = options.check?.(first.gains, first.expected.overshoot);
  if (options.check === undefined || whole === undefined) return first;
  if (whole.passed) return { ...first, bench: whole };
  for (let k = 1, factor = 0.8; k <= 5; k++, factor *= 0.8) {
    const slower = { ...gains, kp: gains.kp * factor, ki: gains.ki * factor ** 2 };
    // The reference weight goes with the linear loop's overshoot, which a common factor does not change much.
    const bench = options.check(
      { ...slower, referenceWeight: first.gains.referenceWeight },
      first.expected.overshoot,
    );
    if (!bench?.passed) continue;
    const found = proposal(rule, slower, lowered * factor, base, stepSize, options);
    const text = `kp lowered to ${(100 * factor).toFixed(0)} % because on the bench simulator ${whole.text}`;
    return {
      ...found,
      bench: options.check(found.gains, found.expected.overshoot),
      checked: {
        ...found.checked,
        text: found.checked.text === asLinear ? text : `${text}; ${found.checked.text}`,
      },
    };
  }
  return { ...first, bench: whole };
}

/** Slows gains down (kp by a factor, ki by its square, so the damping stays) until the counts stir a bearable
 * current. */
function quieten(
  gains: SpeedGains,
  base: SpeedLoop,
): { readonly gains: SpeedGains; readonly lowered: number } {
  const limit = base.currentLimit;
  if (limit === undefined || base.countsPerTurn === undefined || !((base.sampleTime ?? 0) > 0))
    return { gains, lowered: 1 };
  let lowered = 1;
  for (let i = 0; i < 60; i += 1) {
    const slower = { ...gains, kp: gains.kp * lowered, ki: gains.ki * lowered ** 2 };
    const ripple = noiseGain(fixLoop({ ...base, gains: slower })).rippleFromCounts ?? 0;
    if (ripple <= bearableRipple * limit) return { gains: slower, lowered };
    lowered *= 0.88;
  }
  return { gains: { ...gains, kp: gains.kp * lowered, ki: gains.ki * lowered ** 2 }, lowered };
}

/** The best loop and the two corners of the spread with the most and the least acceleration per ampere. */
function extremes(loop: SpeedLoop, best: FixedLoop): FixedLoop[] {
  const corners = cornerLoops(loop).filter((l) => l.torquePerAmpere > 0);
  if (corners.length < 2) return [best];
  const drive = (l: FixedLoop): number => l.torquePerAmpere / l.inertia;
  const sorted = [...corners].sort((a, b) => drive(a) - drive(b));
  return [best, sorted[0], sorted[sorted.length - 1]];
}

function proposal(
  rule: GainRule,
  gains: SpeedGains,
  lowered: number,
  base: SpeedLoop,
  stepSize: number,
  options: ProposalOptions,
): GainProposal {
  const bearable = options.overshoot ?? 0.1;
  let chosen: Required<SpeedGains> = { ...gains, referenceWeight: 1 };
  for (const referenceWeight of [1, 0.75, 0.5, 0.25, 0]) {
    chosen = { ...gains, referenceWeight };
    if (stepPrediction({ ...base, gains: chosen }).figures.overshoot <= bearable) break;
  }
  const loop: SpeedLoop = { ...base, gains: chosen };
  const linear = stepPrediction(loop, { size: stepSize });
  const real = stepPrediction(loop, {
    size: stepSize,
    real: true,
    // How coarse a speed taken from counts is depends on the sample time; without one, nothing can be said of it.
    quantised: (base.sampleTime ?? 0) > 0,
    ...(options.voltage ? { voltage: options.voltage } : {}),
  });
  const limitedShare = real.trace.limited / real.trace.time.length;
  const report = analyseLoop(loop, { draws: options.draws ?? 100, seed: options.seed ?? 1 });
  return {
    rule,
    gains: chosen,
    integralTime: gains.kp / gains.ki,
    positionGain: (report.margins?.crossover?.value ?? 0) / 4,
    expected: linear.figures,
    stepSize,
    checked: {
      ...real.figures,
      limitedShare,
      text: checkText(linear.figures, real.figures, limitedShare, lowered),
    },
    lowered,
    report,
    caution,
  };
}

const asLinear = "the real loop does as the linear one";

function checkText(linear: StepFigures, real: StepFigures, limitedShare: number, lowered: number): string {
  if (real.rise === undefined)
    return "the step is not reached: the voltage or current limit, or friction, is in the way";
  const said: string[] = [];
  if (lowered < 1)
    said.push(
      `gains are ${(100 * lowered).toFixed(0)} % of the rule's, so that the encoder's counts stir at most ${100 * bearableRipple} % of the current limit`,
    );
  if (limitedShare > 0)
    said.push(`the current stands at its limit for ${(100 * limitedShare).toFixed(0)} % of the run`);
  if (linear.rise !== undefined && real.rise > 1.5 * linear.rise)
    said.push(`the rise takes ${(real.rise / linear.rise).toFixed(1)} times as long as the linear loop's`);
  if (real.overshoot > linear.overshoot + 0.1)
    said.push(
      `overshoot grows from ${(100 * linear.overshoot).toFixed(0)} to ${(100 * real.overshoot).toFixed(0)} %`,
    );
  return said.length === 0 ? asLinear : said.join("; ");
}
