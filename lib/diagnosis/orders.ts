import { type LeadOrder, leadOrders } from "../motor/facts.js";
import { parity } from "../motor/leadOrder.js";
import { type CauseCode, causeByCode } from "./causes.js";
import { type JudgedRecording, loopChances, offsetPosterior } from "./judged.js";
import { degrees, percent, short } from "./observe.js";
import type { OrderingVerdict, VerdictWord } from "./types.js";
import { offsetGrid, withoutCurrent } from "./weigh.js";

/** Joint picture of all recordings of one order of one motor. */
export interface OrderPicture {
  readonly ordering: LeadOrder;
  readonly motor: string;
  readonly judged: readonly JudgedRecording[];
  /** Likeliest cause and its odds. */
  readonly cause: CauseCode;
  readonly odds: number;
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
  const observations = judged.flatMap(({ trials }) => trials.map(({ observation }) => observation));
  const torque = observations.filter((o) => o.trial.kind === "torque");
  // A speed trial in which no current flowed (tripped, not enabled) says nothing of the order, where its torque trial was driven.
  const asked = observations.filter((o) => o.trial.kind === "speed");
  const starved = judged.flatMap(({ trials }) =>
    trials.filter((t) => withoutCurrent(t.observation, t.measures)).map(({ observation }) => observation),
  );
  const idle = torque.some((t) => t.behaviour === "turns") ? starved : [];
  const speed = asked.filter((o) => !idle.includes(o));
  // The recording that says most speaks for the order.
  const leading = judged.reduce((a, b) => (top(b)[1] > top(a)[1] ? b : a));
  const [cause, odds] = top(leading);
  const turned = torque.some((o) => o.behaviour === "turns");
  const chances = loopChances(leading.odds, leading.offsets, turned);
  const mirrored = speed.some((o) => o.behaviour === "mirrored");
  const against =
    observations.some((o) => o.verdict === "runaway") ||
    (!mirrored && observations.some((o) => o.sense === "against"));
  const speedTracks = speed.length > 0 && speed.every((o) => o.verdict === "tracking" && o.confidence > 0.9);
  const torqueGood = torque.some(
    (o) => o.behaviour === "turns" && o.sense === "with" && o.bothSenses && o.confidence > 0.98,
  );
  const blocked = observations.some((o) => o.verdict === "blocked" && !idle.includes(o));
  // Evidence before odds: turning with its command both ways, or a speed trial that tracks; and at least half a turn of travel.
  const travel = Math.max(0, ...observations.flatMap((o) => o.holds.map((h) => Math.abs(h.travel))));
  // Most of the torque lost to the offset: it may hold a speed, but it is not an order to keep as it stands.
  const gain = torqueGood || speedTracks ? middleGain(leading) : 1;
  const weak = gain < 0.5;
  const usable =
    !weak &&
    !against &&
    !mirrored &&
    !blocked &&
    (torqueGood || speedTracks) &&
    chances.tracking > 0.93 &&
    travel > Math.PI &&
    !(speed.length > 0 && !speed.some((o) => o.verdict === "tracking"));
  const deciding = [...speed, ...torque].filter((o) => o.verdict !== "undetermined");
  let verdict: VerdictWord = "undetermined";
  if (against) verdict = observations.some((o) => o.verdict === "runaway") ? "runaway" : "reversed";
  else if (usable) verdict = "tracking";
  else if (deciding.length > 0) verdict = deciding[0].verdict;
  if (verdict === "tracking" && !usable && chances.tracking < 0.8) verdict = "undetermined";
  const reason = reasonOf(leading, {
    idle: idle.length > 0,
    gain,
    torque,
    speed,
    against,
    usable,
    verdict,
    cause,
    odds,
    chances,
  });
  const rework = reworkOf(leading, cause, odds, ordering);
  return {
    ordering,
    motor,
    judged,
    cause,
    odds,
    verdict: {
      ordering,
      verdict,
      usable,
      reason,
      ...(rework ? { rework } : {}),
      probability: chances.tracking,
    },
  };
}

export function top(judged: JudgedRecording): [CauseCode, number] {
  let best: [CauseCode, number] = ["unexplained", 0];
  for (const item of judged.odds) if (item[1] > best[1]) best = item;
  return best;
}

/** Median of the torque gain over what the data leave of the offset error. */
function middleGain(judged: JudgedRecording): number {
  const posterior = offsetPosterior(judged.odds, judged.offsets);
  const sorted = [...posterior.keys()].sort((a, b) => Math.cos(offsetGrid[a]) - Math.cos(offsetGrid[b]));
  let sum = 0;
  for (const k of sorted) {
    sum += posterior[k];
    if (sum >= 0.5) return Math.cos(offsetGrid[k]);
  }
  return 1;
}

interface Facts {
  /** A speed trial was run in which no current flowed. */
  readonly idle: boolean;
  /** Median of the torque gain where the shaft turned with its command; 1 where nothing is known of it. */
  readonly gain: number;
  readonly torque: JudgedRecording["trials"][number]["observation"][];
  readonly speed: JudgedRecording["trials"][number]["observation"][];
  readonly against: boolean;
  readonly usable: boolean;
  readonly verdict: VerdictWord;
  readonly cause: CauseCode;
  readonly odds: number;
  readonly chances: { readonly tracking: number; readonly runaway: number; readonly blocked: number };
}

function reasonOf(judged: JudgedRecording, facts: Facts): string {
  const { torque, speed, against, usable, verdict, cause, odds, chances, gain } = facts;
  const tracks = speed.some((o) => o.verdict === "tracking");
  const runs = speed.some((o) => o.verdict === "runaway");
  const third = (judged.odds.get("stale-offset-plus") ?? 0) + (judged.odds.get("stale-offset-minus") ?? 0);
  let because = alikeText(judged);
  if (odds <= 0.8 && third > 0.6)
    because = ` Likely: the offset is a third of an electrical turn off, one way or the other (${percent(third)}), as when leads were moved on by one terminal and the alignment was not repeated.`;
  else if (odds > 0.5)
    because = cause === "nothing-wrong" ? "" : ` Likely: ${causeByCode.get(cause)?.text} (${percent(odds)}).`;
  if (against) {
    const spun = torque.some((o) => o.behaviour === "turns" && o.sense === "against");
    if (runs && !spun && torque.some((o) => o.behaviour === "turns" && o.sense === "with"))
      return `It turns with its command under torque, yet ran away in the speed trial: the sign is right there and wrong here, or the speed loop got something else than the shaft's speed.${because}`;
    return `${spun ? "It spins under torque and reverses with the command, but AGAINST it: the torque has the wrong sign. " : ""}${runs ? "In the speed trial it ran away, as such an order must." : `Under speed control it would run away (${percent(chances.runaway)}).`}${because}`;
  }
  if (usable) {
    const parts: string[] = [];
    if (torque.some((o) => o.behaviour === "turns")) parts.push("turns with its command both ways");
    if (tracks) parts.push("the speed trial tracked");
    return `It ${parts.join(", and ")}.${cause === "disturbed-offset" && odds > 0.5 ? ` The offset is probably off, though (${percent(odds)}): repeat the alignment before it is kept.` : ""}${tracks ? "" : facts.idle ? " In the speed trial no current flowed: the drive had tripped or was not enabled. Find out why, then repeat it." : " No speed trial yet."}`;
  }
  if (verdict === "tracking" && gain < 0.5)
    return `It turns with its command, but with only about ${percent(Math.max(0, gain))} of the torque a good offset gives: repeat the alignment before it is kept.`;
  if (speed.some((o) => o.behaviour === "mirrored"))
    return "It holds its speed, but position and speed are logged with the wrong sign: set the sign of the log right before anything else is judged by it.";
  if (verdict === "blocked") {
    const moved = Math.max(
      0,
      ...[...torque, ...speed].flatMap((o) => o.holds.filter((h) => h.sense !== 0).map((h) => h.swing)),
    );
    const step = Math.max(0, ...[...torque, ...speed].map((o) => o.signals.angleStep));
    return `${moved > 4 * step ? `It moved ${short(degrees(moved))} deg and stayed there under current` : "It did not move at all under current"}.${because}`;
  }
  const last = torque[0] ?? speed[0];
  return last
    ? `${last.text}${last.missing.length > 0 ? ` Missing: ${last.missing.join("; ")}.` : ""}${because}`
    : "No trial of this order could be judged.";
}

/** The causes that share the odds, when none has most of them. */
function alikeText(judged: JudgedRecording): string {
  const list = [...judged.odds]
    .filter(([code, p]) => p > 0.12 && code !== "nothing-wrong")
    .sort((a, b) => b[1] - a[1])
    .slice(0, 3);
  if (list.length === 0) return "";
  return ` The log leaves open: ${list.map(([code, p]) => `${shortText(code, stays(judged))} (${percent(p)})`).join(", ")}.`;
}

const shortTexts: Partial<Record<CauseCode, string>> = {
  "nothing-wrong": "nothing wrong",
  "leads-exchanged": "two leads exchanged",
  "stale-offset-plus": "offset +120 deg",
  "stale-offset-minus": "offset -120 deg",
  "half-turn-offset": "offset half a turn off",
  "disturbed-offset": "a disturbed alignment",
  "pole-pairs-wrong": "wrong pole pairs",
  "line-count-wrong": "wrong line count",
  "line-count-quadrature": "line count off by four",
  "open-lead": "an open lead",
  jam: "a jam or brake",
  "load-or-friction": "load or friction above the torque",
  "current-not-following": "the drive not giving current",
  "sensor-fault": "an encoder fault",
  "speed-loop-mistuned": "speed gains that do not suit",
  "speed-sign-display": "sign of the logged speed",
  unexplained: "something else",
};

/** A cause in a few words, for lists; `still` where the shaft did not move at all, which only an offset near 90 deg can bring about. */
export function shortText(code: CauseCode, still = false): string {
  if (still && code === "disturbed-offset") return "an offset near 90 deg from a disturbed alignment";
  return shortTexts[code] ?? code;
}

/** The shaft did not move in the torque trials of this recording. */
export function stays(judged: JudgedRecording): boolean {
  return judged.trials.some(({ observation: o }) => o.trial.kind === "torque" && o.behaviour === "still");
}

/** Causes that a new alignment mends. */
const realigned: readonly CauseCode[] = [
  "stale-offset-plus",
  "stale-offset-minus",
  "half-turn-offset",
  "disturbed-offset",
];

/** Odds that the offset is what is wrong, in whatever way. */
export function offsetOdds(judged: JudgedRecording): number {
  return realigned.reduce((sum, code) => sum + (judged.odds.get(code) ?? 0), 0);
}

function reworkOf(
  judged: JudgedRecording,
  cause: CauseCode,
  odds: number,
  ordering: LeadOrder,
): string | undefined {
  if (cause === "nothing-wrong") return undefined;
  if (offsetOdds(judged) > 0.6)
    return "Repeat the alignment in this order, on a free shaft and with enough current; then the torque trial.";
  if (odds < 0.5) return undefined;
  if (cause === "leads-exchanged") {
    const group = leadOrders.filter((o) => parity(o) !== parity(ordering));
    return `Exchange any two leads (that makes ${ordering} one of ${group.join(", ")}), or encoder A and B, not both; then align again and repeat the torque trial.`;
  }
  const mend = causeByCode.get(cause)?.mend;
  return mend ? `${mend[0].toUpperCase()}${mend.slice(1)}.` : undefined;
}
