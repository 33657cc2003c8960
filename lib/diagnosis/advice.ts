import { parity } from "../motor/leadOrder.js";
import { type CauseCode, causeByCode } from "./causes.js";
import type { DiagnoseOptions } from "./diagnose.js";
import type { JudgedRecording } from "./judged.js";
import { nextTest } from "./nextTest.js";
import { percent } from "./observe.js";
import { type OrderPicture, orderPictures, shortText, stays, top } from "./orders.js";
import type { NextTest } from "./types.js";

/** What to do, most useful first; and the single next test. */
export function adviceFor(
  all: readonly JudgedRecording[],
  options: DiagnoseOptions,
): { advice: string[]; nextTest?: NextTest } {
  const judged = all.filter(({ trials }) =>
    trials.some(
      (t) =>
        t.hand?.mismatch !== undefined ||
        t.hand?.frozen === true ||
        t.hand?.verdict === "blocked" ||
        (t.weighed && t.observation.holds.some((h) => h.sense !== 0)),
    ),
  );
  if (judged.length === 0) return { advice: [] };
  const pictures = orderPictures(judged);
  const advice: string[] = [];
  const motors = [...new Set(pictures.map(({ motor }) => motor))];
  for (const motor of motors) {
    const set = pictures.filter((picture) => picture.motor === motor);
    const name = motors.length > 1 && motor !== "" ? `${motor}: ` : "";
    advice.push(...setAdvice(set, options).map((line) => `${name}${line}`));
  }
  if (pictures.length === 0) for (const one of judged) advice.push(...looseAdvice(one, judged.length > 1));
  const test = testFor(judged, pictures);
  if (test) {
    advice.push(
      `Next test: ${test.test} ${test.outcomes.map((o) => `${o[0].toUpperCase()}${o.slice(1)}.`).join(" ")}${test.caution ? ` Caution: ${test.caution}.` : ""}`,
    );
  }
  if (pictures.some(turnsAgainst))
    advice.push(
      "Do not close a speed or position loop on an order that turns against its command: no gain tames it, and reversing the reference does not stop it.",
    );
  return test ? { advice, nextTest: test } : { advice };
}

/** An order whose torque has the wrong sign, seen under torque or under control. */
const turnsAgainst = ({ verdict }: OrderPicture): boolean =>
  verdict.verdict === "runaway" || verdict.verdict === "reversed";

function setAdvice(set: readonly OrderPicture[], options: DiagnoseOptions): string[] {
  const out: string[] = [];
  const usable = set.filter(({ verdict }) => verdict.usable);
  const tempting = set.filter(
    (picture) =>
      turnsAgainst(picture) &&
      picture.judged.some(({ trials }) =>
        trials.some((t) => t.observation.behaviour === "turns" && t.observation.sense === "against"),
      ),
  );
  const names = (list: readonly OrderPicture[]): string => list.map(({ ordering }) => ordering).join(", ");
  if (usable.length > 0) {
    const doubt = Math.min(
      ...usable.map(({ judged }) =>
        Math.max(...judged.map(({ odds: causes }) => causes.get("disturbed-offset") ?? 0)),
      ),
    );
    const weak = usable.every(({ cause, odds }) => cause === "disturbed-offset" && odds > 0.5);
    out.push(
      `Keep ${names(usable).replace(/, ([^,]*)$/, " or $1")}. ${weak ? "Repeat its alignment first: the offset is probably off." : doubt > 0.2 ? `No fault shows; that the alignment is off all the same is left open (${percent(doubt)}).` : "Nothing needs rework."}`,
    );
    const groups = new Set(usable.map(({ ordering }) => parity(ordering)));
    if (usable.length > 1 && groups.size === 1)
      out.push(
        "The usable orders are cyclic shifts of each other, each with its own alignment: they turn the same way and are equal.",
      );
    if (groups.size > 1)
      out.push(
        "Orders of both groups seem to work, which one encoder sense cannot give: check that the orders are labelled right.",
      );
  }
  for (const picture of tempting)
    out.push(
      `Not ${picture.ordering}, although it spins and reverses: it turns against its command and ${picture.judged.some(({ trials }) => trials.some((t) => t.observation.verdict === "runaway")) ? "ran away" : "would run away"} under speed control.${picture.verdict.rework ? ` To use it all the same: ${lower(picture.verdict.rework)}` : ""}`,
    );
  if (usable.length === 0) out.push(...withoutUsable(set));
  else {
    const crossed = set.filter(
      ({ cause, odds, verdict }) => cause === "leads-exchanged" && odds > 0.5 && !verdict.usable,
    );
    if (crossed.length > 0)
      out.push(
        `${names(crossed)}: two leads exchanged against the encoder's sense. Exchanging any two leads, or encoder A and B, would bring ${crossed.length > 1 ? "each" : "it"} into the working group; align again after it. Never both, and never one after the other at random.`,
      );
    for (const picture of set) {
      if (picture.verdict.usable || tempting.includes(picture) || crossed.includes(picture)) continue;
      const shared = alike(picture);
      out.push(
        shared.length > 1
          ? `${picture.ordering}: ${shared.map(([code, p]) => `${shortText(code, picture.judged.some(stays))} (${percent(p)})`).join(", ")} look alike in this log. ${picture.verdict.rework ?? "Not needed while another order works; the next test below would tell."}`
          : picture.verdict.rework
            ? `${picture.ordering}: ${lower(picture.verdict.rework)}`
            : `${picture.ordering}: not judged well enough to advise.`,
      );
    }
  }
  out.push(...consistency(set));
  if (options.wanted) out.push(rotation(usable, options.wanted));
  return out;
}

function alike(picture: OrderPicture): [CauseCode, number][] {
  const leading = picture.judged.reduce((a, b) => (top(b)[1] > top(a)[1] ? b : a));
  const best = leading.logs.get(picture.cause) as number;
  return [...leading.odds]
    .filter(([code, p]) => p > 0.08 && (leading.logs.get(code) as number) > best - Math.log(8))
    .sort((a, b) => b[1] - a[1]);
}

const lower = (text: string): string => (text ? `${text[0].toLowerCase()}${text.slice(1)}` : text);

function withoutUsable(set: readonly OrderPicture[]): string[] {
  const out: string[] = [];
  const byCause = new Map<CauseCode, OrderPicture[]>();
  for (const picture of set) byCause.set(picture.cause, [...(byCause.get(picture.cause) ?? []), picture]);
  // The smallest change first: an offset before a setting, a setting before the leads, the leads before the mechanics.
  const effort: CauseCode[] = [
    "stale-offset-plus",
    "stale-offset-minus",
    "half-turn-offset",
    "disturbed-offset",
    "pole-pairs-wrong",
    "line-count-quadrature",
    "line-count-wrong",
    "leads-exchanged",
    "current-not-following",
    "open-lead",
    "sensor-fault",
    "jam",
    "load-or-friction",
    "speed-loop-mistuned",
    "speed-sign-display",
    "unexplained",
    "nothing-wrong",
  ];
  const list = [...byCause].sort((a, b) => effort.indexOf(a[0]) - effort.indexOf(b[0]));
  for (const [cause, pictures] of list) {
    const sure = pictures.filter(({ odds }) => odds > 0.5);
    if (sure.length === 0 || cause === "nothing-wrong" || cause === "unexplained") continue;
    const { mend, text } = causeByCode.get(cause) ?? { mend: "", text: "" };
    out.push(`${sure.map(({ ordering }) => ordering).join(", ")}: ${text}. Least rework: ${mend}.`);
  }
  const promising = set.filter(
    ({ verdict, cause }) => verdict.verdict !== "blocked" && cause === "nothing-wrong",
  );
  const tripped = promising.filter(({ judged }) =>
    judged.some(({ trials }) => trials.some((t) => t.observation.tripped !== undefined)),
  );
  const early = promising.filter((picture) => !tripped.includes(picture));
  const names = (list: readonly OrderPicture[]): string =>
    `${list.map(({ ordering }) => ordering).join(", ")} ${list.length > 1 ? "look" : "looks"}`;
  if (tripped.length > 0)
    out.push(
      `${names(tripped)} right so far, but the drive tripped or was switched off before enough was seen: find out why (overspeed, overcurrent), then repeat the torque trial in both senses with less current or shorter.`,
    );
  if (early.length > 0)
    out.push(
      `${names(early)} right so far, but on too little evidence to keep: repeat the torque trial from standstill in both senses, then a speed trial at low speed.`,
    );
  if (out.length === 0) out.push("No order can be kept on this evidence, and no single cause stands out.");
  return out;
}

/** Does the set as a whole make sense? */
function consistency(set: readonly OrderPicture[]): string[] {
  const out: string[] = [];
  const works = set.filter(({ verdict }) => verdict.usable);
  const against = set.filter(turnsAgainst);
  const blocked = set.filter(({ verdict }) => verdict.verdict === "blocked");
  if (
    works.length > 0 &&
    against.some(({ ordering }) => works.some((w) => parity(w.ordering) === parity(ordering)))
  )
    out.push(
      "One order works and another of the same three turns against its command: the offset was not found afresh in each order. Repeat the alignment after every change of leads.",
    );
  if (set.length >= 4 && blocked.length === set.length)
    out.push(
      set.length === 6
        ? "All six orders are blocked: the leads are not the cause. Look at pole pairs, line count, an open lead, a jam or brake."
        : "All orders tried so far are blocked, of both groups: more orders will hardly help.",
    );
  const groups = (["even", "odd"] as const).map((which) =>
    set.filter(({ ordering }) => parity(ordering) === which),
  );
  if (works.length > 0)
    for (const group of groups) {
      const working = group.filter(({ verdict }) => verdict.usable);
      const stuck = group.filter(({ verdict }) => verdict.verdict === "blocked");
      if (working.length > 0 && stuck.length > 0)
        out.push(
          `${stuck.map(({ ordering }) => ordering).join(", ")} should work like ${working[0].ordering} once aligned, and ${stuck.length > 1 ? "are" : "is"} blocked: the offset, or something that held the shaft, not the leads.`,
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
    return `${rule}: ${fits.map(({ ordering }) => ordering).join(", ")} gives ${word} rotation for a positive command, as wanted.`;
  return `${rule}: ${usable.map(({ ordering }) => ordering).join(", ")} gives the other sense for a positive command. For ${word} rotation exchange two leads and encoder A and B together, then align again; or reverse the reference.`;
}

function looseAdvice(judged: JudgedRecording, several: boolean): string[] {
  const [cause, odds] = top(judged);
  const where = several ? `${fileName(judged.recording.path)}: ` : "";
  if (cause === "nothing-wrong" && odds > 0.5) {
    const speed = judged.trials.some(
      ({ observation: o }) => o.trial.kind === "speed" && o.verdict === "tracking",
    );
    const both = judged.trials.some(({ observation: o }) => o.bothSenses);
    return [
      `${where}nothing speaks for a fault.${speed ? "" : both ? " Close the speed loop at low speed and low current first." : " Repeat the torque trial from standstill in both senses before a speed loop is closed."}`,
    ];
  }
  if (odds > 0.5)
    return [
      `${where}likely ${causeByCode.get(cause)?.text} (${percent(odds)}). Least rework: ${causeByCode.get(cause)?.mend}.`,
    ];
  const list = [...judged.odds]
    .sort((a, b) => b[1] - a[1])
    .filter(([, p]) => p > 0.1)
    .slice(0, 4);
  return [
    `${where}the log leaves open: ${list.map(([code, p]) => `${shortText(code, stays(judged))} (${percent(p)})`).join(", ")}.`,
  ];
}

function fileName(path: string): string {
  return path.split(/[/\\]/).pop() ?? path;
}

/** The test for the recording whose cause is least certain; where an order works already, only for what stays open beside it. */
function testFor(
  judged: readonly JudgedRecording[],
  pictures: readonly OrderPicture[],
): NextTest | undefined {
  const open = judged.filter((one) => top(one)[1] < 0.9);
  const list = open.length > 0 ? open : [];
  let best: NextTest | undefined;
  let of: JudgedRecording | undefined;
  for (const one of list) {
    const test = nextTest(one.odds);
    if (test && (!best || test.information > best.information)) {
      best = test;
      of = one;
    }
  }
  if (!best || !of) return undefined;
  const order = of.recording.ordering;
  return order && pictures.length > 1 ? { ...best, test: `(${order}) ${best.test}` } : best;
}
