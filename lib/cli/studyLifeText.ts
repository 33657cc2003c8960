import type { CauseLife } from "../study/life/causeLives.js";
import type { GroupLife, GroupWithoutFailure } from "../study/life/groupLife.js";
import { isUndetermined } from "../study/life/lifeData.js";
import type { LifeSummary } from "../study/life/lifeSummary.js";
import type { Estimate } from "../units/estimate.js";
import { visible } from "../units/text.js";

const digits = (value: number, n = 4) => {
  if (!Number.isFinite(value)) return value > 0 ? "unbounded" : "none";
  const size = Math.abs(value);
  return size === 0 || (size >= 1e-3 && size < 1e6)
    ? Number(value.toPrecision(n)).toString()
    : value.toExponential(n - 1);
};
const count = (n: number, one: string) => `${digits(n, 6)} ${one}${n === 1 ? "" : "s"}`;
const percent = (share: number) => `${Number((share * 100).toPrecision(3))} %`;
const chance = (p: number) => (p < 0.0001 ? "p < 0.0001" : `p = ${p.toPrecision(2)}`);
const spanOf = (e: Estimate) => `${digits(e.value)} (${digits(e.low)} to ${digits(e.high)})`;
/** B10 for a tenth, B50 (median) for a half, else the share in words. */
const nameOf = (share: number) =>
  share === 0.5
    ? "median life"
    : share <= 0.2
      ? `B${Number((share * 100).toPrecision(3))}`
      : `life of ${percent(share)} failed`;

/** What a life table says, line by line. `shares`: those whose lives were asked. */
export function lifeLines(life: LifeSummary, shares: readonly number[] = [0.1, 0.5]): string[] {
  const unit = life.unit === "1" ? "" : ` ${life.unit}`;
  return [
    `${count(life.units, "unit")}, ${count(life.failures, "failure")}; intervals of ${percent(life.level)}`,
    ...tableLines(life),
    ...modelLines(life, shares, unit),
    ...knownShapeLines(life, shares, unit),
    ...causeLines(life, shares, unit),
    ...groupLines(life, unit),
  ];
}

/** What is to be known of the table before its answers are read. */
function tableLines({ unit, lateEntries, repeated, runningWithCause }: LifeSummary): string[] {
  const named = repeated.slice(0, 4).map((m) => visible(m));
  return [
    ...(unit === "1"
      ? ["the headings name no unit of use (after [h], for instance): times below are in the table's own"]
      : []),
    ...(lateEntries > 0
      ? [
          `${count(lateEntries, "unit")} came under observation late (column "from") and ${lateEntries === 1 ? "counts" : "count"} from then on`,
        ]
      : []),
    ...(repeated.length > 0
      ? [
          `${count(repeated.length, "motor")} with several lines (${named.join(", ")}${repeated.length > named.length ? ", ..." : ""}): each line counts as a unit of its own, as after a repair that made it new`,
        ]
      : []),
    ...(runningWithCause > 0
      ? [
          `${count(runningWithCause, "unit")} still running ${runningWithCause === 1 ? "has" : "have"} a cause, which counts for nothing: one that failed needs a time in "by"`,
        ]
      : []),
  ];
}

function modelLines(life: LifeSummary, shares: readonly number[], unit: string): string[] {
  const { model, fit, modes } = life;
  const leftOut =
    life.withoutTemperature > 0
      ? [
          `${count(life.withoutTemperature, "unit")} without a temperature left out of the model; fill the column in to use ${life.withoutTemperature === 1 ? "it" : "them"}`,
        ]
      : [];
  if (isUndetermined(model)) {
    const help =
      life.failures < 2 && life.knownShape === undefined
        ? "; with a Weibull shape known from before (--shape) a lower limit of the life can be given"
        : "";
    return [
      `no model: ${model.undetermined}${help}`,
      ...leftOut,
      ...(life.temperaturesUnused ? ["temperatures (--at too) count for nothing without a model"] : []),
    ];
  }
  const at = life.referenceTemperature;
  const where = at === undefined ? "" : ` at ${digits(at)} degrees Celsius`;
  return [
    ...(isUndetermined(life.better) ? [] : [life.better.text]),
    isUndetermined(fit) ? `whether the model fits is not said: ${fit.undetermined}` : fit.text,
    ...besideLine(life, unit),
    ...modesLine(modes, unit, life.causes.length > 0),
    ...leftOut,
    ...(life.temperaturesUnused
      ? [
          "temperature has no part in the model: it takes failures at two temperatures and more. What follows holds for units used as these were, and for no other temperature",
        ]
      : []),
    ...(model.shape === undefined ? [] : [`Weibull shape ${spanOf(model.shape)}: ${wear(model.shape)}`]),
    // The life of 63.2 % failed has this name with a Weibull life only.
    ...(model.shape === undefined
      ? [`log-normal sigma (spread of the logarithm of life): ${spanOf(model.sigma)}`]
      : life.characteristic
        ? [`characteristic life${where}: ${spanOf(life.characteristic)}${unit}`]
        : []),
    ...life.lives.map((e, i) => {
      const other = life.otherwise?.[i];
      const name = model.shape === undefined ? "Weibull" : "log-normal";
      return `${nameOf(shares[i])}${where}: ${spanOf(e)}${unit}${other ? `; by ${name} ${spanOf(other)}` : ""}`;
    }),
    ...(life.activationEnergy ? [energyLine(life.activationEnergy)] : []),
    ...(life.extrapolated === true
      ? [
          `${digits(at as number)} degrees Celsius lies outside the temperatures at which units failed: this holds only if the same cause acts there`,
        ]
      : []),
    ...(life.differing.length > 0
      ? [`these hold for the other groups than ${life.differing.map((g) => visible(g)).join(", ")}`]
      : []),
  ];
}

function energyLine(energy: Estimate): string {
  const odd = energy.high < 0;
  return `activation energy: ${spanOf(energy)} eV${odd ? "; below zero: the hotter units lived longer, which Arrhenius's law does not describe. Look for what else differed between them" : ""}`;
}

/** Parts of the failures that were seen at whose times the curve without a model and the model stand side by side. */
const besides = [0.25, 0.5, 0.75];
/** Fewest failures: the steps of fewer say little against a line. */
const leastBeside = 10;

/** The share that still runs at a few times, without a model and by it. */
function besideLine({ curve, expected, failures }: LifeSummary, unit: string): string[] {
  if (isUndetermined(curve) || expected === undefined || failures < leastBeside) return [];
  const points = "stretches" in curve ? curve.stretches.map((s) => ({ ...s, time: s.to })) : curve.steps;
  const ends = points.filter(({ time }) => Number.isFinite(time));
  const failed = 1 - (ends[ends.length - 1]?.survival ?? 1);
  const shown = besides.flatMap((part) => ends.find((e) => 1 - e.survival >= part * failed) ?? []);
  const each = [...new Set(shown)].map(({ time, survival }, i) => {
    const [found, by] = [percent(survival), percent(expected(time))];
    return `after ${digits(time, 3)}${unit} ${i === 0 ? `${found} by ${curve.method} and ${by} by the model` : `${found} and ${by}`}`;
  });
  return [`still running: ${each.join("; ")}`];
}

/** What a shape says of the rate of failure. */
function wear({ low, high }: Estimate): string {
  if (high < 1) return "early failures, the rate falls";
  if (low > 1) return "wear, the rate rises";
  return "a rate that falls, stays or rises: the failures cannot tell";
}

function modesLine(modes: LifeSummary["modes"], unit: string, causes: boolean): string[] {
  if (isUndetermined(modes) || !modes.noticed) return [];
  const each = modes.modes.map(
    (m) =>
      `${percent(m.share)} of the units with shape ${digits(m.shape, 2)} and characteristic life ${digits(m.characteristic, 3)}${unit}`,
  );
  return [
    `two modes of failure show (by chance about one table in 100 shows as much): ${each.join(", ")}. ${causes ? "Read the lives of each cause below" : 'Look at what failed early and add a column "cause"'}: the lives of one model say little here`,
  ];
}

function knownShapeLines(
  { knownShape, level, failures }: LifeSummary,
  shares: readonly number[],
  unit: string,
): string[] {
  if (knownShape === undefined) return [];
  const { shape, lives } = knownShape;
  if (isUndetermined(lives)) return [`with the shape ${digits(shape)}: ${lives.undetermined}`];
  return lives.map(
    (e, i) =>
      `with the shape ${digits(shape)} taken as known and ${count(failures, "failure")}: ${nameOf(shares[i])} at least ${digits(e.low)}${unit}, with a confidence of ${percent(level)} (one-sided)`,
  );
}

function causeLines(life: LifeSummary, shares: readonly number[], unit: string): string[] {
  return life.causes.flatMap((c) => {
    const name = `cause ${visible(c.cause)}: ${count(c.failures, "failure")}`;
    const reached = reachedText(c, unit);
    const groups = causeGroups(c, unit);
    if (isUndetermined(c.model)) return [`${name}, no model: ${c.model.undetermined}${reached}`, ...groups];
    const lives = c.lives.map((e, i) => `${nameOf(shares[i])} ${spanOf(e)}`).join(", ");
    const shape = c.model.shape === undefined ? "" : `, Weibull shape ${spanOf(c.model.shape)}`;
    const { differing } = c.groups;
    const rest =
      differing.length > 0 ? ` in the other groups than ${differing.map((g) => visible(g)).join(", ")}` : "";
    return [`${name}${shape}; alone it would give ${lives}${unit}${rest}${reached}`, ...groups];
  });
}

/** The share that has failed of a cause, of all and of each group. */
function reachedText({ incidence, byGroup }: CauseLife, unit: string): string {
  if (isUndetermined(incidence))
    return `; which share has failed of it by when is not said: ${incidence.undetermined}`;
  const last = incidence[incidence.length - 1];
  if (last === undefined) return "";
  const each = byGroup.slice(0, mostGroups).flatMap(({ group, incidence: own }) => {
    const end = isUndetermined(own) ? undefined : own[own.length - 1];
    return end === undefined ? [] : [`${visible(group)} ${percent(end.share)} by ${digits(end.time)}${unit}`];
  });
  const more = byGroup.length > mostGroups ? ", ..." : "";
  return `; ${percent(last.share)} have failed of it by ${digits(last.time)}${unit}, the others present${each.length > 1 ? ` (${each.join(", ")}${more})` : ""}`;
}

/** How the groups differ in one cause. */
function causeGroups({ cause, groups: found }: CauseLife, unit: string): string[] {
  const lines = [
    ...ratioLines(found.groups, found.differing),
    ...found.withoutFailure
      .filter((g) => found.differing.includes(g.group))
      .map((g) => withoutFailureLine(g, unit)),
  ];
  return lines.map((line) => `of ${visible(cause)} alone: ${line}`);
}

/** Groups whose numbers stand in one line. */
const mostGroups = 6;

/** Groups that differ, or that none does. */
function ratioLines(groups: readonly GroupLife[], differing: readonly string[]): string[] {
  if (groups.length > 0 && differing.length === 0) {
    const each = groups
      .slice(0, mostGroups)
      .map((g) => `${visible(g.group)} ${digits(g.ratio.low, 2)} to ${digits(g.ratio.high, 2)}`);
    return [
      `no group found to differ; ratios to the others: ${each.join(", ")}${groups.length > mostGroups ? ", ..." : ""}`,
    ];
  }
  return groups
    .filter((g) => differing.includes(g.group))
    .map(
      ({ group, ratio: r, p }) =>
        `${visible(group)} lives ${digits(r.value, 3)} (${digits(r.low, 3)} to ${digits(r.high, 3)}) times as long as the others, ${chance(p)}`,
    );
}

function withoutFailureLine(g: GroupWithoutFailure, unit: string): string {
  const bound = isUndetermined(g.ratio)
    ? `no bound: ${g.ratio.undetermined}`
    : `its life is at least ${digits(g.ratio.low, 3)} times that of the others (one-sided, ${percent(g.ratio.level ?? 0.95)})`;
  return `${visible(g.group)}: none of ${count(g.units, "unit")} failed in ${digits(g.use, 3)}${unit} of use together${Number.isFinite(g.expected) ? ` (${digits(g.expected, 2)} failures expected if it lived as the others${Number.isFinite(g.p) ? `, ${chance(g.p)}` : ""})` : ""}; ${bound}`;
}

function groupLines(life: LifeSummary, unit: string): string[] {
  return [
    ...(life.logRank && life.failures > 0
      ? [`log-rank test over the groups: ${chance(life.logRank.p)}`]
      : []),
    ...ratioLines(life.groups, life.differing),
    ...life.withoutFailure.map((g) => withoutFailureLine(g, unit)),
  ];
}
