import { visible } from "../../units/text.js";
import type { ColumnEvidence, ColumnUnderstanding } from "../types.js";
import type { ColumnFacts } from "./columnFacts.js";
import type { Hypothesis } from "./hypotheses.js";
import type { Relation, Weighed } from "./jointTypes.js";
import type { Meaning } from "./roles.js";
import type { StatedColumn } from "./statedColumns.js";

/** What one column is described from. */
export interface Context {
  readonly facts: ColumnFacts;
  readonly relations: readonly Relation[];
  readonly chosen: readonly Hypothesis[];
  readonly kind: string;
  /** As relations call the column. */
  readonly label: string;
  /** Columns of the same name in tables beside it speak for what it was taken for. */
  readonly saidElsewhere: boolean;
}

/** What one column was taken for, in plain data: role, unit, probabilities, evidence, runner-up. */
export function described(
  index: number,
  column: string,
  chosen: Hypothesis,
  weighed: readonly Weighed[],
  motor: string | undefined,
  stated: StatedColumn | undefined,
  context: Context,
): ColumnUnderstanding {
  const byRole = new Map<Meaning, number>();
  for (const { hypothesis, probability } of weighed)
    byRole.set(hypothesis.role, (byRole.get(hypothesis.role) ?? 0) + probability);
  const probability = Math.min(stated?.role === undefined ? 0.99 : 1, byRole.get(chosen.role) ?? 0);
  const ofUnit = weighed.find((w) => w.hypothesis === chosen)?.probability ?? 0;
  const next = [...byRole].filter(([role]) => role !== chosen.role).sort((a, b) => b[1] - a[1])[0];
  const nextUnit = weighed.find(
    (w) => w.hypothesis.role === chosen.role && w.hypothesis.unit !== chosen.unit,
  );
  const runnerUp =
    next === undefined ? undefined : weighed.find((w) => w.hypothesis.role === next[0])?.hypothesis;
  const unitProbability = Math.min(1, probability > 0 ? ofUnit / (byRole.get(chosen.role) ?? 1) : 0);
  return {
    index,
    column,
    motor,
    ...(chosen.role === "other" ? {} : { role: chosen.role }),
    ...(chosen.unit === undefined || chosen.role === "other" ? {} : { unit: chosen.unit, unitProbability }),
    probability,
    why: whyOf(index, stated, context),
    ...(runnerUp === undefined || next === undefined || next[1] < 0.005
      ? {}
      : {
          runnerUp: {
            ...(runnerUp.role === "other" ? {} : { role: runnerUp.role }),
            ...(runnerUp.unit === undefined || runnerUp.role === "other" ? {} : { unit: runnerUp.unit }),
            probability: next[1],
          },
        }),
    ...(nextUnit === undefined || nextUnit.probability < 0.005
      ? {}
      : { otherUnit: { unit: nextUnit.hypothesis.unit ?? "1", probability: nextUnit.probability } }),
  };
}

const shapeWords = {
  constant: "never changes",
  held: "held and stepped",
  ramps: "runs without noise",
  clean: "a curve without noise",
  smooth: "changes smoothly",
  noisy: "noisy",
} as const;

function whyOf(index: number, stated: StatedColumn | undefined, context: Context): ColumnEvidence[] {
  const { facts } = context;
  const out: ColumnEvidence[] = [];
  if (stated !== undefined && (stated.role !== undefined || stated.unit !== undefined || stated.ignored))
    out.push({
      kind: "stated",
      text: [...new Set([stated.by, stated.unitBy])].filter((b) => b !== undefined && b !== "").join(", "),
    });
  if (stated?.role === undefined && facts.name.told.length > 0) {
    out.push({ kind: "name", text: `name (${facts.name.told.join(", ")})` });
  }
  const { unit, otherUnit } = facts.heading;
  if (unit !== undefined && stated?.unit === undefined)
    out.push({ kind: "unit", text: `unit ${visible(unit.spelling, 20)}` });
  else if (otherUnit !== undefined) out.push({ kind: "unit", text: `unit ${visible(otherUnit, 20)}` });
  if (context.kind === "stamp") out.push({ kind: "numbers", text: "stamps" });
  if (facts.devices !== undefined)
    out.push({ kind: "numbers", text: `goes through ${facts.devices} values in turns` });
  else if (facts.parts === true)
    out.push({ kind: "neighbours", text: "stays for long, and changes where trials begin" });
  else if (facts.numbers !== undefined && facts.numbers.count > 0) {
    const { rising, even, shape, whole } = facts.numbers;
    const words = rising > 0.985 && even > 0.9 ? "rises evenly" : shapeWords[shape];
    out.push({
      kind: "numbers",
      text: `${words}${whole && shape !== "constant" ? ", whole numbers" : ""}${facts.wrap === undefined ? "" : `, wraps at ${Number(facts.wrap.toPrecision(6))}`}`,
    });
  }
  out.push(...neighboursOf(index, context));
  if (context.saidElsewhere) out.push({ kind: "neighbours", text: "so do tables like this one" });
  if (out.length === 0) out.push({ kind: "numbers", text: "nothing is known of it" });
  return out;
}

/** What the columns beside it say: the two most telling things, one for each neighbour, with the column itself as
 * "it". */
function neighboursOf(index: number, { relations, chosen, label }: Context): ColumnEvidence[] {
  // A clock takes part in every rate, which says nothing of the clock.
  if (chosen[index].role === "time") return [];
  const telling = relations
    .filter((r) => r.columns.includes(index))
    .map((r) => ({ relation: r, score: r.score(r.columns.map((k) => chosen[k])) }))
    .filter(({ score }) => score > 0.5)
    .sort((a, b) => b.score - a.score);
  const seen = new Set<number>();
  const out: ColumnEvidence[] = [];
  for (const { relation } of telling) {
    const others = relation.columns.filter((k) => k !== index && chosen[k].role !== "time");
    if (out.length >= 2 || others.every((k) => seen.has(k))) continue;
    for (const k of others) seen.add(k);
    out.push({ kind: "neighbours", text: relation.text.replaceAll(`"${label}"`, "it") });
  }
  return out;
}
