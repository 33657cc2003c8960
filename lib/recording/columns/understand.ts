import { visible } from "../../units/text.js";
import type { SourceTable } from "../formats/sourceTable.js";
import type { ColumnEvidence, ColumnUnderstanding } from "../types.js";
import { columnNumbers } from "./columnNumbers.js";
import { wordsOf } from "./foldedWords.js";
import { type ColumnFacts, type Hypothesis, hypothesesOf } from "./hypotheses.js";
import { type Relation, solveJoint, type Weighed } from "./joint.js";
import { edgesOf, looked, lookedRows } from "./lookedRows.js";
import { motorGroups } from "./motorGroups.js";
import { type NameEvidence, nameEvidence } from "./nameEvidence.js";
import { type NumberColumn, relationsOf } from "./relationList.js";
import { windowsOf } from "./relations.js";
import { type Axis, type Meaning, type Quantity, roleFacts } from "./roles.js";
import type { StatedColumn } from "./statedColumns.js";
import { type Heading, splitHeading, unitOfText } from "./unitText.js";

/** A chance below which a column becomes no channel, and is asked about. */
export const usedFrom = 0.6;
/** A chance below which what was taken is asked about. */
export const askedBelow = 0.8;

/** Columns as they were understood, and the motors the table was found to hold. */
export interface TableUnderstanding {
  readonly columns: readonly ColumnUnderstanding[];
  readonly motors: readonly string[];
}

/**
 * Understands all columns of a table together: what each holds and in which unit, with probabilities, from names, units, numbers and each other.
 *
 * @param table the source, its columns not yet read
 * @param values values of columns that were read, by place; the rest is judged by its heading alone
 * @param stated what is stated about columns, by place
 */
export function understandTable(
  table: SourceTable,
  values: ReadonlyMap<number, Float64Array>,
  stated: ReadonlyMap<number, StatedColumn>,
): TableUnderstanding {
  const headings = table.columns.map((c, i) => headingOf(table, i, c.name, stated.get(i)));
  const axes = phasesByHeading(headings, table);
  const names = headings.map(
    (h, i): NameEvidence =>
      table.nameless && table.columns[i].label === undefined ? silent : nameEvidence(h.words, axes[i]),
  );
  const rows = lookedRows([...values.values()][0]?.length ?? 0);
  const edges = edgesOf(rows);
  const seen = new Map([...values].map(([i, v]) => [i, looked(v, rows)] as const));
  const facts: ColumnFacts[] = table.columns.map((c, i) => {
    const mine = seen.get(i);
    return {
      index: i,
      kind: c.kind,
      samples: c.samples,
      heading: headings[i],
      unitTrust:
        headings[i].plain || stated.get(i)?.unit !== undefined
          ? 1
          : trustOfLetter(headings, i, axes[i], names[i]),
      name: names[i],
      numbers: mine === undefined || c.kind !== "number" ? undefined : columnNumbers(mine, edges),
    };
  });
  const first = facts.map((f) => hypothesesOf(f));
  const time = timeColumn(first, facts);
  const number: NumberColumn[] = [...seen]
    .filter(([i]) => facts[i].numbers !== undefined)
    .map(([i, v]) => ({
      index: i,
      label: labelOf(table, i),
      values: v,
      numbers: facts[i].numbers as NumberColumn["numbers"],
    }));
  const clock = time === undefined ? undefined : seen.get(time);
  const windows = windowsOf(
    number.map((c) => c.values),
    clock,
    edges,
  );
  const whole = facts.map((f) => {
    const k = number.findIndex((c) => c.index === f.index);
    return k < 0 || windows.wraps[k] === undefined ? f : { ...f, wrap: windows.wraps[k] };
  });
  const hypotheses = whole.map((f, i) =>
    restrict(hypothesesOf(f), stated.get(i), headings[i], table.columns[i].kind),
  );
  const mayBe = possible(hypotheses);
  const groups = table.nameless
    ? { labels: table.columns.map(() => undefined), motors: [] }
    : motorGroups(
        headings.map((h) => h.words),
        (c) => shaftRoles.has(roleFacts[hypotheses[c][0].role].quantity),
      );
  const alone = (a: number, b: number): boolean =>
    groups.labels[a] !== undefined && groups.labels[b] !== undefined && groups.labels[a] !== groups.labels[b];
  const relations = relationsOf(number, windows, time, mayBe).filter(
    ({ columns: [a, b, c] }) => !alone(a, b) && (c === undefined || (!alone(a, c) && !alone(b, c))),
  );
  const result = solveJoint({ hypotheses, relations, motors: groups.labels });
  const columns = table.columns.map((c, i): ColumnUnderstanding => {
    const said = stated.get(i);
    const chosen = hypotheses[i][result.best[i]];
    const context = {
      facts: whole[i],
      relations,
      chosen: result.best.map((h, k) => hypotheses[k][h]),
      kind: c.kind,
    };
    return described(i, c.name, chosen, result.weighed[i], groups.labels[i], said, context);
  });
  return { columns, motors: groups.motors };
}

const shaftRoles: ReadonlySet<Quantity> = new Set([
  "speed",
  "position",
  "current",
  "torque",
  "duty",
  "voltage",
]);

const silent: NameEvidence = { score: new Map(), told: [], namesQuantity: false, namesOther: false };

function labelOf(table: SourceTable, i: number): string {
  const { name } = table.columns[i];
  return table.nameless || name.trim() === "" ? `#${i + 1}` : visible(name, 40);
}

function headingOf(table: SourceTable, i: number, name: string, stated: StatedColumn | undefined): Heading {
  // A table without a heading may have labels of its channels all the same.
  const text = table.nameless ? table.columns[i].label : name;
  const own = text === undefined ? { words: "", plain: true } : splitHeading(text);
  const spelling =
    stated?.unit ??
    (own.unit === undefined && own.otherUnit === undefined ? table.columns[i].unit : undefined);
  if (spelling === undefined) return own;
  const unit = unitOfText(spelling) ?? { code: spelling, spelling };
  return { words: own.words, unit, plain: true };
}

/** Letters at the end of headings that stand side by side and count through a, b, c or u, v, w or 1, 2, 3 are phases. */
function phasesByHeading(headings: readonly Heading[], table: SourceTable): (Axis | undefined)[] {
  const sets: readonly (readonly string[])[] = [
    ["a", "b", "c"],
    ["u", "v", "w"],
    ["1", "2", "3"],
    ["l 1", "l 2", "l 3"],
    ["r", "s", "t"],
  ];
  const axes: readonly Axis[] = ["u", "v", "w"];
  const all = table.columns.map((c, i) =>
    table.nameless ? "" : wordsOf(headings[i].plain ? headings[i].words : c.name).join(" "),
  );
  return all.map((words) => {
    for (const set of sets) {
      for (const [k, letter] of set.entries()) {
        if (
          !words
            .split(" ")
            .some((w) => w === letter || (w.length === 2 && w.endsWith(letter) && "iuv".includes(w[0])))
        )
          continue;
        const others = set.filter((l) => l !== letter);
        const there = others.filter((l) => all.includes(swap(words, letter, l)));
        if (
          there.length === 2 ||
          (there.length === 1 && set !== sets[2] && set !== sets[0]) ||
          (there.length === 1 && set === sets[0] && k < 2 && /\bi/.test(words))
        )
          return axes[k];
      }
    }
    return undefined;
  });
}

function swap(words: string, from: string, to: string): string {
  const list = words.split(" ");
  const at = list.findLastIndex(
    (w) => w === from || (w.length === 2 && w.endsWith(from) && "iuv".includes(w[0])),
  );
  if (at < 0) return words;
  list[at] = list[at] === from ? to : `${list[at][0]}${to}`;
  return list.join(" ");
}

/** Chance that a single letter at the end of a heading is its unit. */
function trustOfLetter(
  headings: readonly Heading[],
  i: number,
  phase: Axis | undefined,
  name: NameEvidence,
): number {
  if (phase !== undefined) return 0.03;
  const unit = headings[i].unit;
  if (unit === undefined) return 0;
  const tails = headings.filter((h, k) => k !== i && h.unit !== undefined).length;
  const quantity = name.namesQuantity ? 0.2 : 0;
  return Math.min(0.97, 0.5 + 0.17 * Math.min(2, tails) + quantity);
}

function timeColumn(
  hypotheses: readonly (readonly Hypothesis[])[],
  facts: readonly ColumnFacts[],
): number | undefined {
  let best: number | undefined;
  let high = Number.NEGATIVE_INFINITY;
  for (const [i, list] of hypotheses.entries()) {
    const time = list.find((h) => h.role === "time");
    if (time === undefined || (facts[i].kind !== "number" && facts[i].kind !== "stamp")) continue;
    const other = Math.max(
      ...list.filter((h) => h.role !== "time" && h.role !== "sample").map((h) => h.score),
      -50,
    );
    const lead = time.score - other;
    if (lead > Math.max(high, -3)) {
      high = lead;
      best = i;
    }
  }
  return best;
}

/** What is stated is not questioned; a stated role keeps the units that fit it. */
function restrict(
  list: readonly Hypothesis[],
  stated: StatedColumn | undefined,
  heading: Heading,
  kind: string,
): Hypothesis[] {
  if (kind === "empty" && stated?.role === undefined) return [plainOther];
  if (stated === undefined) return [...list];
  if (stated.ignored) return [plainOther];
  let kept = [...list];
  if (stated.role !== undefined) {
    const role = stated.role;
    kept = kept.filter((h) => h.role === role);
    if (kept.length === 0)
      kept = [{ role, unit: heading.unit?.code, factor: undefined, name: 0, units: 0, numbers: 0, score: 0 }];
  }
  if (stated.unit !== undefined) {
    const code = heading.unit?.code;
    const same = kept.filter((h) => h.unit === code);
    if (same.length > 0) kept = same;
    else if (stated.role !== undefined) kept = [{ ...kept[0], unit: code, factor: undefined }];
  }
  return kept;
}

const plainOther: Hypothesis = {
  role: "other",
  unit: undefined,
  factor: undefined,
  name: 0,
  units: 0,
  numbers: 0,
  score: 0,
};

function possible(
  hypotheses: readonly (readonly Hypothesis[])[],
): (index: number, quantity: "speed" | "angle" | "current") => boolean {
  const sets = hypotheses.map((list) => new Set(list.map((h) => roleFacts[h.role].quantity)));
  return (index, quantity) =>
    quantity === "angle"
      ? sets[index].has("position") || sets[index].has("electricalAngle")
      : sets[index].has(quantity);
}

interface Context {
  readonly facts: ColumnFacts;
  readonly relations: readonly Relation[];
  readonly chosen: readonly Hypothesis[];
  readonly kind: string;
}

function described(
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
    ...(motor === undefined ? {} : { motor }),
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
  smooth: "changes smoothly",
  noisy: "noisy",
} as const;

function whyOf(index: number, stated: StatedColumn | undefined, context: Context): ColumnEvidence[] {
  const { facts, relations } = context;
  const out: ColumnEvidence[] = [];
  if (stated !== undefined && (stated.role !== undefined || stated.unit !== undefined || stated.ignored))
    out.push({
      kind: "stated",
      text: [stated.by, stated.unitBy].filter((b) => b !== undefined && b !== "").join(", "),
    });
  if (stated?.role === undefined && facts.name.told.length > 0) {
    out.push({ kind: "name", text: `name (${facts.name.told.join(", ")})` });
  }
  const { unit, otherUnit } = facts.heading;
  if (unit !== undefined && stated?.unit === undefined)
    out.push({ kind: "unit", text: `unit ${visible(unit.spelling, 20)}` });
  else if (otherUnit !== undefined) out.push({ kind: "unit", text: `unit ${visible(otherUnit, 20)}` });
  if (context.kind === "stamp") out.push({ kind: "numbers", text: "stamps" });
  if (facts.numbers !== undefined && facts.numbers.count > 0) {
    const { rising, even, shape, whole } = facts.numbers;
    const words = rising > 0.985 && even > 0.9 ? "rises evenly" : shapeWords[shape];
    out.push({
      kind: "numbers",
      text: `${words}${whole && shape !== "constant" ? ", whole numbers" : ""}${facts.wrap === undefined ? "" : `, wraps at ${Number(facts.wrap.toPrecision(6))}`}`,
    });
  }
  for (const r of relations) {
    if (!r.columns.includes(index)) continue;
    if (r.score(r.columns.map((k) => context.chosen[k])) > 0.5 && out.length < 6)
      out.push({ kind: "neighbours", text: r.text });
  }
  if (out.length === 0) out.push({ kind: "numbers", text: "nothing is known of it" });
  return out;
}
