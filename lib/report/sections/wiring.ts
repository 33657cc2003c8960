import { type WiringAction, wiringPicture } from "../../chart/wiringPicture.js";
import type { Diagnosis, RemedyProbability, TrialVerdict } from "../../diagnosis/types.js";
import type { LeadOrder } from "../../motor/facts.js";
import { baseName, percentText } from "../wording.js";
import { alikeOrders, trialsOf } from "./orders.js";
import { text } from "./parts.js";

/** One case that is drawn: how it is connected, what to change, and how sure that is. */
export interface WiringCase {
  readonly order?: LeadOrder;
  readonly action: WiringAction;
  readonly probability?: number;
  /** Orders for which the same holds. */
  readonly title: string;
  /** Where either of two changes removes the fault, and both together would bring it back: which of the two this is. */
  readonly choice?: "either" | "or instead";
}

/** Remedies that a drawing of the connections can show, with every way to do them; the others are said in words
 * alone. */
const actions: Readonly<Record<string, readonly WiringAction[]>> = {
  keep: [{ kind: "keep" }],
  align: [{ kind: "align" }],
  // A log cannot tell two leads exchanged from A and B exchanged: undoing either makes them agree.
  swap: [{ kind: "exchange-leads", terminals: [1, 2] }, { kind: "exchange-encoder" }],
  "pole-pairs": [{ kind: "set", what: "the pole pairs" }],
  lines: [{ kind: "set", what: "the encoder lines" }],
  continuity: [{ kind: "check", what: "leads" }],
  free: [{ kind: "check", what: "shaft" }],
  load: [{ kind: "check", what: "shaft" }],
  drive: [{ kind: "check", what: "drive" }],
  sensor: [{ kind: "check", what: "encoder" }],
};

/** Most cases that are drawn. */
const most = 3;
/** What can hurt someone is drawn before what only stands still. */
const grave: ReadonlySet<string> = new Set(["runaway", "reversed"]);

interface Drawable extends Pick<WiringCase, "order" | "title" | "probability"> {
  readonly ways: readonly WiringAction[];
  readonly rank: number;
}

/**
 * What to draw: the usable order first, then each group of orders that behave alike with its likeliest remedy, those
 * that turn the wrong way before the others and the surest first, at most three. A remedy that is less likely than not
 * is not drawn: a picture looks more certain than a sentence. One that can be done in two ways is drawn in both, one
 * after the other.
 */
export function wiringCases(diagnosis: Pick<Diagnosis, "orderings" | "recordings">): WiringCase[] {
  const cases: Drawable[] = alikeOrders(diagnosis).flatMap(({ orders, verdict }) => {
    const [order] = orders;
    const title = orders.length > 1 ? `Orders ${orders.join(", ")} (drawn: ${order})` : `Order ${order}`;
    if (verdict.usable) return [{ order, title, ways: actions.keep, rank: 0 }];
    const trials = orders.flatMap((one) => trialsOf(diagnosis, one));
    const best = likeliest(trials);
    if (!best) return [];
    const rank = trials.some((trial) => grave.has(trial.verdict)) ? 1 : 3 - best.probability;
    return [{ order, title, ...best, rank }];
  });
  const several = diagnosis.recordings.length > 1;
  if (diagnosis.orderings.length === 0)
    for (const recording of diagnosis.recordings) {
      const best = (recording.fieldOriented ?? 0) > 0.5 ? likeliest(recording.trials) : undefined;
      if (best && !cases.some(({ ways }) => ways === best.ways))
        cases.push({
          title: several ? `${baseName(recording.path)}, as connected` : "As connected",
          ...best,
          rank: 1,
        });
    }
  return cases
    .sort((a, b) => a.rank - b.rank)
    .slice(0, most)
    .flatMap(({ ways, rank: _, ...one }) =>
      ways.map((action, i) => ({
        ...one,
        action,
        ...(ways.length < 2 ? {} : { choice: i === 0 ? ("either" as const) : ("or instead" as const) }),
      })),
    );
}

function likeliest(
  trials: readonly TrialVerdict[],
): { readonly ways: readonly WiringAction[]; readonly probability: number } | undefined {
  let best: RemedyProbability | undefined;
  for (const trial of trials) {
    const first = trial.remedies?.[0];
    if (first && (best === undefined || first.probability > best.probability)) best = first;
  }
  const ways = best && actions[best.remedy];
  return best && ways && best.remedy !== "keep" && best.probability > 0.5
    ? { ways, probability: best.probability }
    : undefined;
}

/** The cases as pictures side by side; empty without a case. The pictures follow the theme of the page. */
export function wiringHtml(diagnosis: Diagnosis): string {
  const cases = wiringCases(diagnosis);
  if (cases.length === 0) return "";
  let drawn = "";
  for (const { order, action, probability, title, choice } of cases) {
    const second = choice === "or instead";
    const wiring = { ...(order ? { order } : {}), action, ...(second ? { encoderOnly: true } : {}) };
    const pictures = `<div class="on-light">${wiringPicture(wiring, "light")}</div><div class="on-dark">${wiringPicture(wiring, "dark")}</div>`;
    const likely = probability === undefined ? "" : `: likely remedy, ${percentText(probability)}`;
    drawn += second
      ? `<p>Or instead, <strong>not both</strong>:</p>${pictures}`
      : `${drawn && "</figure>\n"}<figure><figcaption>${text(title)}${likely}</figcaption>${pictures}`;
  }
  const choice = cases.some((one) => one.choice !== undefined)
    ? " Exchanging leads keeps the sense that counts as positive; exchanging A and B turns it round; both together bring the fault back."
    : "";
  return `<div class="wirings">${drawn}</figure></div>
<p class="quiet">Power off, locked and proved dead before a wire is touched. Dashed: as it is; bold: as it should be; ring: where to act.${choice}</p>`;
}
