import { type LeadOrder, leadOrders } from "../motor/facts.js";
import { parity } from "../motor/leadOrder.js";
import { type JudgedRecording, leading } from "./judged.js";
import { evidenceOf, isUsable, orderVerdict } from "./orderEvidence.js";
import { orderReason } from "./orderReason.js";
import { capital, remediesOf } from "./remedies.js";
import type { CauseCode } from "./tables/causes.js";
import { thresholds } from "./tables/thresholds.js";
import type { OrderingVerdict, RemedyProbability } from "./types.js";

/** Joint picture of all recordings of one order of one motor. */
export interface OrderPicture {
  readonly ordering: LeadOrder;
  readonly motor: string;
  readonly judged: readonly JudgedRecording[];
  /** The recording that says most. */
  readonly leading: JudgedRecording;
  /** Likeliest cause and its probability. */
  readonly cause: CauseCode;
  readonly probability: number;
  /** Causes added up by remedy, the likeliest first. */
  readonly remedies: readonly RemedyProbability[];
  /** It works, but the offset may leave too little torque. */
  readonly weak: boolean;
  readonly verdict: OrderingVerdict;
}

/** The table of orders. */
export function judgeOrders(all: readonly JudgedRecording[]): OrderingVerdict[] {
  return orderPictures(all).map(({ verdict }) => verdict);
}

/** One picture per order that was tried, in the order of `leadOrders`; motors apart from each other. */
export function orderPictures(all: readonly JudgedRecording[]): OrderPicture[] {
  const pictures: OrderPicture[] = [];
  const motors = [...new Set(all.map(({ recording }) => recording.motor ?? ""))];
  for (const motor of motors)
    for (const ordering of leadOrders) {
      const judged = all.filter(
        ({ recording, trials }) =>
          recording.ordering === ordering && (recording.motor ?? "") === motor && trials.length > 0,
      );
      if (judged.length > 0) pictures.push(pictureOf(ordering, motor, judged));
    }
  return pictures;
}

function pictureOf(ordering: LeadOrder, motor: string, judged: readonly JudgedRecording[]): OrderPicture {
  // The recording that says most speaks for the order.
  const most = judged.reduce((a, b) => (leading(b.posterior)[1] > leading(a.posterior)[1] ? b : a));
  const [cause, probability] = leading(most.posterior);
  const evidence = evidenceOf(judged, most);
  const usable = isUsable(judged, evidence);
  const verdict = orderVerdict(judged, evidence, usable);
  const remedies = remediesOf(most.posterior);
  const rework = reworkOf(remedies, ordering);
  return {
    ordering,
    motor,
    judged,
    leading: most,
    cause,
    probability,
    remedies,
    weak: evidence.weak >= thresholds.weakTorque.value,
    verdict: {
      ordering,
      verdict,
      usable,
      reason: orderReason(most, evidence, { usable, verdict, cause, probability, remedies }),
      ...(rework && evidence.weighed ? { rework } : {}),
      ...(evidence.weighed ? { probability: evidence.loop.tracking } : {}),
    },
  };
}

/** The smallest change, where all causes that need it are likely enough together. */
function reworkOf(remedies: readonly RemedyProbability[], ordering: LeadOrder): string | undefined {
  const [first] = remedies;
  if (!first || first.remedy === "keep") return undefined;
  const needed = first.remedy === "align" ? thresholds.remedy.value : thresholds.named.value;
  const align = remedies.find(({ remedy }) => remedy === "align");
  const used = align && align.probability > thresholds.remedy.value ? align : first;
  if (used.probability < needed) return undefined;
  if (used.remedy === "align") return `${capital(used.text)}; then the torque trial.`;
  if (used.remedy === "swap") {
    const group = leadOrders.filter((o) => parity(o) !== parity(ordering));
    return `Exchange any two leads (that makes ${ordering} one of ${group.join(", ")}), or encoder A and B, not both; then align again and repeat the torque trial.`;
  }
  return `${capital(used.text)}.`;
}
