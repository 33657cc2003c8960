import type { ColumnFacts } from "./columnFacts.js";
import type { Hypothesis } from "./hypotheses.js";
import type { Relation, Weighed } from "./jointTypes.js";
import { commandAndMeasured, type Meaning, roleFacts } from "./roles.js";
import { dimension } from "./unitDimension.js";

/**
 * No column is stated more surely than this where what speaks for it is of one kind only and the rest is silent or
 * against it (judgement): below the limit from which nothing is asked.
 */
const surestInDoubt = 0.78;
/** The words of a heading speak against a role from here on (log likelihood ratio). */
const spokenAgainst = -3.5;

/**
 * Holds back the probability of a role that rests on numbers against or without the words of the heading: a command
 * that nothing calls one (a slow encoder steps as a set value does), a role other than the one the heading names, a
 * name whose meaning is a matter of opinion, a bare set or actual value beside a motion that another column names.
 *
 * @param confirmed the numbers show a bare set or actual value to be of what another column names
 */
export function soberly(
  weighed: readonly Weighed[],
  chosen: Hypothesis,
  facts: ColumnFacts,
  confirmed = true,
): readonly Weighed[] {
  const bare = facts.name.besideNamed === true && !confirmed;
  if (!bare && !doubtful(chosen.role, facts)) return weighed;
  let sum = 0;
  let rest = 0;
  for (const w of weighed) {
    if (w.hypothesis.role === chosen.role) sum += w.probability;
    else rest += w.probability;
  }
  if (sum <= surestInDoubt) return weighed;
  const others = rest > 1e-9 ? (1 - surestInDoubt) / rest : 0;
  return weighed.map((w) => ({
    ...w,
    probability: w.probability * (w.hypothesis.role === chosen.role ? surestInDoubt / sum : others),
  }));
}

/**
 * A measurement that is nearly as likely as a command is taken where nothing calls the column one and it moves as
 * measurements do; of a motion also a less likely one, where no other column is the measurement: that a column fits no
 * other speaks no less against those.
 *
 * @param others roles of the other columns
 */
export function measuredOfTwo(
  role: Meaning,
  probabilities: ReadonlyMap<Meaning, number>,
  { name, numbers }: ColumnFacts,
  others: readonly Meaning[],
): Meaning {
  const [command, measured] = commandAndMeasured[roleFacts[role].quantity] ?? [];
  const moves = numbers?.shape === "noisy" || numbers?.shape === "smooth";
  if (role !== command || measured === undefined || !moves || !name.namesQuantity) return role;
  if ((name.score.get(command) ?? 0) > (name.score.get(measured) ?? 0)) return role;
  const { quantity } = roleFacts[role];
  const alone = (quantity === "speed" || quantity === "position") && !others.includes(measured);
  const least = alone ? 0.1 : 0.8;
  return (probabilities.get(measured) ?? 0) > least * (probabilities.get(command) ?? 0) ? measured : role;
}

/** How much of what speaks for either the measurement gets that is taken before its command (judgement): above the
 * limit of use and below that from which nothing is asked. */
const measuredPart = 0.77;

/**
 * Probabilities of a column that was taken for the measurement although its command was likelier (`measuredOfTwo`): by
 * itself it is hardly ever the command.
 */
export function ofMeasured(weighed: readonly Weighed[], taken: Meaning): readonly Weighed[] {
  const [command, measured] = commandAndMeasured[roleFacts[taken].quantity] ?? [];
  if (taken !== measured || command === undefined) return weighed;
  const sum = (role: Meaning): number =>
    weighed.reduce((all, w) => (w.hypothesis.role === role ? all + w.probability : all), 0);
  const [set, actual] = [sum(command), sum(taken)];
  if (!(set > actual && actual > 0)) return weighed;
  const all = set + actual;
  const factor = new Map<Meaning, number>([
    [taken, (measuredPart * all) / actual],
    [command, ((1 - measuredPart) * all) / set],
  ]);
  return weighed
    .map((w) => ({ ...w, probability: w.probability * (factor.get(w.hypothesis.role) ?? 1) }))
    .sort((a, b) => b.probability - a.probability);
}

/** True for a column that follows, or is followed by, another that is named for the same quantity. */
export function goesWithNamed(
  column: number,
  relations: readonly Relation[],
  chosen: readonly Hypothesis[],
  facts: readonly ColumnFacts[],
): boolean {
  return relations.some(({ mutual, columns }) => {
    const other = columns.find((c) => c !== column);
    if (mutual !== "follows" || other === undefined || !columns.includes(column)) return false;
    const named = facts[other].name.namesQuantity && !facts[other].name.bareSide;
    return named && roleFacts[chosen[other].role].quantity === roleFacts[chosen[column].role].quantity;
  });
}

function doubtful(role: Meaning, { name, heading }: ColumnFacts): boolean {
  if (name.inDoubt) return true;
  const { quantity } = roleFacts[role];
  // What a loop hands on as a voltage is often logged by its bare name.
  const [command, measured] = (quantity === "voltage" ? undefined : commandAndMeasured[quantity]) ?? [];
  const said = (of: Meaning | undefined): number => (of === undefined ? 0 : (name.score.get(of) ?? 0));
  if (role === command && name.namesQuantity && said(command) <= said(measured)) return true;
  if (heading.unit !== undefined && ofQuantity(heading.unit.code, role)) return false;
  // A unit of what is no channel speaks for itself.
  if (heading.otherUnit !== undefined && role === "other") return false;
  const scores = [...name.score.values()];
  return name.namesQuantity && (name.score.get(role) ?? 0) - Math.max(...scores) < spokenAgainst;
}

function ofQuantity(code: string, role: Meaning): boolean {
  const { quantity } = roleFacts[role];
  const of = dimension(code);
  return of === quantity || (of === "angle" && (quantity === "position" || quantity === "electricalAngle"));
}
