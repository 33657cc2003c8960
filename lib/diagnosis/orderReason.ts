import type { JudgedRecording } from "./judged.js";
import { degrees, percent, short } from "./observe.js";
import type { OrderEvidence } from "./orderEvidence.js";
import { shortText } from "./remedies.js";
import { type CauseCode, causeByCode } from "./tables/causes.js";
import { thresholds } from "./tables/thresholds.js";
import type { RemedyProbability, VerdictWord } from "./types.js";

interface Conclusion {
  readonly usable: boolean;
  readonly verdict: VerdictWord;
  readonly cause: CauseCode;
  readonly probability: number;
  readonly remedies: readonly RemedyProbability[];
}

/** Why an order is usable or not, in a sentence or two. */
export function orderReason(
  judged: JudgedRecording,
  evidence: OrderEvidence,
  conclusion: Conclusion,
): string {
  const { usable, verdict } = conclusion;
  const because = evidence.weighed ? likelyCause(judged, conclusion) : "";
  if (evidence.against) return againstReason(evidence, because);
  if (usable) return usableReason(evidence, conclusion);
  if (verdict === "tracking" && evidence.factor < thresholds.usableTorqueFactor.value)
    return `It turns with its command, but with only about ${percent(Math.max(0, evidence.factor))} of the torque a good offset gives: repeat the alignment before it is kept.`;
  if (verdict === "tracking" && evidence.weak >= thresholds.weakTorque.value)
    return `It turns with its command, but how much torque the offset leaves is open (less than half: ${percent(evidence.weak)}). Hold each command until the speed has settled, or log the d and q voltages, or try another order of the same three.`;
  if (evidence.mirrored)
    return "It holds its speed with the sign turned: the drive counts the other way than the log, or the command does. Look which way the shaft turns and set the sign of the log right before anything else is judged by it, or any loop closed on it.";
  const all = [...evidence.torque, ...evidence.speed];
  if (verdict === "blocked" && evidence.weighed) {
    const moved = Math.max(
      0,
      ...all.flatMap((o) => o.holds.filter((h) => h.sense !== 0).map((h) => h.swing)),
    );
    const step = Math.max(0, ...all.map((o) => o.signals.angleStep));
    return `${moved > 4 * step ? `It moved ${short(degrees(moved))} deg and stayed there under current` : "It did not move at all under current"}.${because}`;
  }
  const [last] = all;
  return last
    ? `${last.text}${last.missing.length > 0 ? ` Missing: ${last.missing.join("; ")}.` : ""}${because}`
    : "No trial of this order could be judged.";
}

/** The likely cause; where several share one remedy, that remedy first. */
function likelyCause(judged: JudgedRecording, { cause, probability, remedies }: Conclusion): string {
  const of = (code: CauseCode): number => judged.posterior.get(code) ?? 0;
  const third = of("stale-offset-plus") + of("stale-offset-minus");
  const [first] = remedies;
  if (probability > thresholds.settledCause.value)
    return cause === "nothing-wrong"
      ? ""
      : ` Likely: ${causeByCode.get(cause)?.text} (${percent(probability)}).`;
  if (first?.remedy === "align" && third > thresholds.remedy.value)
    return ` Likely: the offset is a third of an electrical turn off, one way or the other (${percent(third)}), as when leads were moved on by one terminal and the alignment was not repeated.`;
  if (
    first &&
    first.remedy === "align" &&
    first.causes.length > 1 &&
    first.probability > thresholds.remedy.value
  )
    return ` Likely: the offset is wrong (${percent(first.probability)})${first.open ? `; ${first.open}` : ""}.`;
  if (probability > thresholds.named.value)
    return cause === "nothing-wrong"
      ? ""
      : ` Likely: ${causeByCode.get(cause)?.text} (${percent(probability)}).`;
  return openCauses(judged);
}

function againstReason({ torque, speed, loop, weighed }: OrderEvidence, because: string): string {
  const runs = speed.some((o) => o.verdict === "runaway");
  const spun = torque.some((o) => o.behaviour === "turns" && o.sense === "against");
  if (runs && !spun && torque.some((o) => o.behaviour === "turns" && o.sense === "with"))
    return `It turns with its command under torque, yet ran away in the speed trial: the sign is right there and wrong here, or the speed loop got something else than the shaft's speed.${because}`;
  return `${spun ? "It spins under torque and reverses with the command, but AGAINST it: the torque has the wrong sign. " : ""}${runs ? "In the speed trial it ran away, as such an order must." : `Under speed control it would run away${weighed ? ` (${percent(loop.runaway)})` : ""}.`}${because}`;
}

function usableReason({ torque, speed, idle }: OrderEvidence, { cause, probability }: Conclusion): string {
  const tracks = speed.some((o) => o.verdict === "tracking");
  const parts: string[] = [];
  if (torque.some((o) => o.behaviour === "turns")) parts.push("turns with its command both ways");
  if (tracks) parts.push("the speed trial tracked");
  const off = cause === "disturbed-offset" && probability > thresholds.named.value;
  const after = tracks
    ? ""
    : idle
      ? " In the speed trial no current flowed: the drive had tripped or was not enabled. Find out why, then repeat it."
      : " No speed trial yet.";
  return `It ${parts.join(", and ")}.${off ? ` The offset is probably off, though (${percent(probability)}): repeat the alignment before it is kept.` : ""}${after}`;
}

/** The causes that share the probability, when none has most of it. */
function openCauses(judged: JudgedRecording): string {
  const list = [...judged.posterior]
    .filter(([code, p]) => p > thresholds.listed.value && code !== "nothing-wrong")
    .sort((a, b) => b[1] - a[1])
    .slice(0, 3);
  if (list.length === 0) return "";
  return ` The log leaves open: ${list.map(([code, p]) => `${shortText(code, stays(judged))} (${percent(p)})`).join(", ")}.`;
}

/** The shaft did not move in the torque trials of this recording. */
export function stays(judged: JudgedRecording): boolean {
  return judged.trials.some(({ observation: o }) => o.trial.kind === "torque" && o.behaviour === "still");
}
