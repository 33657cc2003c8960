import { type ConstantName, constantNames } from "../identify/constants.js";
import { isUndetermined } from "../study/life/lifeData.js";
import type { LifeSummary } from "../study/life/lifeSummary.js";
import type { SmallestSeen } from "../study/population/outlyingMotors.js";
import type { StudySummary } from "../study/population/studySummary.js";
import type { Estimate } from "../units/estimate.js";
import { unitText } from "../units/forPeople.js";
import { visible } from "../units/text.js";
import type { Io } from "./io.js";
import { pageWidth, paint, paragraph, table } from "./layout.js";

const digits = (value: number, n = 4) => {
  if (!Number.isFinite(value)) return value > 0 ? "unbounded" : "none";
  const size = Math.abs(value);
  return size === 0 || (size >= 1e-3 && size < 1e6)
    ? Number(value.toPrecision(n)).toString()
    : value.toExponential(n - 1);
};
const count = (n: number, one: string) => `${n} ${one}${n === 1 ? "" : "s"}`;
const percent = (share: number) => `${(share * 100).toFixed(1)} %`;
const roughly = (share: number) => `${Number((share * 100).toPrecision(2))} %`;
const chance = (p: number) => (p < 0.0001 ? "p < 0.0001" : `p = ${p.toPrecision(2)}`);
const spanOf = (e: Estimate) => `${digits(e.value)} (${digits(e.low)} to ${digits(e.high)})`;

/** A constant in words, as every table of the other commands names it. */
const wordsOf = (constant: string) => constantNames[constant as ConstantName]?.words ?? constant;

/** What a section is written with. */
interface Pen {
  readonly head: (text: string) => string;
  readonly list: (lines: readonly string[], most?: number) => string;
  readonly bad: (text: string) => string;
  readonly width: number;
}

/** The summary as text that reads well at 80 columns. */
export function summaryText(s: StudySummary, io: Pick<Io, "color" | "columns">): string {
  const width = pageWidth(io);
  const pen: Pen = {
    head: (text) => `\n${paint(io, "strong", text)}\n`,
    list: (lines, most = 12) =>
      `${[
        ...lines.slice(0, most).map((line) => paragraph(line, width, "  ")),
        ...(lines.length > most ? [`  and ${lines.length - most} more`] : []),
      ].join("\n")}\n`,
    bad: (text) => paint(io, "bad", text),
    width,
  };
  return [
    `${count(s.motors, "motor")}, ${count(s.recordings, "recording")}${s.withoutResult > 0 ? `, ${s.withoutResult} without a result` : ""}\n`,
    `What stands out below is judged so that a fleet in which nothing does gives any false alarm in a part of the output with a chance of ${roughly(s.alpha)}.\n`,
    wiringText(s, pen),
    distributionsText(s, pen),
    outlyingText(s, pen),
    groupsText(s, pen),
    componentsText(s, pen),
    driftText(s, pen),
    chartsText(s, pen),
    capabilityText(s, pen),
    gaugeText(s, pen),
    s.life === undefined ? "" : pen.head("Life") + lifeText(s.life, pen),
    "\nAdvice from logs, never a clearance to run a machine.\n",
  ].join("");
}

function wiringText(s: StudySummary, { head, list, bad }: Pen): string {
  if (s.wiring.length === 0) return head("Wiring: no trial against its command, blocked or running away");
  const lines = s.wiring.map((w) => {
    const word =
      w.verdict === "reversed" || w.sense === "against" ? `${w.verdict}: against its command` : w.verdict;
    return `${visible(w.motor)}: ${bad(word)}. ${visible(w.text)}`;
  });
  return head(`Wiring: ${count(s.wiring.length, "trial")} not right`) + list(lines);
}

function distributionsText(s: StudySummary, { head, width }: Pen): string {
  if (s.distributions.length === 0) return "";
  const rows = s.distributions.map(({ words, unit, description: d }) => [
    words,
    String(d.count),
    spanOf(d.mean),
    digits(d.deviation.value, 3),
    d.shape.shape,
    unitText(unit),
  ]);
  const titles = ["constant", "n", "mean (95 %)", "deviation", "shape", "unit"];
  return `${head("Constants, each sound motor as first measured")}${table([titles, ...rows], width)}\n`;
}

/** How small an effect would have been seen, in words. */
function seenText(what: string, smallest: readonly SmallestSeen[]): string {
  const each = smallest.map(({ constant, typical, below, above, unit }) => {
    const share = (v: number) => (v - typical) / Math.abs(typical);
    const relative = Math.abs(typical) > 0 && share(above) < 10 && share(below) > -10;
    const ends = relative
      ? `${roughly(share(below))} or +${roughly(share(above))}`
      : `${digits(below, 2)} or ${digits(above, 2)} ${unitText(unit)}`;
    return `${wordsOf(constant)} ${ends}`;
  });
  return `${what} would have been found nine times out of ten from: ${each.join("; ")}`;
}

function outlyingText(s: StudySummary, { head, list }: Pen): string {
  const title = head("Outlying motors, each against its own batch and rig");
  const found = s.outlying;
  if (isUndetermined(found)) return `${title}${list([`not judged: ${found.undetermined}`])}`;
  const lines = found.outlying.map((o) => `${visible(o.motor)}: ${o.reason} (${chance(o.p)})`);
  return (
    title +
    list([
      ...(lines.length > 0 ? lines : [`none found among ${count(found.judged, "motor")}`]),
      seenText("a single motor", found.smallest),
      ...found.notJudged.map((n) => `${n.constant} not judged: ${n.reason}`),
    ])
  );
}

function groupsText(s: StudySummary, { head, list }: Pen): string {
  return s.differences
    .map(({ factor, constants }) => {
      const odd = s.odd.filter((o) => o.factor === factor);
      const judged = s.oddJudged.find((j) => j.factor === factor)?.judged;
      const sized = (share: number) => `${percent(Math.abs(share))} ${share > 0 ? "above" : "below"}`;
      const lines = odd.map(
        (o) =>
          `${visible(o.group)} stands out: ${wordsOf(o.constant)} ${sized(o.share)} that of the others (${chance(o.p)})`,
      );
      const seen =
        judged === undefined
          ? []
          : isUndetermined(judged)
            ? [`none can be said to stand out: ${judged.undetermined}`]
            : [
                ...(odd.length === 0
                  ? [`none of ${judged.groups} found to stand out from how they differ among themselves`]
                  : []),
                seenText(`a ${factor} that stands out`, judged.smallest),
              ];
      const differing = constants
        .filter((c) => c.different)
        .map((c) => {
          const far = c.groups.filter((g) => g.differs).map((g) => visible(g.group));
          return `${wordsOf(c.constant)} differs between them (${chance(c.p)})${far.length > 0 ? `: ${far.join(", ")} against the rest` : ""}`;
        });
      return head(factor === "batch" ? "Batches" : "Rigs") + list([...lines, ...seen, ...differing]);
    })
    .join("");
}

function componentsText(s: StudySummary, { head, width }: Pen): string {
  if (s.components.length === 0) return "";
  const names = [...new Set(s.components.flatMap(({ split }) => Object.keys(split.shares)))];
  const rows = s.components.map(({ constant, split }) => [
    wordsOf(constant),
    ...names.map((name) => (split.shares[name] === undefined ? "" : percent(split.shares[name]))),
  ]);
  return `${head("Where the spread comes from (part of the variance)")}${table([["constant", ...names], ...rows], width)}\n`;
}

function driftText(s: StudySummary, { head, list }: Pen): string {
  if (isUndetermined(s.drift))
    return s.watched === 0 ? "" : head("Drift") + list([`not judged: ${s.drift.undetermined}`]);
  const fleet = s.drift.fleet
    .filter((f) => f.drifts)
    .map(
      (f) =>
        `all motors together: ${wordsOf(f.constant)} ${changeText(f.change, f.low, f.high)} over a typical time of watching (${chance(f.p)})`,
    );
  const single = s.drifting.map(
    (d) => `${visible(d.text)}: ${spanOf(d.slope)} ${unitText(d.slope.unit)}, ${chance(d.p)}`,
  );
  const days = s.drift.smallest[0]?.span ?? 0;
  const seen = s.drift.smallest.map(
    (d) => `${wordsOf(d.constant)} ${roughly(d.motor)} (all motors together ${roughly(d.fleet)})`,
  );
  return (
    head(`Drift: ${count(s.watched, "motor")} measured four times or more`) +
    list([
      ...fleet,
      ...(single.length > 0 ? single : ["no single motor found to drift"]),
      ...(fleet.length > 0 ? [] : ["the fleet as a whole not found to drift"]),
      `a change of one motor over ${digits(days, 2)} days would have been found nine times out of ten from: ${seen.join("; ")}`,
    ])
  );
}

function changeText(value: number, low: number, high: number): string {
  const signed = (v: number) => `${v > 0 ? "+" : ""}${roughly(v)}`;
  return `${signed(value)} (${signed(low)} to ${signed(high)})`;
}

function chartsText(s: StudySummary, { head, list }: Pen): string {
  if (isUndetermined(s.charts)) return "";
  const [{ chart: one }] = s.charts;
  const lines = s.charts.map(({ constant, chart }) => {
    const out = (signals: readonly { readonly at: number }[]) =>
      `${count(signals.length, "day")}${signals.length > 0 ? `, first ${chart.dates[signals[0].at]}` : ""}`;
    const [days, average] = [chart.individuals.signals, chart.ewma.signals];
    const found = [
      ...(days.length > 0 ? [`beyond its limits on ${out(days)}`] : []),
      ...(average.length > 0 ? [`weighted average beyond its limits on ${out(average)}`] : []),
    ];
    return `${wordsOf(constant)}: ${found.length > 0 ? found.join("; ") : "no day found beyond the limits"} (a shift of one typical day would have been found from ${roughly(chart.smallest)})`;
  });
  return (
    head("Control charts of the daily means (centre from the first 20 days, batches in the limits)") +
    list([
      ...lines,
      `without any change, one false alarm of a constant in ${Number(one.runLength.toPrecision(2))} days of measuring`,
    ])
  );
}

function capabilityText(s: StudySummary, { head, list }: Pen): string {
  if (s.capability.length === 0) return "";
  const lines = s.capability.map(
    ({ constant, result: c }) =>
      `${wordsOf(constant)}: ${c.cp === undefined ? "" : `Cp ${spanOf(c.cp)}, `}Cpk ${spanOf(c.cpk)}, ${count(c.counted, "motor")} beyond; shape: ${c.shape.shape}`,
  );
  return head("Capability") + list(lines);
}

function gaugeText(s: StudySummary, { head, width }: Pen): string {
  if (s.gauge.length === 0) return "";
  const rows = s.gauge.map(({ constant, study: g }) => [
    wordsOf(constant),
    digits(g.repeatability, 3),
    digits(g.reproducibility, 3),
    digits(g.motors, 3),
    percent(g.share),
    String(g.classes),
  ]);
  const titles = ["constant", "repeats", "rigs", "motors", "gauge share", "classes"];
  return `${head("Repeatability and reproducibility (motors measured on every rig)")}${table([titles, ...rows], width)}\n`;
}

function lifeText(life: LifeSummary, { list }: Pen): string {
  const { unit } = life;
  const lines = [`${life.units} units, ${life.failures} failures`];
  if ("undetermined" in life.model) lines.push(`no model: ${life.model.undetermined}`);
  else {
    const where =
      life.referenceTemperature === undefined ? "" : ` at ${life.referenceTemperature} degrees Celsius`;
    if (!("undetermined" in life.better)) lines.push(life.better.text);
    if (life.model.shape !== undefined) lines.push(`Weibull shape ${spanOf(life.model.shape)}`);
    if (life.characteristic)
      lines.push(`characteristic life${where}: ${spanOf(life.characteristic)} ${unit}`);
    if (life.b10) lines.push(`B10${where}: ${spanOf(life.b10)} ${unit}`);
    if (life.median) lines.push(`median life${where}: ${spanOf(life.median)} ${unit}`);
    if (life.activationEnergy) lines.push(`activation energy: ${spanOf(life.activationEnergy)} eV`);
    if (life.differing.length > 0)
      lines.push(`these hold for the other groups than ${life.differing.map((g) => visible(g)).join(", ")}`);
  }
  if (life.logRank) lines.push(`log-rank test over the groups: ${chance(life.logRank.p)}`);
  for (const g of life.groups.filter((x) => life.differing.includes(x.group)))
    lines.push(
      `${visible(g.group)} lives ${digits(g.ratio.value, 3)} (${digits(g.ratio.low, 3)} to ${digits(g.ratio.high, 3)}) times as long as the others, ${chance(g.p)}`,
    );
  return list(lines);
}
