import type { LeadOrder } from "../motor/facts.js";
import { parity } from "../motor/leadOrder.js";
import { percent } from "./observe.js";
import type { DiagnoseOptions } from "./options.js";
import { stays } from "./orderReason.js";
import type { OrderPicture } from "./orders.js";
import { shortText } from "./remedies.js";
import { type CauseCode, causeByCode, type RemedyCode } from "./tables/causes.js";
import { thresholds } from "./tables/thresholds.js";

/** An order whose torque has the wrong sign, seen under torque or under control. */
export const turnsAgainst = ({ verdict }: OrderPicture): boolean =>
  verdict.verdict === "runaway" || verdict.verdict === "reversed";

const names = (list: readonly OrderPicture[]): string => list.map(({ ordering }) => ordering).join(", ");
const lower = (text: string): string => (text ? `${text[0].toLowerCase()}${text.slice(1)}` : text);

/** What to do with the orders of one motor. */
export function setAdvice(set: readonly OrderPicture[], options: DiagnoseOptions): string[] {
  const usable = set.filter(({ verdict }) => verdict.usable);
  const tempting = set.filter(isTempting);
  const out = [
    ...(usable.length > 0 ? keepAdvice(usable) : []),
    ...tempting.map(temptingAdvice),
    ...(usable.length > 0 ? besideUsable(set, tempting) : withoutUsable(set)),
    ...consistency(set),
  ];
  if (options.wanted) out.push(rotation(usable, options.wanted));
  return out;
}

/** Orders of which no trial tells causes apart for want of a scale: with it they would be judged as the others are. */
export function scaleFirst(set: readonly OrderPicture[]): string[] {
  const bare = set.filter(
    ({ verdict }) => verdict.verdict !== "undetermined" && verdict.probability === undefined,
  );
  const counts = bare.some(({ judged }) =>
    judged.some(({ recording }) => recording.findings.some(({ code }) => code === "lines-missing")),
  );
  return counts
    ? [
        `State the encoder's lines (--lines): ${names(bare)} ${bare.length > 1 ? "are" : "is"} judged by sense and shape alone until then, without causes, figures or a forecast, and none is kept on that.`,
      ]
    : [];
}

/** It spins and reverses, against its command. */
const isTempting = (picture: OrderPicture): boolean =>
  turnsAgainst(picture) &&
  picture.judged.some(({ trials }) =>
    trials.some((t) => t.observation.behaviour === "turns" && t.observation.sense === "against"),
  );

function keepAdvice(usable: readonly OrderPicture[]): string[] {
  const out: string[] = [];
  const doubt = Math.min(
    ...usable.map(({ judged }) =>
      Math.max(...judged.map(({ posterior }) => posterior.get("disturbed-offset") ?? 0)),
    ),
  );
  const weak = usable.every(
    ({ cause, probability }) => cause === "disturbed-offset" && probability > thresholds.named.value,
  );
  const state = weak
    ? "Repeat its alignment first: the offset is probably off."
    : doubt > thresholds.doubtful.value
      ? `No fault shows; that the alignment is off all the same is left open (${percent(doubt)}).`
      : "Nothing needs rework.";
  out.push(`Keep ${names(usable).replace(/, ([^,]*)$/, " or $1")}. ${state}`);
  const groups = new Set(usable.map(({ ordering }) => parity(ordering)));
  if (usable.length > 1 && groups.size === 1)
    out.push(
      "The usable orders are cyclic shifts of each other, each with its own alignment: they turn the same way and are equal.",
    );
  if (groups.size > 1)
    out.push(
      "Orders of both groups seem to work, which one encoder sense cannot give: check that the orders are labelled right.",
    );
  return out;
}

function temptingAdvice(picture: OrderPicture): string {
  const ran = picture.judged.some(({ trials }) => trials.some((t) => t.observation.verdict === "runaway"));
  const { rework } = picture.verdict;
  return `Not ${picture.ordering}, although it spins and reverses: it turns against its command and ${ran ? "ran away" : "would run away"} under speed control.${rework ? ` To use it all the same: ${lower(rework)}` : ""}`;
}

/** The orders that do not work, beside one that does. */
function besideUsable(set: readonly OrderPicture[], tempting: readonly OrderPicture[]): string[] {
  const out: string[] = [];
  const swapped = set.filter(
    ({ cause, probability, verdict }) =>
      cause === "phases-swapped" && probability > thresholds.named.value && !verdict.usable,
  );
  if (swapped.length > 0)
    out.push(
      `${names(swapped)}: two motor phases swapped against the encoder's sense. Exchanging any two leads, or encoder A and B, would bring ${swapped.length > 1 ? "each" : "it"} into the working group; align again after it. Never both, and never one after the other at random.`,
    );
  for (const picture of set) {
    if (picture.verdict.usable || tempting.includes(picture) || swapped.includes(picture)) continue;
    const shared = alike(picture);
    const { rework } = picture.verdict;
    out.push(
      shared.length > 1
        ? `${picture.ordering}: ${shared.map(([code, p]) => `${shortText(code, picture.judged.some(stays))} (${percent(p)})`).join(", ")} look alike in this log. ${rework ?? "Not needed while another order works; the next test below would tell."}`
        : rework
          ? `${picture.ordering}: ${lower(rework)}`
          : `${picture.ordering}: not judged well enough to advise.`,
    );
  }
  return out;
}

/** Causes that the log of an order hardly tells from its likeliest one. */
function alike(picture: OrderPicture): [CauseCode, number][] {
  const { logs, posterior } = picture.leading;
  const best = logs.get(picture.cause) ?? 0;
  return [...posterior]
    .filter(([code, p]) => p > 0.08 && (logs.get(code) ?? Number.NEGATIVE_INFINITY) > best - Math.log(8))
    .sort((a, b) => b[1] - a[1]);
}

/** The smallest change first: an offset before a setting, a setting before the leads, the leads before the
 * mechanics. */
const effort: readonly RemedyCode[] = [
  "align",
  "pole-pairs",
  "lines",
  "swap",
  "polarity",
  "drive",
  "continuity",
  "sensor",
  "free",
  "load",
  "tune",
  "display",
];

function withoutUsable(set: readonly OrderPicture[]): string[] {
  const out: string[] = [];
  for (const remedy of effort) {
    const pictures = set.filter(
      ({ remedies }) => remedies[0]?.remedy === remedy && remedies[0].probability > thresholds.named.value,
    );
    for (const cause of new Set(pictures.map(({ cause }) => cause))) {
      const those = pictures.filter((picture) => picture.cause === cause);
      const [{ remedies }] = those;
      const sure = those.every(({ probability }) => probability > thresholds.named.value);
      const first = remedies[0];
      const what = sure
        ? causeByCode.get(cause)?.text
        : `${first.open ?? `${first.causes.map((code) => shortText(code as CauseCode)).join(" or ")}`}`;
      out.push(`${names(those)}: ${what}. Least rework: ${first.text}.`);
    }
  }
  out.push(...promising(set));
  if (out.length === 0) out.push("No order can be kept on this evidence, and no single cause stands out.");
  return out;
}

/** Orders that look right on too little. */
function promising(set: readonly OrderPicture[]): string[] {
  const list = set.filter(
    (picture) =>
      picture.cause === "nothing-wrong" && picture.verdict.verdict !== "blocked" && !turnsAgainst(picture),
  );
  const tripped = list.filter(({ judged }) =>
    judged.some(({ trials }) => trials.some((t) => t.observation.tripped !== undefined)),
  );
  const weak = list.filter((picture) => picture.weak && !tripped.includes(picture));
  const early = list.filter((picture) => !tripped.includes(picture) && !weak.includes(picture));
  const look = (some: readonly OrderPicture[]): string =>
    `${names(some)} ${some.length > 1 ? "look" : "looks"}`;
  return [
    ...(tripped.length > 0
      ? [
          `${look(tripped)} right so far, but the drive tripped or was switched off before enough was seen: find out why (overspeed, overcurrent), then repeat the torque trial in both senses with less current or shorter.`,
        ]
      : []),
    ...(weak.length > 0
      ? [
          `${look(weak)} right so far, but the offset may leave too little torque to keep: repeat the torque trial in both senses, each command held until the speed has settled, or with the d and q voltages logged.`,
        ]
      : []),
    ...(early.length > 0
      ? [
          `${look(early)} right so far, but on too little evidence to keep: repeat the torque trial from standstill in both senses, then a speed trial at low speed.`,
        ]
      : []),
  ];
}

/** Does the set as a whole make sense? */
function consistency(set: readonly OrderPicture[]): string[] {
  const out: string[] = [];
  const works = set.filter(({ verdict }) => verdict.usable);
  const blocked = set.filter(({ verdict }) => verdict.verdict === "blocked");
  const group = (order: LeadOrder): readonly OrderPicture[] =>
    works.filter(({ ordering }) => parity(ordering) === parity(order));
  if (set.some((picture) => turnsAgainst(picture) && group(picture.ordering).length > 0))
    out.push(
      "One order works and another of the same three turns against its command: the offset was not found afresh in each order. Repeat the alignment after every change of leads.",
    );
  if (set.length >= 4 && blocked.length === set.length)
    out.push(
      set.length === 6
        ? "All six orders are blocked: the leads are not the cause. Look at pole pairs, line count, an open phase, a jam or brake."
        : "All orders tried so far are blocked, of both groups: more orders will hardly help.",
    );
  for (const which of ["even", "odd"] as const) {
    const [working] = works.filter(({ ordering }) => parity(ordering) === which);
    const stuck = blocked.filter(({ ordering }) => parity(ordering) === which);
    if (working && stuck.length > 0)
      out.push(
        `${names(stuck)} should work like ${working.ordering} once aligned, and ${stuck.length > 1 ? "are" : "is"} blocked: the offset, or something that held the shaft, not the leads.`,
      );
  }
  return out;
}

/** IEC 60034-8: leads in alphabetical order U-V-W give clockwise rotation seen from the drive end. */
function rotation(usable: readonly OrderPicture[], wanted: "clockwise" | "counterclockwise"): string {
  const rule =
    "By IEC 60034-8 the order U-V-W turns a motor clockwise seen from its drive end (the shaft end)";
  const word = wanted === "clockwise" ? "clockwise" : "counter-clockwise";
  if (usable.length === 0) return `${rule}; ${word} is wanted, which no usable order gives yet.`;
  const fits = usable.filter(({ ordering }) => (parity(ordering) === "even") === (wanted === "clockwise"));
  if (fits.length > 0)
    return `${rule}: ${names(fits)} gives ${word} rotation for a positive command, as wanted.`;
  return `${rule}: ${names(usable)} gives the other sense for a positive command. For ${word} rotation exchange two leads and encoder A and B together, then align again; or reverse the reference.`;
}
