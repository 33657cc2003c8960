import { type ConstantName, constantNames } from "../../identify/constants.js";
import { isUndetermined } from "../../study/life/lifeData.js";
import { type StudyConstant, unitOfConstant } from "../../study/pipeline/studyConstants.js";
import { differencesText } from "../../study/population/differencesText.js";
import { heavyTailsText } from "../../study/population/heavyTailsText.js";
import { causeText, type NotSound } from "../../study/population/notSound.js";
import type { SmallestSeen } from "../../study/population/outlyingMotors.js";
import type { MotorRemaining } from "../../study/population/remainingLife.js";
import { medianOf } from "../../study/population/sample.js";
import type { StudySummary } from "../../study/population/studySummary.js";
import { coarseLines } from "../../study/population/tooCoarse.js";
import { timeLeftText, withinHorizon } from "../../study/population/withinHorizon.js";
import type { Estimate } from "../../units/estimate.js";
import { numberText, scaleOf, withHalf } from "../../units/forPeople.js";
import { tableHtml, text } from "../sections/parts.js";

/** Where the page of a motor is, or undefined where it has none. */
export type MotorLink = (motor: string) => string | undefined;

export const wordsOf = (constant: string) => constantNames[constant as ConstantName]?.words ?? constant;
const percent = (share: number) => `${String(Number((share * 100).toPrecision(2))).replace("-", "−")} %`;
export const chance = (p: number) => (p < 0.0001 ? "below 0.0001" : p.toPrecision(2));
export const counted = (n: number, one: string) => `${n} ${one}${n === 1 ? "" : "s"}`;

/** A time to three digits, also where it is long. */
export const timeNumber = (v: number) => numberText(Number(v.toPrecision(3)), 3);

/** When one motor reaches a limit, in words. */
export function leftText(
  { side, timeUnit, horizon }: StudySummary["remaining"][number],
  { beyond, remaining }: MotorRemaining,
): string {
  if (beyond > 0.5) return "beyond its limit already";
  const when = timeUnit === "h" ? "hours of use" : "days";
  return `${side} limit reached in ${timeLeftText(remaining, horizon, timeNumber)} ${when}`;
}

const signedText = (value: number, digits: number, unit: string) =>
  `${value > 0 ? "+" : "−"}${numberText(Math.abs(value), digits)} ${unit}`.trim();

/** A change in the unit of its constant. */
function shiftText(shift: number, code: string): string {
  const [unit, scale] = scaleOf(shift, code);
  return signedText(shift / scale, 3, unit);
}

/** A motor's name, as a link where it has a page of its own. */
export function motorHtml(motor: string, link: MotorLink): string {
  const to = link(motor);
  return to === undefined ? text(motor) : `<a href="${encodeURI(to)}">${text(motor)}</a>`;
}

/** Value with its interval and unit for people; `size` tells the scale where others of a column are to have it too. */
function estimateText(e: Estimate, size = e.value): string {
  // A change per day or hour is scaled as what changes.
  const [, of, per = ""] = /^(.*?)(\/[dh])?$/.exec(e.unit) ?? ["", e.unit];
  const [shown, scale] = scaleOf(size, of);
  const unit = `${shown}${per}`;
  const n = (v: number) => (Number.isFinite(v) ? numberText(v / scale, 3) : v > 0 ? "unbounded" : "none");
  return `${n(e.value)} (${n(e.low)} to ${n(e.high)})${unit === "" || unit === "1" ? "" : ` ${unit}`}`;
}

export const verdictWords: Readonly<Record<NotSound["verdict"], string>> = {
  runaway: "ran away",
  against: "turns against its command",
  reversed: "reversed",
  blocked: "blocked",
  faulty: "tracks, but shows a fault",
  undetermined: "not decided",
};

/** The verdict whose looks one has. */
function plainVerdict(verdict: NotSound["verdict"]): string {
  if (verdict === "faulty") return "undetermined";
  return verdict === "against" ? "reversed" : verdict;
}

/** Motors that are not sound, with cause and remedy. */
export function notSoundHtml({ notSound }: StudySummary, link: MotorLink): string {
  const wrong = notSound.filter((n) => n.verdict !== "undetermined");
  if (wrong.length === 0) return "";
  const rows = wrong
    .slice(0, mostRows)
    .map((n) => [
      motorHtml(n.motor, link),
      `<span class="say ${plainVerdict(n.verdict)}">${verdictWords[n.verdict]}</span>`,
      text(causeText(n) ?? "not named"),
      text(n.remedy ?? "look at the recording"),
      text(n.text),
    ]);
  return `${tableHtml(
    [
      { title: "Motor" },
      { title: "Verdict" },
      { title: "Most probable cause" },
      { title: "Remedy" },
      { title: "Seen", wide: true },
    ],
    rows,
    "Motors that are not sound",
  )}${more(wrong.length)}`;
}

/** Motors that could not be judged, with what they need. */
export function undecidedHtml({ notSound }: StudySummary, link: MotorLink): string {
  const open = notSound.filter((n) => n.verdict === "undetermined");
  if (open.length === 0) return "";
  const rows = open
    .slice(0, mostRows)
    .map((n) => [motorHtml(n.motor, link), String(n.recordings.length), text(n.text)]);
  return `${tableHtml(
    [
      { title: "Motor" },
      { title: "Recordings", number: true },
      { title: "Why, and what it needs", wide: true },
    ],
    rows,
    "Motors that could not be judged",
  )}${more(open.length)}`;
}

const mostRows = 60;
const more = (n: number) =>
  n > mostRows ? `<p class="quiet">and ${n - mostRows} more, in trials.parquet</p>` : "";

/** How small an effect would have been found. */
function seenHtml(what: string, smallest: readonly SmallestSeen[]): string {
  if (smallest.length === 0) return "";
  const each = smallest.map(({ constant, typical, below, above, unit }) => {
    const share = (v: number) => (v - typical) / Math.abs(typical);
    // A constant about zero has no share of itself.
    if (!(Math.abs(typical) > 0) || share(above) > 10 || share(below) < -10) {
      const [shown, scale] = scaleOf(typical, unit);
      return `${text(wordsOf(constant))} below ${numberText(below / scale, 2)} or above ${numberText(above / scale, 2)} ${text(shown)} (typical: ${numberText(typical / scale, 3)})`;
    }
    return `${text(wordsOf(constant))} ${text(percent(share(below)))} or +${text(percent(share(above)))}`;
  });
  return `<p class="quiet">${what} would have been found nine times out of ten from: ${each.join("; ")}.</p>`;
}

/** Outlying motors, each with its reason. */
export function outlyingHtml({ outlying, coarse }: StudySummary, link: MotorLink): string {
  const tooCoarse = coarseHtml(coarse);
  if (isUndetermined(outlying)) return `<p>Not judged: ${text(outlying.undetermined)}.</p>${tooCoarse}`;
  const rows = outlying.outlying
    .slice(0, mostRows)
    .map((o) => [motorHtml(o.motor, link), text(o.reason), chance(o.p)]);
  const none = `<p>None found among ${counted(outlying.judged, "motor")}.</p>`;
  return `${
    rows.length === 0
      ? none
      : `${tableHtml([{ title: "Motor" }, { title: "Why", wide: true }, { title: "p", number: true }], rows, "Outlying motors")}${more(outlying.outlying.length)}`
  }${seenHtml("A single motor", outlying.smallest)}${outlying.notJudged
    .map((n) => `<p class="quiet">${text(n.constant)} not judged: ${text(n.reason)}.</p>`)
    .join("")}${heavyTailsText(outlying.heavyTails.map(wordsOf))
    .map((line) => `<p class="quiet">${text(line)}.</p>`)
    .join("")}${tooCoarse}`;
}

/** Constants that are too coarse to be compared, with what would make them finer. */
function coarseHtml(coarse: StudySummary["coarse"]): string {
  if (coarse.length === 0) return "";
  const show = (value: number, unit: string) => {
    const [shown, scale] = scaleOf(value, unit);
    return `${numberText(value / scale, 2)} ${shown}`;
  };
  const items = coarseLines(coarse, show).map((line) => `<li>${text(line)}</li>`);
  return `<h3>Intervals wider than the motors differ</h3><ul>${items.join("\n")}</ul>`;
}

/** Batches or rigs with their means and intervals, and which stand out. */
export function groupsHtml(summary: StudySummary, factor: "batch" | "rig"): string {
  const compared = summary.differences.find((d) => d.factor === factor);
  const judged = summary.oddJudged.find((j) => j.factor === factor)?.judged;
  if (compared === undefined) return "";
  const odd = summary.odd.filter((o) => o.factor === factor);
  const stand = odd.map(
    (o) =>
      `<li><strong>${text(o.group)}</strong> stands out: ${text(wordsOf(o.constant))} ${percent(Math.abs(o.share))} ${o.share > 0 ? "above" : "below"} that of the others (p ${chance(o.p)}, ${counted(o.motors, "motor")})</li>`,
  );
  const none =
    judged === undefined || isUndetermined(judged)
      ? `<p>None can be said to stand out: ${text(judged === undefined ? "there is one only" : judged.undetermined)}.</p>`
      : `<p>None of ${judged.groups} found to stand out from how they differ among themselves.</p>`;
  const names = [...new Set(compared.constants.flatMap((c) => c.groups.map((g) => g.group)))];
  const shown = names.slice(0, mostRows);
  const columns = compared.constants.map((c) => {
    const typical = medianOf(c.groups.map((g) => Math.abs(g.mean)));
    const [unit, scale] = scaleOf(typical, c.groups[0]?.difference.unit ?? "1");
    return { c, unit, scale };
  });
  const rows = shown.map((name) => [
    text(name),
    String(Math.max(...compared.constants.map((c) => c.groups.find((g) => g.group === name)?.count ?? 0))),
    ...columns.map(({ c, scale }) => {
      const g = c.groups.find((one) => one.group === name);
      if (g === undefined) return "";
      const half = (g.difference.high - g.difference.low) / 2;
      const cell = withHalf(g.mean / scale, half / scale);
      const isOdd = odd.some((o) => o.group === name && o.constant === c.constant);
      return isOdd ? `<strong class="runaway">${cell}</strong>` : cell;
    }),
  ]);
  const table = tableHtml(
    [
      { title: factor === "batch" ? "Batch" : "Rig" },
      { title: "Motors", number: true },
      ...columns.map(({ c, unit }) => ({
        title: text(`${wordsOf(c.constant)}${unit === "" || unit === "1" ? "" : `, ${unit}`}`),
        number: true,
      })),
    ],
    rows,
    `Means of each ${factor}`,
    "dense",
  );
  const differing = differencesText(compared.constants, (p) => `p ${chance(p)}`);
  return `${stand.length > 0 ? `<ul>${stand.join("")}</ul>` : none}<ul>${differing.map((line) => `<li>${minusText(line)}</li>`).join("")}</ul>${
    judged !== undefined && !isUndetermined(judged)
      ? seenHtml(`A ${factor} that stands out`, judged.smallest)
      : ""
  }<details${names.length > 12 ? "" : " open"}><summary>Mean of each ${factor}, with half of the 95 % interval of its difference from the rest</summary>${table}${more(names.length)}</details>`;
}

/** Drift of single motors and of the fleet. */
export function driftHtml(summary: StudySummary, link: MotorLink): string {
  const { drift, drifting, watched } = summary;
  if (isUndetermined(drift))
    return summary.recordings === summary.motors ? "" : `<p>Not judged: ${text(drift.undetermined)}.</p>`;
  const fleet = drift.fleet.filter((f) => f.drifts);
  // Slopes of one constant have one unit.
  const sizeOf = (constant: string) =>
    drifting.reduce((m, d) => (d.constant === constant ? Math.max(m, Math.abs(d.slope.value)) : m), 0);
  const rows = drifting.map((d) => [
    motorHtml(d.motor, link),
    text(wordsOf(d.constant)),
    text(d.relative ? signedText(100 * d.change, 3, "%") : shiftText(d.shift, unitOfConstant(d.constant))),
    text(`${estimateText(d.slope, sizeOf(d.constant))}`),
    String(d.runs),
    chance(d.p),
  ]);
  const days = drift.smallest[0]?.span ?? 0;
  return [
    `<p>${counted(watched, "motor")} measured four times or more.</p>`,
    fleet.length > 0
      ? `<ul>${fleet.map((f) => `<li>All motors together: ${text(wordsOf(f.constant))} ${text(f.relative ? `${percent(f.change)} (${percent(f.low)} to ${percent(f.high)})` : `${estimateText(f.slope)}, ${shiftText(f.shift, unitOfConstant(f.constant as StudyConstant))}`)} over a typical time of watching (p ${chance(f.p)})</li>`).join("")}</ul>`
      : watched === 1
        ? ""
        : "<p>The fleet as a whole not found to drift.</p>",
    rows.length > 0
      ? tableHtml(
          [
            { title: "Motor" },
            { title: "Constant" },
            { title: "Change along its line", number: true },
            { title: "Slope (95 %)", number: true },
            { title: "Runs", number: true },
            { title: "p", number: true },
          ],
          rows,
          "Motors that drift",
        )
      : "<p>No single motor found to drift.</p>",
    `<p class="quiet">A change of one motor over ${numberText(days, 3)} days would have been found nine times out of ten from: ${drift.smallest
      .map((d) => {
        const [shown, scale] = scaleOf(d.motorShift, d.unit);
        // A constant about zero has no share of itself.
        const size = (share: number, shift: number) =>
          !d.relative
            ? `${numberText(shift / scale, 2)} ${text(shown)}`
            : share > 1
              ? `${numberText(1 + share, 2)} times`
              : percent(share);
        return `${text(wordsOf(d.constant))} ${size(d.motor, d.motorShift)}${watched === 1 ? "" : ` (all motors together ${size(d.fleet, d.fleetShift)})`}`;
      })
      .join("; ")}.</p>`,
  ].join("\n");
}

/** Mean, deviation and shape of each constant. */
export function distributionsHtml({ distributions }: StudySummary): string {
  const rows = distributions.map(({ words, unit, description: d }) => {
    const [shown, scale] = scaleOf(d.mean.value, unit);
    const n = (v: number) => (Number.isFinite(v) ? numberText(v / scale, 4) : "");
    const { value, low, high } = d.mean;
    return [
      text(`${words}${shown === "1" || shown === "" ? "" : `, ${shown}`}`),
      String(d.count),
      text(Number.isFinite(low) ? `${n(value)} (${n(low)} to ${n(high)})` : n(value)),
      text(Number.isFinite(d.deviation.value) ? numberText(d.deviation.value / scale, 3) : ""),
      text(d.shape.shape),
    ];
  });
  return tableHtml(
    [
      { title: "Constant" },
      { title: "Motors", number: true },
      { title: "Mean (95 %)", number: true },
      { title: "Deviation", number: true },
      { title: "Shape" },
    ],
    rows,
    "Constants, each sound motor as first measured",
  );
}

/** Text with the hyphens before numbers as minus signs. */
export const minusText = (line: string) => text(line.replace(/(^|[\s(])-(?=\d)/g, "$1−"));

/** Where the spread comes from, capability, gauge. */
export function spreadHtml(summary: StudySummary): string {
  const parts = [...new Set(summary.components.flatMap(({ split }) => Object.keys(split.shares)))];
  const components =
    summary.components.length === 0
      ? ""
      : `<h3>Parts of the variance</h3>${tableHtml(
          [{ title: "Constant" }, ...parts.map((title) => ({ title, number: true }))],
          summary.components.map(({ constant, split }) => [
            text(wordsOf(constant)),
            ...parts.map((name) =>
              split.shares[name] === undefined ? "" : `${(100 * split.shares[name]).toFixed(1)} %`,
            ),
          ]),
          "Where the spread comes from",
        )}`;
  const capability =
    summary.capability.length === 0
      ? ""
      : `<h3>Capability</h3>${tableHtml(
          [
            { title: "Constant" },
            { title: "Cp (95 %)", number: true },
            { title: "Cpk (95 %)", number: true },
            { title: "Beyond", number: true },
            { title: "Shape" },
          ],
          summary.capability.map(({ constant, result: c }) =>
            isUndetermined(c)
              ? [text(wordsOf(constant)), "", "", "", text(`not judged: ${c.undetermined}`)]
              : [
                  text(wordsOf(constant)),
                  c.cp === undefined ? "" : text(estimateText(c.cp)),
                  text(estimateText(c.cpk)),
                  String(c.counted),
                  text(c.shape.shape),
                ],
          ),
          "Capability",
        )}${summary.capability
          .flatMap(({ constant, doubt }) =>
            doubt === undefined
              ? []
              : [`<p>${text(`${wordsOf(constant)}: is this limit meant so? ${doubt}.`)}</p>`],
          )
          .join("")}`;
  const gauge =
    summary.gauge.length === 0
      ? ""
      : `<h3>Repeatability and reproducibility</h3>${tableHtml(
          [
            { title: "Constant" },
            { title: "Gauge share", number: true },
            { title: "Classes told apart", number: true },
          ],
          summary.gauge.map(({ constant, study: g }) => [
            text(wordsOf(constant)),
            `${(100 * g.share).toFixed(1)} %`,
            String(g.classes),
          ]),
          "Gauge",
        )}`;
  return components + capability + gauge;
}

/** Time left until limits, soonest first; what lies beyond ten times the watching is not followed. */
export function remainingHtml(summary: StudySummary, link: MotorLink): string {
  return summary.remaining
    .map(({ constant, side, limit, timeUnit, horizon, found }) => {
      const unit = summary.distributions.find((d) => d.constant === constant)?.unit ?? "1";
      const [shown, scale] = scaleOf(limit, unit);
      const title = `<h3>${text(wordsOf(constant))} ${side === "upper" ? "above" : "below"} ${String(Number((limit / scale).toPrecision(4))).replace("-", "−")} ${text(shown)}</h3>`;
      if (isUndetermined(found)) return `${title}<p>Not said: ${text(found.undetermined)}.</p>`;
      const when = timeUnit === "h" ? "hours of use" : "days";
      const span = (time: Estimate) => timeLeftText(time, horizon, timeNumber);
      const { near, far } = withinHorizon(found, horizon);
      const table =
        near.length === 0
          ? ""
          : tableHtml(
              [
                { title: "Motor" },
                { title: `Left, ${when} (95 %)`, number: true },
                { title: "Level now (95 %)", number: true },
                { title: "Runs", number: true },
              ],
              near
                .slice(0, mostRows)
                .map((m) => [
                  motorHtml(m.motor, link),
                  m.beyond > 0.5 ? "beyond it already" : text(span(m.remaining)),
                  text(estimateText(m.level)),
                  String(m.runs),
                ]),
              "Time left",
            );
      const rest =
        far === 0
          ? ""
          : `<p>${counted(far, "motor")}: not within ${timeNumber(horizon)} ${when}, ten times as long as they were watched; their lines are not followed further.</p>`;
      return `${title}<ul>${found.fleet
        .map(
          ({ share, time }) =>
            `<li>${percent(share)} of such motors have reached it after ${text(span(time))} ${when} from their start</li>`,
        )
        .join("")}</ul>${table}${more(near.length)}${rest}`;
    })
    .join("\n");
}
