import { parseArgs } from "node:util";
import { type ConstantName, constantNames } from "../identify/constants.js";
import type { LifeSummary } from "../study/life/lifeSummary.js";
import type { StudySummary } from "../study/population/studySummary.js";
import type { Estimate } from "../units/estimate.js";
import { visible } from "../units/text.js";
import { exitStatus, type Io, UsageError } from "./io.js";
import { pageWidth, paint, paragraph, table } from "./layout.js";

/** `shaftwise study show`: statistics across the motors of a study. */
export async function showCommand(args: readonly string[], io: Io): Promise<number> {
  let values: { life?: string; limits?: string; json?: boolean };
  let positionals: string[];
  try {
    ({ values, positionals } = parseArgs({
      args: [...args],
      options: { life: { type: "string" }, limits: { type: "string" }, json: { type: "boolean" } },
      allowPositionals: true,
    }));
  } catch (error) {
    throw new UsageError((error as Error).message);
  }
  if (positionals.length !== 1) throw new UsageError("study show needs one results folder");
  const { studySummary } = await import("../study/population/studySummary.js");
  const { readLifeTable } = await import("../study/life/readLifeTable.js");
  const { readLimits } = await import("../study/pipeline/readLimits.js");
  try {
    const life = values.life === undefined ? undefined : await readLifeTable(values.life);
    const limits = values.limits === undefined ? undefined : await readLimits(values.limits);
    const summary = await studySummary(positionals[0], { lives: life?.lives, lifeUnit: life?.unit, limits });
    io.out(values.json === true ? `${JSON.stringify(summary, null, 2)}\n` : summaryText(summary, io));
    return exitStatus.done;
  } catch (error) {
    if (!(error instanceof Error)) throw error;
    io.err(`shaftwise: ${visible(error.message, 400)}\n`);
    return exitStatus.failed;
  }
}

const digits = (value: number, n = 4) => {
  if (!Number.isFinite(value)) return value > 0 ? "unbounded" : "none";
  const size = Math.abs(value);
  return size === 0 || (size >= 1e-3 && size < 1e6)
    ? Number(value.toPrecision(n)).toString()
    : value.toExponential(n - 1);
};
const days = (count: number) => (count === 1 ? "1 day" : `${count} days`);
const percent = (share: number) => `${(share * 100).toFixed(1)} %`;
const chance = (p: number) => (p < 0.0001 ? "p < 0.0001" : `p = ${p.toPrecision(2)}`);
const spanOf = (e: Estimate) => `${digits(e.value)} (${digits(e.low)} to ${digits(e.high)})`;

/** A constant in words, as every table of the other commands names it. */
const wordsOf = (constant: string) => constantNames[constant as ConstantName]?.words ?? constant;
/** A UCUM code as a person reads it. */
const unitText = (code: string) => code.replace(/[{}]/g, "");

/** The summary as text that reads well at 80 columns. */
function summaryText(s: StudySummary, io: Pick<Io, "color" | "columns">): string {
  const width = pageWidth(io);
  const head = (text: string) => `\n${paint(io, "strong", text)}\n`;
  const list = (lines: readonly string[], most = 12) =>
    [
      ...lines.slice(0, most).map((line) => paragraph(line, width, "  ")),
      ...(lines.length > most ? [`  and ${lines.length - most} more`] : []),
    ].join("\n");
  const out: string[] = [
    `${s.motors} motors, ${s.recordings} recordings${s.withoutResult > 0 ? `, ${s.withoutResult} without a result` : ""}\n`,
  ];
  out.push(
    head(
      `Wiring: ${s.wiring.length === 0 ? "nothing amiss" : `${s.wiring.length} trials that are not right`}`,
    ),
  );
  if (s.wiring.length > 0)
    out.push(
      `${list(
        s.wiring.map((w) => {
          const word =
            w.verdict === "reversed" || w.sense === "against"
              ? `${w.verdict}: against its command`
              : w.verdict;
          return `${visible(w.motor)}: ${paint(io, "bad", word)}. ${visible(w.text)}`;
        }),
      )}\n`,
    );
  if (s.distributions.length > 0) {
    out.push(head("Constants, first recording of each sound motor"));
    const rows = s.distributions.map(({ words, unit, description: d }) => [
      words,
      String(d.count),
      spanOf(d.mean),
      digits(d.deviation.value, 3),
      d.shape.shape,
      unitText(unit),
    ]);
    out.push(`${table([["constant", "n", "mean (95 %)", "deviation", "shape", "unit"], ...rows], width)}\n`);
  }
  out.push(head("Outlying motors, each against its own batch"));
  if ("undetermined" in s.outlying) out.push(`  not judged: ${s.outlying.undetermined}\n`);
  else if (s.outlying.length === 0) out.push("  none\n");
  else
    out.push(
      `${list(s.outlying.map((o) => `${visible(o.motor)}: ${o.reason} (distance ${o.distance.toFixed(1)}, ${chance(o.p)})`))}\n`,
    );
  for (const { factor, constants } of s.differences) {
    const odd = s.odd.filter((o) => o.factor === factor);
    out.push(head(factor === "batch" ? "Batches" : "Rigs"));
    out.push(
      `${list([
        ...odd.map(
          (o) =>
            `${paint(io, "bad", `${visible(o.group)} stands out`)}: mean ${wordsOf(o.constant)} ${percent(Math.abs(o.share))} ${o.share > 0 ? "above" : "below"} that of the others (${chance(o.p)})`,
        ),
        ...(odd.length === 0 ? ["none stands out from how they differ among themselves"] : []),
        ...constants
          .filter((c) => c.holm < 0.01)
          .map((c) => {
            const far = c.groups.filter((g) => g.differs).map((g) => visible(g.group));
            return `${wordsOf(c.constant)} differs between them (Welch, ${chance(c.holm)} adjusted)${far.length > 0 ? `: ${far.join(", ")} against the rest` : ""}`;
          }),
      ])}\n`,
    );
  }
  if (s.components.length > 0) {
    out.push(head("Where the spread comes from (share of the variance)"));
    const names = Object.keys(s.components[0].split.shares);
    const rows = s.components.map(({ constant, split }) => [
      wordsOf(constant),
      ...names.map((name) => percent(split.shares[name] ?? 0)),
    ]);
    out.push(`${table([["constant", ...names], ...rows], width)}\n`);
  }
  if (s.watched > 0) {
    out.push(head(`Drift: ${s.watched} motors measured on six days or more`));
    out.push(
      s.drifting.length === 0
        ? "  none drifts\n"
        : `${list(
            s.drifting.map(
              (d) =>
                `${d.text}: ${digits(d.drift.slope.value, 3)} (${digits(d.drift.slope.low, 3)} to ${digits(d.drift.slope.high, 3)}) ${unitText(d.drift.slope.unit)}, ${chance(d.p)}`,
            ),
          )}\n`,
    );
  }
  if (s.charts.length > 0) {
    out.push(head("Control charts of the daily means (centre and limits from the first 20 days)"));
    out.push(
      `${list(
        s.charts.map(({ constant, dates, individuals, ewma }) => {
          const beyond = individuals.signals
            .filter((x) => x.rule.startsWith("beyond"))
            .map((x) => dates[x.at]);
          const soft =
            ewma.signals.length > 0 ? `; weighted average out on ${days(ewma.signals.length)}` : "";
          return `${wordsOf(constant)}: ${beyond.length === 0 ? "no day beyond the limits" : `beyond the limits on ${days(beyond.length)}, first ${beyond[0]}`}${soft}`;
        }),
      )}\n`,
    );
  }
  if (s.capability.length > 0) {
    out.push(head("Capability"));
    out.push(
      `${list(
        s.capability.map(
          ({ constant, result: c }) =>
            `${wordsOf(constant)}: ${c.cp === undefined ? "" : `Cp ${spanOf(c.cp)}, `}Cpk ${spanOf(c.cpk)}, ${c.counted} motors beyond; shape: ${c.shape.shape}`,
        ),
      )}\n`,
    );
  }
  if (s.gauge.length > 0) {
    out.push(head("Repeatability and reproducibility (motors measured on every rig)"));
    const rows = s.gauge.map(({ constant, study: g }) => [
      wordsOf(constant),
      digits(g.repeatability, 3),
      digits(g.reproducibility, 3),
      digits(g.motors, 3),
      percent(g.share),
      String(g.classes),
    ]);
    out.push(
      `${table([["constant", "repeats", "rigs", "motors", "gauge share", "classes"], ...rows], width)}\n`,
    );
  }
  if (s.life !== undefined) out.push(head("Life"), lifeText(s.life, list));
  out.push("\nAdvice from logs, never a clearance to run a machine.\n");
  return out.join("");
}

function lifeText(life: LifeSummary, list: (lines: readonly string[]) => string): string {
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
  return `${list(lines)}\n`;
}
