import { type ConstantName, constantNames } from "../identify/constants.js";
import { isUndetermined } from "../study/life/lifeData.js";
import { unitOfConstant } from "../study/pipeline/studyConstants.js";
import { changesText } from "../study/population/changesText.js";
import type { StudyComparison } from "../study/population/compareStudies.js";
import { differencesText } from "../study/population/differencesText.js";
import { heavyTailsText } from "../study/population/heavyTailsText.js";
import { causeText, type NotSound, oddsText } from "../study/population/notSound.js";
import type { SmallestSeen } from "../study/population/outlyingMotors.js";
import type { MotorRemaining } from "../study/population/remainingLife.js";
import type { StudySummary } from "../study/population/studySummary.js";
import { coarseLines } from "../study/population/tooCoarse.js";
import { timeLeftText, withinHorizon } from "../study/population/withinHorizon.js";
import type { Estimate } from "../units/estimate.js";
import { scaleOf, unitText } from "../units/forPeople.js";
import { visible } from "../units/text.js";
import type { Io } from "./io.js";
import { pageWidth, paint, paragraph, table } from "./layout.js";
import { lifeLines } from "./studyLifeText.js";

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
/** A change relative to what is usual: in per cent, or as a factor where it more than doubles. */
const changed = (share: number) =>
  share > 1 ? `${Number((1 + share).toPrecision(2))} times` : `${share > 0 ? "+" : ""}${roughly(share)}`;
const chance = (p: number) => (p < 0.0001 ? "p < 0.0001" : `p = ${p.toPrecision(2)}`);
const spanOf = (e: Estimate) =>
  Number.isNaN(e.low) ? digits(e.value) : `${digits(e.value)} (${digits(e.low)} to ${digits(e.high)})`;

/** The same with its unit, at a scale that reads well; a change per day or hour is scaled as what changes. */
function scaledSpan(e: Estimate): string {
  const [, of, per = ""] = /^(.*?)(\/[dh])?$/.exec(e.unit) ?? ["", e.unit];
  const [unit, scale] = scaleOf(Math.max(Math.abs(e.value), Math.abs(e.low), Math.abs(e.high)), of);
  const shown = { ...e, value: e.value / scale, low: e.low / scale, high: e.high / scale };
  return `${spanOf(shown)} ${unit}${per}`.trim();
}

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
export function summaryText(
  s: StudySummary,
  io: Pick<Io, "color" | "columns">,
  options: { readonly shares?: readonly number[]; readonly since?: StudyComparison } = {},
): string {
  const width = pageWidth(io);
  const pen: Pen = {
    head: (text) => `\n${paint(io, "strong", paragraph(text, width))}\n`,
    list: (lines, most = 12) =>
      lines.length === 0
        ? ""
        : `${[
            ...lines.slice(0, most).map((line) => paragraph(line, width, "  ")),
            ...(lines.length > most ? [`  and ${lines.length - most} more`] : []),
          ].join("\n")}\n`,
    bad: (text) => paint(io, "bad", text),
    width,
  };
  return [
    `${count(s.motors, "motor")}, ${count(s.recordings, "recording")}${s.withoutResult > 0 ? `, ${s.withoutResult} without a result` : ""}\n`,
    unnamedText(s, width),
    `${paragraph(`What stands out below is judged so that a fleet in which nothing does gives any false alarm in a part of the output with a chance of ${roughly(s.alpha)}.`, width)}\n`,
    options.since === undefined ? "" : sinceText(options.since, pen),
    soundText(s, pen),
    distributionsText(s, pen),
    outlyingText(s, pen),
    coarseText(s, pen),
    groupsText(s, pen),
    componentsText(s, pen),
    driftText(s, pen),
    chartsText(s, pen),
    capabilityText(s, pen),
    gaugeText(s, pen),
    remainingText(s, pen),
    s.life === undefined
      ? ""
      : pen.head("Life") + pen.list([...elsewhereLine(s), ...lifeLines(s.life, options.shares)], 40),
    "\nAdvice from logs, never a clearance to run a machine.\n",
  ].join("");
}

/** Says when a life table is of other motors than the study. */
function elsewhereLine({ livesElsewhere = 0 }: StudySummary): string[] {
  if (livesElsewhere === 0) return [];
  return [
    `${count(livesElsewhere, "line")} of the life table ${livesElsewhere === 1 ? "is of a motor" : "are of motors"} that the study does not have`,
  ];
}

function unnamedText({ unnamed }: StudySummary, width: number): string {
  if (unnamed === 0) return "";
  const text =
    unnamed === 1
      ? "1 recording states no motor and counts as a motor of its own"
      : `${unnamed} recordings state no motor: each counts as a motor of its own`;
  return `${paragraph(`${text}. A table given to study run by --about says whose it is.`, width)}\n`;
}

function coarseText({ coarse }: StudySummary, { head, list }: Pen): string {
  if (coarse.length === 0) return "";
  const show = (value: number, unit: string) => {
    const [shown, size] = scaleOf(value, unit);
    return `${digits(value / size, 2)} ${shown}`;
  };
  return (
    head("Intervals wider than the motors differ") +
    list(coarseLines(coarse, show).map((line) => visible(line, 600)))
  );
}

/** How the verdict of a motor reads. */
const soundWords: Readonly<Record<NotSound["verdict"], string>> = {
  runaway: "ran away",
  against: "turns against its command",
  reversed: "reversed",
  blocked: "blocked",
  faulty: "tracks, but shows a fault",
  undetermined: "not decided",
};

function soundText(s: StudySummary, { head, list, bad }: Pen): string {
  const counts = Object.entries(s.verdicts).map(
    ([word, n]) => `${n} ${word === "against" ? "tracking against the command" : word}`,
  );
  const title = counts.length > 0 ? `Trials: ${counts.join(", ")}` : "Trials";
  const wrong = s.notSound.filter((n) => n.verdict !== "undetermined");
  const open = s.notSound.filter((n) => n.verdict === "undetermined");
  return (
    head(title) +
    list(
      wrong.length === 0
        ? ["no motor blocked, reversed, running away, turning against its command or showing a fault"]
        : togetherLines(wrong, (n) => bad(soundWords[n.verdict])),
      30,
    ) +
    (open.length === 0
      ? ""
      : head(`Not decided: ${count(open.length, "motor")}`) + list(togetherLines(open, () => "")))
  );
}

/** Most motors of one finding that are named. */
const mostNamed = 40;

/** Motors that are not sound, those of one verdict, cause and remedy in one line with what was seen of the first. */
function togetherLines(motors: readonly NotSound[], verdict: (n: NotSound) => string): string[] {
  const groups = new Map<string, NotSound[]>();
  for (const n of motors) {
    // Of one that could not be judged what it lacks is the finding.
    const key = JSON.stringify([n.verdict, n.cause, n.remedy, n.verdict === "undetermined" ? n.text : ""]);
    groups.set(key, [...(groups.get(key) ?? []), n]);
  }
  return [...groups.values()].map((group) => {
    const [first] = group;
    const alone = group.length === 1;
    const each = group.slice(0, mostNamed).map((n) => {
      const odds = alone || n.cause === null ? "" : oddsText(n);
      const times = n.recordings.length > 1 ? `in ${n.recordings.length} recordings` : "";
      const beside = [odds, times].filter((part) => part !== "").join(", ");
      return `${visible(n.motor)}${beside === "" ? "" : ` (${beside})`}`;
    });
    const more = group.length > mostNamed ? ` and ${group.length - mostNamed} more` : "";
    const cause = alone ? causeText(first) : first.cause;
    const seen =
      first.text === "" ? "" : ` ${alone ? "" : `${visible(first.motor)}: `}${visible(first.text)}`;
    const parts = [
      verdict(first) === "" ? "" : ` ${verdict(first)}.`,
      cause === null ? "" : ` Most probable cause: ${visible(cause)}.`,
      first.remedy === null ? "" : ` Remedy: ${visible(first.remedy)}.`,
    ].join("");
    // What those that could not be judged lack comes first.
    return `${each.join(", ")}${more}:${first.verdict === "undetermined" ? ` ${visible(first.text)}${parts}` : `${parts}${seen}`}`;
  });
}

function distributionsText(s: StudySummary, { head, width }: Pen): string {
  if (s.distributions.length === 0) return "";
  const rows = s.distributions.map(({ words, unit, description: d }) => {
    const [shown, size] = scaleOf(d.mean.value, unit);
    const mean = { ...d.mean, value: d.mean.value / size, low: d.mean.low / size, high: d.mean.high / size };
    const deviation = Number.isNaN(d.deviation.value) ? "" : digits(d.deviation.value / size, 3);
    return [words, String(d.count), spanOf(mean), deviation, d.shape.shape, shown];
  });
  const titles = ["constant", "n", "mean (95 %)", "deviation", "shape", "unit"];
  return `${head("Constants, each sound motor as first measured")}${table([titles, ...rows], width)}\n`;
}

/** How small an effect would have been seen, in words. */
function seenText(what: string, smallest: readonly SmallestSeen[]): string {
  const each = smallest.map(({ constant, typical, below, above, unit }) => {
    const share = (v: number) => (v - typical) / Math.abs(typical);
    const relative = Math.abs(typical) > 0 && share(above) < 10 && share(below) > -10;
    const [shown, size] = scaleOf(typical, unit);
    const ends = relative
      ? `${changed(share(below))} or ${changed(share(above))}`
      : `below ${digits(below / size, 2)} or above ${digits(above / size, 2)} ${shown} (typical: ${digits(typical / size, 3)})`;
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
      ...heavyTailsText(found.heavyTails.map(wordsOf)),
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
      const differing = differencesText(constants, chance);
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
    return s.recordings === s.motors ? "" : head("Drift") + list([`not judged: ${s.drift.undetermined}`]);
  const fleet = s.drift.fleet
    .filter((f) => f.drifts)
    .map(
      (f) =>
        `all motors together: ${wordsOf(f.constant)} ${f.relative ? changeText(f.change, f.low, f.high) : `${scaledSpan(f.slope)}, ${shifted(f.shift, f.slope.unit.replace(/\/[dh]$/, ""))}`} over a typical time of watching (${chance(f.p)})`,
    );
  const single = s.drifting.map((d) => `${visible(d.text)}: ${scaledSpan(d.slope)}, ${chance(d.p)}`);
  const days = s.drift.smallest[0]?.span ?? 0;
  const seen = s.drift.smallest.map((d) => {
    // A constant about zero has no share of itself.
    const size = (share: number, shift: number) =>
      d.relative ? changed(share) : shifted(shift, d.unit, d.motorShift);
    const all = s.watched === 1 ? "" : ` (all motors together ${size(d.fleet, d.fleetShift)})`;
    return `${wordsOf(d.constant)} ${size(d.motor, d.motorShift)}${all}`;
  });
  return (
    head(`Drift: ${count(s.watched, "motor")} measured four times or more`) +
    list([
      ...fleet,
      ...(single.length > 0 ? single : ["no single motor found to drift"]),
      ...(fleet.length > 0 || s.watched === 1 ? [] : ["the fleet as a whole not found to drift"]),
      `a change of one motor over ${digits(days, 3)} days would have been found nine times out of ten from: ${seen.join("; ")}`,
    ])
  );
}

/** A change of a constant about zero in its unit, at the scale of another that stands beside it. */
function shifted(shift: number, code: string, beside = shift): string {
  const [unit, scale] = scaleOf(beside, code);
  return `${digits(shift / scale, 2)} ${unit}`.trim();
}

function changeText(value: number, low: number, high: number): string {
  return `${changed(value)} (${changed(low)} to ${changed(high)})`;
}

function chartsText(s: StudySummary, { head, list }: Pen): string {
  if (isUndetermined(s.charts)) return head("Control charts") + list([`not drawn: ${s.charts.undetermined}`]);
  const [{ chart: one }] = s.charts;
  const lines = s.charts.map(({ constant, chart }) => {
    const apart = chart.individuals.signals;
    const found = [
      ...chart.steps.map(
        (step) =>
          `${changed(step.change)} from ${step.date} on (95 %: ${changed(step.low)} to ${changed(step.high)})`,
      ),
      ...(apart.length > 0
        ? [`apart on ${count(apart.length, "day")}, first ${chart.dates[apart[0].at]} (${apart[0].rule})`]
        : []),
    ];
    const { smallest, smallestShift, smallestStep, smallestStepShift } = chart;
    const least = (part: number, shift: number) =>
      part < 10 ? changed(part) : `${digits(shift, 2)} ${unitText(unitOfConstant(constant))}`;
    const seen = `would have been found: one day apart from ${least(smallest, smallestShift)}, a step in the last third from ${least(smallestStep, smallestStepShift)}`;
    return `${wordsOf(constant)}: ${found.length > 0 ? found.join("; ") : "no step and no day apart found"} (${seen})`;
  });
  return (
    head("Control charts of the daily means (steps, days and batches apart; limits by motors and batches)") +
    list([
      ...lines,
      `without any change, one false alarm of a constant in ${Number(one.runLength.toPrecision(2))} days of measuring`,
    ])
  );
}

function capabilityText(s: StudySummary, { head, list }: Pen): string {
  if (s.capability.length === 0) return "";
  const lines = s.capability.map(
    ({ constant, result: c, doubt }) =>
      (isUndetermined(c)
        ? `${wordsOf(constant)}: not judged: ${c.undetermined}`
        : `${wordsOf(constant)}: ${c.cp === undefined ? "" : `Cp ${spanOf(c.cp)}, `}Cpk ${spanOf(c.cpk)}, ${count(c.counted, "motor")} beyond; shape: ${c.shape.shape}`) +
      (doubt === undefined ? "" : `. Is this limit meant so? ${doubt}`),
  );
  return head("Capability") + list(lines);
}

function gaugeText(s: StudySummary, { head, width }: Pen): string {
  if (s.gauge.length === 0) return "";
  const rows = s.gauge.map(({ constant, study: g }) => {
    const largest = Math.max(g.repeatability, g.reproducibility, g.motors);
    const [unit, size] = scaleOf(largest, unitOfConstant(constant));
    const parts = [g.repeatability, g.reproducibility, g.motors].map((v) => digits(v / size, 3));
    return [wordsOf(constant), ...parts, unit, percent(g.share), String(g.classes)];
  });
  const titles = ["constant", "repeats", "rigs", "motors", "unit", "gauge share", "classes"];
  return `${head("Repeatability and reproducibility (motors measured on every rig)")}${table([titles, ...rows], width)}\n`;
}

/** A limit at a scale that reads well. */
function limitText(limit: number, constant: Parameters<typeof unitOfConstant>[0]): string {
  const [unit, size] = scaleOf(limit, unitOfConstant(constant));
  return `${digits(limit / size)} ${unit}`.trim();
}

function remainingText(s: StudySummary, { head, list }: Pen): string {
  return s.remaining
    .map(({ constant, side, limit, timeUnit, horizon, found }) => {
      const what = `${wordsOf(constant)} ${side === "upper" ? "above" : "below"} ${limitText(limit, constant)}`;
      const title = head(`Time left until ${what}`);
      if (isUndetermined(found)) return title + list([`not said: ${found.undetermined}`]);
      const unit = timeUnit === "h" ? "hours of use" : "days";
      const span = (time: Estimate) => timeLeftText(time, horizon, (v) => digits(v, 3));
      const { near, far } = withinHorizon(found, horizon);
      const one = (m: MotorRemaining) =>
        m.beyond > 0.5
          ? `${visible(m.motor)}: beyond it already (level ${scaledSpan(m.level)})`
          : `${visible(m.motor)}: ${span(m.remaining)} ${unit}`;
      return (
        title +
        list(
          found.fleet.map(
            ({ share, time }) =>
              `${roughly(share)} of such motors have reached it after ${span(time)} ${unit} from their start`,
          ),
        ) +
        list(near.map(one)) +
        (far === 0
          ? ""
          : list([
              `${count(far, "motor")}: not within ${digits(horizon, 3)} ${unit}, ten times as long as they were watched; their lines are not followed further`,
            ]))
      );
    })
    .join("");
}

function sinceText(c: StudyComparison, { head, list }: Pen): string {
  const names = (list: readonly string[]) =>
    `${list
      .slice(0, 6)
      .map((n) => visible(n))
      .join(", ")}${list.length > 6 ? ` and ${list.length - 6} more` : ""}`;
  const lines = [
    `${count(c.newRecordings, "recording")} and ${count(c.newMotors.length, "motor")} new${c.newMotors.length > 0 ? `: ${names(c.newMotors)}` : ""}`,
    ...(c.goneRecordings > 0
      ? [
          `${count(c.goneRecordings, "recording")} and ${count(c.goneMotors.length, "motor")} are not there any more`,
        ]
      : []),
    ...(c.movedRecordings > 0
      ? [`${count(c.movedRecordings, "recording")} the same under another name or folder`]
      : []),
    ...(c.changedRecordings > 0
      ? [`${count(c.changedRecordings, "recording")} with other content under the same name`]
      : []),
    ...(c.newlyNotSound.length > 0
      ? [`newly not sound: ${names(c.newlyNotSound.map((n) => `${n.motor} (${soundWords[n.verdict]})`))}`]
      : ["no motor newly not sound"]),
    ...(c.soundAgain.length > 0 ? [`sound again: ${names(c.soundAgain)}`] : []),
    ...c.changed.map((x) => `${visible(x.motor)}: ${x.before} before, ${x.now} now`),
    ...changesText(c.constants, chance),
  ];
  return head("Since the earlier study") + list(lines, 30);
}
