import { outcome } from "../../chart/marks/outcome.js";
import type { Diagnosis, OrderingVerdict, TrialVerdict } from "../../diagnosis/types.js";
import { usability } from "../../diagnosis/usability.js";
import type { LeadOrder } from "../../motor/facts.js";
import { percentText } from "../wording.js";
import { say, tableHtml, text } from "./parts.js";

/** Orders that behave alike, shown once. */
export interface AlikeOrders {
  readonly orders: readonly LeadOrder[];
  readonly verdict: OrderingVerdict;
}

const known = new WeakMap<object, readonly AlikeOrders[]>();

/** Orders with the same outcome in every kind of trial and the same use, together; worked out once for a diagnosis. */
export function alikeOrders(diagnosis: Pick<Diagnosis, "orderings" | "recordings">): readonly AlikeOrders[] {
  const found = known.get(diagnosis) ?? grouped(diagnosis);
  known.set(diagnosis, found);
  return found;
}

function grouped(diagnosis: Pick<Diagnosis, "orderings" | "recordings">): AlikeOrders[] {
  const groups = new Map<string, AlikeOrders>();
  for (const verdict of diagnosis.orderings) {
    const outcomes = trialsOf(diagnosis, verdict.ordering).map(
      (trial) => `${trial.kind} ${outcome(trial).words} ${trial.remedies?.[0]?.remedy ?? ""}`,
    );
    const key = `${verdict.usable} ${verdict.verdict} ${[...new Set(outcomes)].sort().join("; ")}`;
    const group = groups.get(key);
    groups.set(key, {
      verdict: group?.verdict ?? verdict,
      orders: [...(group?.orders ?? []), verdict.ordering],
    });
  }
  return [...groups.values()];
}

/** All trials of one order. */
export function trialsOf(
  diagnosis: Pick<Diagnosis, "recordings">,
  ordering: LeadOrder,
): readonly TrialVerdict[] {
  return diagnosis.recordings
    .filter((recording) => recording.ordering === ordering)
    .flatMap((recording) => recording.trials);
}

/** `tracking (over 99 %)`; where none is likelier than not it is open. */
function forecastWords(forecast: TrialVerdict["forecast"]): string {
  if (!forecast) return "none";
  const { verdict, probability, contradicted } = forecast;
  if (contradicted) return "withheld: the speed trial shows something else";
  if (verdict === "undetermined") return "not known";
  const likely = percentText(probability);
  return probability < 0.5 ? `open (${verdict} ${likely})` : `${verdict} (${likely})`;
}

/** The table of orders, a row for each group of orders that behave alike. */
export function ordersTable(diagnosis: Diagnosis): string {
  const rows = alikeOrders(diagnosis).map(({ orders, verdict }) => {
    const trials = orders.flatMap((order) => trialsOf(diagnosis, order));
    const cell = (kind: TrialVerdict["kind"]) =>
      [...new Set(trials.filter((trial) => trial.kind === kind).map(say))].join("<br>") || "none";
    const forecast = trials.find((trial) => trial.forecast)?.forecast;
    const usable = usability(verdict);
    return [
      `<span class="order">${orders.join(", ")}</span>`,
      cell("torque"),
      cell("speed"),
      text(forecastWords(forecast)),
      `<strong>${usable}</strong>`,
      text(verdict.reason),
    ];
  });
  const columns = ["order", "torque trial", "speed trial", "forecast for speed control", "usable"].map(
    (title) => ({ title }),
  );
  return tableHtml([...columns, { title: "why", wide: true }], rows, "Lead orders and their verdicts");
}
