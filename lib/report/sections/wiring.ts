import { type WiringAction, wiringPicture } from "../../chart/wiringPicture.js";
import type { Diagnosis, RemedyProbability, TrialVerdict } from "../../diagnosis/types.js";
import type { LeadOrder } from "../../motor/facts.js";
import { percentText } from "../wording.js";
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

/** Remedies that a drawing of the connections can show, with every way to do them; the others are said in words alone. */
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

/**
 * What to draw: the usable order first, then each group of orders that behave alike with its likeliest remedy, at most three. A remedy that is
 * less likely than not is not drawn: a picture looks more certain than a sentence. One that can be done in two ways is drawn in both.
 */
export function wiringCases(diagnosis: Pick<Diagnosis, "orderings" | "recordings">): WiringCase[] {
  const cases: (Omit<WiringCase, "action" | "choice"> & { readonly ways: readonly WiringAction[] })[] = [];
  for (const { orders, verdict } of alikeOrders(diagnosis)) {
    const [order] = orders;
    const title = orders.length > 1 ? `Orders ${orders.join(", ")}` : `Order ${order}`;
    if (verdict.usable) {
      cases.unshift({ order, ways: actions.keep, title });
      continue;
    }
    const best = likeliest(orders.flatMap((one) => trialsOf(diagnosis, one)));
    if (best) cases.push({ order, title, ...best });
  }
  if (diagnosis.orderings.length === 0)
    for (const recording of diagnosis.recordings) {
      const best = (recording.fieldOriented ?? 0) > 0.5 ? likeliest(recording.trials) : undefined;
      if (best && !cases.some(({ ways }) => ways === best.ways))
        cases.push({ title: "As connected", ...best });
    }
  return cases.slice(0, most).flatMap(({ ways, ...one }) =>
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
  const drawn = cases.map(({ order, action, probability, title, choice }) => {
    const likely = probability === undefined ? "" : `likely remedy, ${percentText(probability)}`;
    const sure =
      choice === "or instead"
        ? `: ${choice}, not both`
        : likely && `: ${[likely, choice].filter(Boolean).join(", ")}`;
    const wiring = { ...(order ? { order } : {}), action };
    return `<figure><figcaption>${text(title)}${sure}</figcaption><div class="on-light">${wiringPicture(wiring, "light")}</div><div class="on-dark">${wiringPicture(wiring, "dark")}</div></figure>`;
  });
  return `<div class="wirings">${drawn.join("\n")}</div>
<p class="quiet">Power off, locked and proved dead before a wire is touched. Dashed: as it is; bold: as it should be; ring: where to act.${cases.some(({ choice }) => choice) ? " Leads exchanged: the sense that counts as positive stays. A and B exchanged: it turns round. Both: the fault is back." : ""}</p>`;
}
