import type { LawFit } from "../identify/commutation/torqueLaw.js";
import type { Hold } from "../run/holds.js";
import type { TrialSignals } from "../run/trialSignals.js";
import { degrees, short } from "./observation.js";
import type { TorqueTrial } from "./torqueTrial.js";
import { lawSureness } from "./torqueVotes.js";
import type { Evidence } from "./types.js";

/** How far the shaft moved, and how much of its command the current held. */
export function travelAndCurrent({ signals, longest, swing, stillLimit, turning }: TorqueTrial): Evidence[] {
  const evidence: Evidence[] = [
    {
      quantity: "largest travel under one command",
      value: degrees(swing),
      unit: "deg",
      limit: degrees(stillLimit),
      limitSource: `noise: four counts of the position (${short(degrees(signals.angleStep))} deg each)`,
      meaning: swing > stillLimit ? "the shaft moved" : "the shaft did not move",
    },
  ];
  const share = longest.currentShare;
  if (share !== undefined)
    evidence.push({
      quantity: "measured current over commanded current",
      value: share,
      unit: "1",
      limit: 0.9,
      limitSource: "physics: a shaft at rest asks for no back-EMF, so current control holds its command",
      meaning: currentMeaning(share, turning.length > 0),
    });
  return evidence;
}

function currentMeaning(share: number, turns: boolean): string {
  if (turns)
    return share < 0.9
      ? "below its command while turning: no voltage left, as a spinning unloaded shaft shows"
      : "at its command while turning";
  if (share > 0.9) return "current control is in order; the torque is what is missing";
  return share < 0.2
    ? "hardly any current flowed: the motor was not really asked"
    : "the current does not reach its command although nothing turns";
}

/** The fastest speed reached at the end of a command of each sense. */
export function endSpeeds({ signals, turning }: TorqueTrial): Evidence[] {
  const { angleStep, speedNoise } = signals;
  const evidence: Evidence[] = [];
  for (const [sense, word] of [
    [1, "positive"],
    [-1, "negative"],
  ] as const) {
    const hold = turning
      .filter((h) => h.sense === sense)
      .reduce<Hold | undefined>(
        (a, b) => (!a || Math.abs(b.endSpeed) > Math.abs(a.endSpeed) ? b : a),
        undefined,
      );
    if (hold)
      evidence.push({
        quantity: `speed at the end of the ${word} command`,
        value: hold.endSpeed,
        unit: "rad/s",
        limit: Math.sign(hold.endSpeed) * Math.max(3 * speedNoise, angleStep / hold.length),
        limitSource: "noise: three standard deviations of the speed",
        meaning: `turns ${hold.endSpeed * hold.sense > 0 ? "with" : "against"} the command`,
      });
  }
  return evidence;
}

/** The acceleration that the equation of motion finds per ampere or newton metre. */
export function lawEvidence(law: LawFit, { effortRole }: TrialSignals): Evidence {
  const byTorque = effortRole === "torque" || effortRole === "torqueCommand";
  const z = lawSureness(law);
  return {
    quantity: `acceleration per ${byTorque ? "newton metre" : "ampere"} (g*Kt/J)`,
    value: law.direct,
    unit: byTorque ? "rad/s2/(N.m)" : "rad/s2/A",
    limit: Math.sign(law.direct) * 3 * law.error,
    limitSource:
      "noise: three standard errors of the fit of the equation of motion, 5 % model error included",
    meaning:
      Math.abs(z) < 3
        ? "too uncertain to give a sign"
        : z > 0
          ? "torque in the sense of the command"
          : "torque against the sense of the command",
  };
}
