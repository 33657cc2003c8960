import { largest } from "../numeric/series/largest.js";
import type { Hold } from "../run/holds.js";
import type { TrialSignals } from "../run/trialSignals.js";
import { goesOn } from "./goesOn.js";
import { degrees, rpm, type Seen, short, unseen } from "./observation.js";
import { type HoldWord, type Judged, judgeHold, peak, pressedAtEnd } from "./speedHolds.js";
import type { Evidence } from "./types.js";

/** The held commands of a speed trial, each with what it shows. */
class JudgedSteps {
  /** Whether both senses were asked for. */
  readonly both: boolean;
  readonly evidence: readonly Evidence[];
  /** Holds in which the shaft ran past its command or against it. */
  readonly away: number;

  /** @param driven the holds whose command is not zero */
  constructor(
    readonly signals: TrialSignals,
    readonly driven: readonly Hold[],
    readonly judged: readonly Judged[],
  ) {
    this.both = judged.some((j) => j.hold.sense > 0) && judged.some((j) => j.hold.sense < 0);
    this.evidence = judged.slice(0, 4).map(reachedEvidence);
    this.away = this.count("against") + this.count("overshoots");
  }

  count(word: HoldWord): number {
    return this.judged.filter((j) => j.word === word).length;
  }

  /** Speed at the end and command of the first holds. */
  speeds(most: number): string {
    return this.judged
      .map((j) => `${rpm(j.hold.endSpeed)} for ${rpm(j.hold.level)}`)
      .slice(0, most)
      .join(", ");
  }

  /** The largest ripple about a command, as a fraction of it. */
  get ripple(): number {
    return Math.max(...this.judged.map((j) => j.ripple));
  }
}

function reachedEvidence({ hold, ratio }: Judged): Evidence {
  return {
    quantity: `speed reached over speed commanded (${rpm(hold.level)})`,
    value: ratio,
    unit: "1",
    limit: 0.85,
    limitSource:
      "physics: integral action leaves no lasting error, a settling loop is within 15 % by the end",
    meaning:
      Math.abs(ratio - 1) < 0.15
        ? "follows"
        : ratio < -0.3
          ? "turns the other way"
          : Math.abs(ratio) < 0.15
            ? "does not move"
            : ratio > 1.5
              ? "runs past its reference"
              : "does not arrive",
  };
}

/** What the steps of a speed trial show, hold by hold. */
export function observeSteps(signals: TrialSignals, holds: readonly Hold[]): Seen {
  const driven = holds.filter((hold) => hold.sense !== 0);
  if (driven.length === 0)
    return unseen(["a speed command other than zero"], "No speed was commanded in this trial.");
  const top = largest(signals.speed as Float64Array);
  const longest = Math.max(...driven.map((h) => h.length));
  const judged = driven.filter((h) => h.length > 0.2 * longest).map((hold) => judgeHold(signals, hold, top));
  if (judged.every(({ hold }) => hold.to - hold.from < 8))
    return unseen(
      ["a speed command held for at least ten samples"],
      "The speed command was too short to judge.",
    );
  const steps = new JudgedSteps(signals, driven, judged);
  return (
    mirrored(steps) ??
    runsAway(steps) ??
    follows(steps) ??
    fallsShort(steps) ??
    goesOnDisturbed(steps) ??
    stays(steps) ??
    comesToRest(steps) ??
    mixed(steps)
  );
}

/**
 * A runaway goes to its limit; a speed that settles at exactly the reference with its sign turned, both ways, is
 * controlled. In one sense only, a runaway that met its voltage at just that speed would look the same: closer, and
 * without pressing.
 */
function mirrored(steps: JudgedSteps): Seen | undefined {
  const { judged, both, evidence } = steps;
  if (!judged.every((j) => Math.abs(j.ratio + 1) < 0.12 && Math.abs(j.hold.endChange) < 0.1))
    return undefined;
  const close =
    judged.every((j) => Math.abs(j.ratio + 1) < 0.05 && Math.abs(j.hold.endChange) < 0.04) &&
    !pressedAtEnd(steps.signals, judged[judged.length - 1].hold);
  if (!both && !close) return undefined;
  return {
    behaviour: "mirrored",
    verdict: "reversed",
    confidence: both ? 0.93 : 0.85,
    sense: "against",
    evidence,
    missing: [
      "which way the shaft turned, seen by eye: the sign of the log or that of the command is the wrong one",
      ...(both ? [] : ["a reversal of the reference"]),
    ],
    text: `Holds its speed command with the sign turned${both ? ", both ways" : ""} (${steps.speeds(2)}). As logged it TURNS AGAINST ITS COMMAND: close no loop on the logged position or speed before their sign is known. That it holds the speed shows that the drive itself counts the other way.`,
    bothSenses: both,
  };
}

function runsAway({ signals, judged, both, evidence, away }: JudgedSteps): Seen | undefined {
  if (away === 0 || judged.some((j) => j.word === "follows")) return undefined;
  const speed = signals.speed as Float64Array;
  const signs = judged.map((j) => Math.sign(peak(speed, j.hold)));
  const oneWay = both && signs.every((s) => s === signs[0]);
  const hold = (judged.find((j) => j.word === "against" || j.word === "overshoots") ?? judged[0]).hold;
  return {
    behaviour: "runs-away",
    verdict: "runaway",
    confidence: oneWay || away > 1 ? 0.99 : 0.95,
    sense: judged.some((j) => j.word === "against") ? "against" : "none",
    evidence,
    missing: [],
    text: `RUNAWAY: asked for ${rpm(hold.level)}, the shaft went to ${rpm(peak(speed, hold))}${oneWay ? " and a reversal of the reference changed nothing" : ""}.`,
    bothSenses: both,
  };
}

function follows(steps: JudgedSteps): Seen | undefined {
  const { judged, both, evidence, ripple } = steps;
  const followed = steps.count("follows");
  if (followed === 0 || steps.away > 0 || steps.count("rest") > 0 || steps.count("unclear") > followed)
    return undefined;
  const shortfall = steps.count("short") > 0 ? 1 - Math.min(...judged.map((j) => Math.abs(j.ratio))) : 0;
  return {
    behaviour: "follows",
    verdict: "tracking",
    confidence: followed === judged.length ? (both ? 0.995 : 0.985) : 0.93,
    sense: "with",
    evidence,
    missing: both ? [] : ["a reversal of the reference"],
    text: `Tracks its speed command: ${steps.speeds(3)}${ripple > 0.15 ? `, but swings by ${ripple > 1 ? `${short(ripple)} times it` : `${short(ripple * 100)} %`} about it` : ""}.`,
    bothSenses: both,
    ripple,
    ...(shortfall > 0.1 ? { shortfall } : {}),
  };
}

function fallsShort(steps: JudgedSteps): Seen | undefined {
  const { judged, both, evidence, ripple } = steps;
  const shortly = steps.count("short");
  if (shortly === 0 || shortly + steps.count("follows") < judged.length) return undefined;
  const worst = Math.min(...judged.map((j) => j.ratio));
  return {
    behaviour: "follows",
    verdict: worst > 0.5 ? "tracking" : "undetermined",
    confidence: worst > 0.5 ? 0.85 : 0.6,
    sense: "with",
    evidence,
    missing: worst > 0.5 ? [] : ["a longer hold, to see whether the speed arrives"],
    text: `Turns with its speed command but had reached only ${short(worst * 100)} % of it when the command ended.`,
    bothSenses: both,
    shortfall: 1 - worst,
    ripple,
  };
}

function goesOnDisturbed(steps: JudgedSteps): Seen | undefined {
  const { signals, judged, evidence, away } = steps;
  if (steps.count("rest") === 0 || away > 0 || !judged.some(({ hold }) => goesOn(signals, hold)))
    return undefined;
  return unseen(
    ["a position or speed without false samples"],
    "The shaft goes on one way, and its motion is too disturbed to say whether it follows its command.",
    evidence,
  );
}

/** Swing of the speed about its mean, beside what was asked, from which on a shaft that goes nowhere has not come to
 * rest, and how sure it is then called blocked (judgement). */
const hunting = { ripple: 0.3, confidence: 0.75 };

function stays(steps: JudgedSteps): Seen | undefined {
  const { signals, driven, judged, both, evidence, away } = steps;
  if (steps.count("rest") === 0 || away > 0 || steps.count("follows") + steps.count("short") > 0)
    return undefined;
  const swing = Math.max(...driven.map((h) => h.swing));
  const moved = swing > 4 * signals.angleStep;
  const limit = signals.current ? largest(signals.current) : undefined;
  // Whole turns to and fro, to the end and about as fast as was asked: held by nothing, and going nowhere.
  const hunts = swing > 2 * Math.PI && judged.every(({ ripple }) => ripple > hunting.ripple);
  const how = hunts ? "went to and fro and did not settle" : "stayed";
  return {
    behaviour: swing > 1.5 * Math.PI ? "locks" : moved ? "swings" : "still",
    verdict: "blocked",
    confidence: hunts ? hunting.confidence : both ? 0.99 : 0.97,
    sense: "none",
    evidence,
    missing: [],
    text: `Blocked: asked for ${rpm(judged[0].hold.level)}, the shaft ${moved ? `moved ${short(degrees(swing))} deg and ${how}` : "did not move"}${limit ? `, with up to ${short(limit)} A` : ""}.`,
    bothSenses: both,
  };
}

function comesToRest({ judged, both, evidence, away }: JudgedSteps): Seen | undefined {
  if (away > 0 || judged[judged.length - 1].word !== "rest") return undefined;
  return {
    behaviour: "locks",
    verdict: "blocked",
    confidence: 0.75,
    sense: "none",
    evidence,
    missing: [],
    text: "The shaft followed at first, then came to rest and stayed: blocked.",
    bothSenses: both,
  };
}

function mixed({ evidence, ripple }: JudgedSteps): Seen {
  const seen = unseen(
    ["a longer trial from standstill, both senses"],
    "The speed neither followed its command, nor ran away from it, nor stayed at rest, for long enough to say which.",
    evidence,
  );
  return { ...seen, ripple };
}
