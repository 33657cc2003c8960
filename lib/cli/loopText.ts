import type { LoopDocument, RecordingLoop } from "../control/index.js";
import { findingText } from "../recording/findingText.js";
import { restsOnText } from "../report/restsOn.js";
import type { Estimate } from "../units/estimate.js";
import { secondsText, sentence, stopped } from "../units/forPeople.js";
import { visible } from "../units/text.js";
import type { Io } from "./io.js";
import { attentionLines, pageWidth, paint, paragraph, table } from "./layout.js";

/** The document as a person reads it, at the width of the terminal. */
export function loopText(document: LoopDocument, io: Pick<Io, "color" | "columns">): string {
  const width = pageWidth(io);
  const blocks = document.recordings.map((r) => recordingText(r, io, width));
  for (const p of document.problems)
    blocks.push(paragraph(visible(findingText(p), 800), width, `${p.severity}: `));
  if (document.recordings.length === 0 && blocks.length === 0) blocks.push("no recordings were found");
  return `${blocks.join("\n\n")}\n`;
}

function recordingText(r: RecordingLoop, io: Pick<Io, "color">, width: number): string {
  const lines: string[] = [];
  const name = [visible(r.path, 60), r.ordering, r.motor ? visible(r.motor, 30) : undefined]
    .filter(Boolean)
    .join("  ");
  lines.push(paint(io, "strong", name), ...attentionLines(r.attention, width));
  if (r.problem) lines.push(paragraph(stopped(visible(r.problem, 300)), width, "  problem: "));
  for (const m of r.missing) lines.push(paragraph(stopped(m), width, "  missing: "));
  const { report, loop, assumptions = [] } = r;
  const resting = restsOnText(assumptions);
  if (resting !== undefined && (loop || r.proposals || r.trials.length > 0))
    lines.push(paragraph(`${resting}.`, width, "  rests on: "));
  if (report && loop) {
    lines.push("", table(reportRows(r, report, loop, io), width), "");
    for (const a of report.assumptions) lines.push(paragraph(stopped(a), width, "  assumed: "));
  }
  for (const n of r.notes) lines.push(paragraph(stopped(n), width, "  timing: "));
  for (const m of r.mixups)
    lines.push(paragraph(`Stated and used gains differ as if ${m.text}.`, width, "  mix-up: "));
  const runaway = report?.runaway !== undefined;
  const whole = r.trials.length > mostWhole && !runaway ? r.trials.slice(0, 1) : r.trials;
  for (const trial of whole) lines.push(...trialLines(trial, runaway, width));
  if (whole.length < r.trials.length) lines.push(...furtherTrials(r.trials, width));
  if (r.proposals) lines.push(...proposalLines(r.proposals, io, width));
  return lines.join("\n");
}

type Report = NonNullable<RecordingLoop["report"]>;
type Loop = NonNullable<RecordingLoop["loop"]>;

/** What the loop is and does, a label and a value in each row. */
function reportRows(r: RecordingLoop, report: Report, loop: Loop, io: Pick<Io, "color">): string[][] {
  const rows: string[][] = [];
  const add = (label: string, text: string): void => void rows.push([`  ${label}`, text]);
  add(
    "gains",
    `kp ${short(loop.gains.kp)} A per rad/s, ki ${short(loop.gains.ki)} A/rad${
      loop.gains.referenceWeight === undefined ? "" : `, weight ${short(loop.gains.referenceWeight)}`
    } (${r.sources.gains?.split(":")[0] ?? "given"})`,
  );
  add("loop", report.stable ? paint(io, "good", "stable") : paint(io, "bad", "not stable"));
  if (report.stableShare > 0 && report.stableShare < 1)
    add("over the spread", `${(100 * report.stableShare).toFixed(0)} % of the loops drawn are stable`);
  if (report.runaway) {
    add("runaway", `grows by e every ${estimateText(report.runaway.growthTime, "s")}`);
    add("", sentence(report.runaway.text));
  }
  if (report.margins) rows.push(...marginRows(report.margins, loop));
  const pm = report.positionMargins;
  if (pm?.phaseMargin)
    add(
      "position loop",
      `phase margin ${estimateText(pm.phaseMargin, "deg")}, Ms ${estimateText(pm.sensitivityPeak, "")}`,
    );
  const [pole] = report.poles;
  if (pole)
    add(
      "slowest pole",
      `${short(pole.re)}${pole.im === 0 ? "" : ` ± ${short(Math.abs(pole.im))}j`} rad/s, damping ${short(pole.damping)}`,
    );
  add("offset error", sentence(report.offset.text));
  for (const c of report.limitCycles) add("limit cycle", sentence(c.text));
  if (report.noise)
    add(
      "noise",
      `${short(report.noise.gain)} A RMS per rad/s RMS of speed noise${
        report.noise.rippleFromCounts === undefined
          ? ""
          : `; ${short(report.noise.rippleFromCounts)} A RMS from encoder counts`
      }`,
    );
  if (r.prediction) {
    const { linear, real, stepSize } = r.prediction;
    add(
      `step ${short(stepSize)} rad/s`,
      `rise ${time(linear.rise)}, overshoot ${overshootText(linear.overshoot)}, settles in ${time(linear.settling)}; with limits and friction: rise ${time(real.rise)}, overshoot ${overshootText(real.overshoot)}, peak ${short(real.peakCurrent)} A`,
    );
  }
  return rows;
}

function marginRows(m: NonNullable<Report["margins"]>, loop: Loop): string[][] {
  const rows: string[][] = [];
  const add = (label: string, text: string): void => void rows.push([`  ${label}`, text]);
  // Without any delay in the model its margins are those of a loop that no sampled drive can be.
  const best = loop.sampleTime === undefined && loop.computationDelay === undefined ? "at best " : "";
  add(
    "gain margin",
    m.gainMargin ? `${best}${estimateText(m.gainMargin, "")} times` : "no limit in this model",
  );
  if (m.gainReduction) add("gain may fall to", `${estimateText(m.gainReduction, "")} times`);
  add("phase margin", m.phaseMargin ? `${best}${estimateText(m.phaseMargin, "deg")}` : "no unit gain");
  if (m.delayMargin) add("delay margin", `${best}${estimateText(m.delayMargin, "s")}`);
  if (m.crossover) add("crossover", estimateText(m.crossover, "rad/s"));
  add("peak Ms / Mt", `${estimateText(m.sensitivityPeak, "")} / ${estimateText(m.complementaryPeak, "")}`);
  return rows;
}

/** What one speed trial shows of the loop. */
function trialLines(trial: RecordingLoop["trials"][number], runaway: boolean, width: number): string[] {
  const lines: string[] = [];
  lines.push("", `  Speed trial, ${secondsText(trial.start)} to ${secondsText(trial.end)} s`);
  const g = trial.gainsInUse;
  lines.push(
    paragraph(
      g.kp && g.ki
        ? `kp ${estimateText(g.kp, "A per rad/s")}, ki ${estimateText(g.ki, "A/rad")}.`
        : `not seen: ${(g.missing ?? "unknown").replace(/\.$/, "")}.`,
      width,
      "    gains in use: ",
    ),
  );
  for (const f of g.findings) lines.push(paragraph(findingText(f), width, `    ${f.severity}: `));
  lines.push(paragraph(sentence(trial.saturation.text), width, "    "));
  if (trial.comparison) lines.push(paragraph(sentence(trial.comparison.text), width, "    "));
  // A runaway answers no step.
  const answered = runaway ? [] : trial.steps;
  if (answered.length > 0) lines.push(stepTable(answered, width));
  for (const s of answered)
    if (s.predicted) lines.push(paragraph(`${stepName(s)}: ${s.text.replace(/\.$/, "")}.`, width, "    "));
  if (trial.growth)
    lines.push(
      paragraph(
        trial.growth.growthTime
          ? `grew by e every ${estimateText(trial.growth.growthTime, "s")}: ${trial.growth.agrees ? "as predicted" : "not as predicted"}`
          : `growth not seen: ${trial.growth.missing ?? "unknown"}`,
        width,
        "    ",
      ),
    );
  if (trial.saturatedRunaway) lines.push(paragraph(sentence(trial.saturatedRunaway.text), width, "    "));
  return lines;
}

/** Most speed trials of a recording that are shown whole. */
const mostWhole = 5;
/** Most that have a row. */
const mostRows = 20;

/** Many speed trials, a row each: the gains in use, and how the model of the loop explains them. */
function furtherTrials(trials: RecordingLoop["trials"], width: number): string[] {
  const rows = [["    from", "kp", "ki", "at limit", "fit index", "rise", "overshoot"]];
  for (const { start, gainsInUse, saturation, comparison, steps } of trials.slice(0, mostRows)) {
    const [first] = steps;
    rows.push([
      `    ${secondsText(start)} s`,
      gainsInUse.kp ? short(gainsInUse.kp.value) : "not seen",
      gainsInUse.ki ? short(gainsInUse.ki.value) : "not seen",
      saturation.missing === undefined ? percent(saturation.share) : "-",
      comparison?.fitIndex === undefined ? "-" : comparison.fitIndex.toFixed(2),
      time(first?.measured.rise?.value),
      first?.measured.overshoot === undefined ? "-" : overshootText(first.measured.overshoot.value / 100),
    ]);
  }
  const rest = trials.length - mostRows;
  return [
    "",
    `  ${trials.length} speed trials side by side, the first of them shown above`,
    table(rows, width),
    paragraph(
      `kp and ki in use, in A per rad/s and A/rad; rise and overshoot of the first step of each.${rest > 0 ? ` ${rest} more are in --json.` : ""}`,
      width,
      "    ",
    ),
  ];
}

/** Gains to start from, what the bench simulator makes of them, what was assumed, and the caution. */
function proposalLines(
  all: NonNullable<RecordingLoop["proposals"]>,
  io: Pick<Io, "color">,
  width: number,
): string[] {
  const lines: string[] = [];
  const { proposals, missing } = all;
  if (proposals.length > 0) {
    lines.push("", "  Gains to start from");
    const rows = [["    rule", "kp", "ki", "b", "rise", "over", "peak", "PM", "Ms"]];
    for (const p of proposals) {
      const m = p.report.margins;
      rows.push([
        `    ${p.rule}`,
        short(p.gains.kp),
        short(p.gains.ki),
        short(p.gains.referenceWeight),
        time(p.checked.rise),
        overshootText(p.checked.overshoot),
        `${short(p.checked.peakCurrent)} A`,
        m?.phaseMargin ? `${m.phaseMargin.low.toFixed(0)} deg` : "-",
        m ? m.sensitivityPeak.high.toFixed(2) : "-",
      ]);
    }
    lines.push(table(rows, width));
    lines.push(
      paragraph(
        `kp in A per rad/s, ki in A/rad, b reference weight; rise, overshoot and peak of a step of ${short(proposals[0].stepSize)} rad/s with limits; PM the least phase margin and Ms the highest sensitivity peak over the spread.`,
        width,
        "    ",
      ),
    );
    for (const p of proposals)
      if (p.checked.text !== "the real loop does as the linear one")
        lines.push(paragraph(p.checked.text, width, `    ${p.rule}: `));
    lines.push(...benchText(proposals, io, width));
  }
  lines.push("");
  for (const a of all.assumed ?? []) lines.push(paragraph(stopped(a), width, "  assumed: "));
  for (const m of missing) lines.push(paragraph(stopped(m), width, "  no proposal: "));
  if (proposals.length > 0) lines.push(paragraph(proposals[0].caution, width, "  caution: "));
  return lines;
}

type Step = RecordingLoop["trials"][number]["steps"][number];

const stepName = (s: { readonly from: number; readonly to: number }): string =>
  `${short(s.from)} to ${short(s.to)} rad/s`;

/** The steps of a speed trial: measured, the best of the response shapes, and the model of the loop. */
function stepTable(steps: readonly Step[], width: number): string {
  const rows = [["    step of reference", "rise", "overshoot", "settles", "fit index", "residuals"]];
  for (const s of steps) {
    const figures = (f: Step["measured"]): string[] => [
      time(f.rise?.value),
      f.overshoot === undefined ? "-" : overshootText(f.overshoot.value / 100),
      time(f.settling?.value),
    ];
    const agreement = (a: { readonly fitIndex: number; readonly white: boolean }): string[] => [
      a.fitIndex.toFixed(2),
      a.white ? "white" : "not white",
    ];
    rows.push([`    ${stepName(s)}`], ["      measured", ...figures(s.measured), "", ""]);
    if (s.predicted)
      rows.push(["      model of the loop", ...figures(s.predicted), ...agreement(s.predicted)]);
    if (s.fitted)
      rows.push([`      ${s.fitted.shape.replaceAll("-", " ")}`, "", "", "", ...agreement(s.fitted)]);
  }
  return table(rows, width);
}

type Proposal = NonNullable<RecordingLoop["proposals"]>["proposals"][number];

/** What the bench simulator makes of the proposals, and which of them it does not bear out. */
function benchText(proposals: readonly Proposal[], io: Pick<Io, "color">, width: number): string[] {
  const steps = proposals.find((p) => p.bench)?.bench?.steps ?? [];
  const lines: string[] = [];
  for (const [k, step] of steps.entries()) {
    lines.push("", `  The same on the bench simulator, a step of ${stepName(step)}`);
    const rows = [["    rule", "rise", "overshoot", "settles", "peak", "at its limit"]];
    for (const p of proposals) {
      const s = p.bench?.steps[k];
      if (s === undefined) continue;
      rows.push([
        `    ${p.rule}`,
        time(s.rise),
        overshootText(s.overshoot),
        time(s.settling),
        `${short(s.peakCurrent)} A`,
        limits(s),
      ]);
    }
    lines.push(table(rows, width));
  }
  for (const p of proposals)
    if (p.bench && !p.bench.passed)
      lines.push(
        paragraph(
          `${paint(io, "bad", "not borne out")}: ${p.bench.text}; lower gains did not help`,
          width,
          `    ${p.rule}: `,
        ),
      );
  return lines;
}

function limits(s: { readonly currentLimitShare: number; readonly voltageLimitShare?: number }): string {
  const said = [
    ...(s.currentLimitShare > 0.01 ? [`current ${percent(s.currentLimitShare)}`] : []),
    ...((s.voltageLimitShare ?? 0) > 0.01 ? [`voltage ${percent(s.voltageLimitShare as number)}`] : []),
  ];
  return said.length === 0 ? "none" : said.join(", ");
}

const short = (x: number): string => {
  if (!Number.isFinite(x)) return "-";
  const text = x.toPrecision(3);
  return text.includes("e") ? text : String(Number(text));
};

const percent = (share: number): string => `${(100 * share).toFixed(0)} %`;

/** Overshoot as a share of the step: beyond the whole step again it oscillates, and how far says little. */
const overshootText = (share: number): string =>
  share > 1 ? "over 100 % (oscillates)" : percent(Math.max(0, share));

const time = (seconds: number | undefined): string =>
  seconds === undefined ? "-" : seconds < 1 ? `${short(1000 * seconds)} ms` : `${short(seconds)} s`;

/** A value with its interval where there is one: `66.3 (66.1 to 66.6) deg`. */
function estimateText(e: Estimate, unit: string): string {
  const inMs = unit === "s" && Math.abs(e.value) < 1;
  const f = inMs ? 1000 : 1;
  const shown = inMs ? "ms" : unit;
  const range =
    e.low === e.high
      ? ""
      : ` (${short(e.low * f)} to ${Number.isFinite(e.high) ? short(e.high * f) : "never"})`;
  return `${short(e.value * f)}${range}${shown === "" ? "" : ` ${shown}`}`;
}
