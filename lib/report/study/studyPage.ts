import { isUndetermined } from "../../study/life/lifeData.js";
import { changesText } from "../../study/population/changesText.js";
import type { StudyComparison } from "../../study/population/compareStudies.js";
import { differencesText } from "../../study/population/differencesText.js";
import { fleetOf } from "../../study/population/fleet.js";
import type { NotSound } from "../../study/population/notSound.js";
import type { StudySummary } from "../../study/population/studySummary.js";
import { withinHorizon } from "../../study/population/withinHorizon.js";
import { numberText } from "../../units/forPeople.js";
import { escapeHtml, visible } from "../../units/text.js";
import { Page } from "../page.js";
import { firstDay } from "../redact/redactStudy.js";
import { tableHtml, text } from "../sections/parts.js";
import { caution } from "../wording.js";
import { motorPages } from "./motorPages.js";
import {
  dayFigures,
  driftFigures,
  foundOnDays,
  lifeFigures,
  quantileFigures,
  type StudyFigure,
} from "./studyFigures.js";
import {
  chance,
  counted,
  distributionsHtml,
  driftHtml,
  groupsHtml,
  leftText,
  minusText,
  motorHtml,
  notSoundHtml,
  outlyingHtml,
  remainingHtml,
  spreadHtml,
  undecidedHtml,
  verdictWords,
  wordsOf,
} from "./studySections.js";
import type { StudySource } from "./studySource.js";

/**
 * The page of a study, and a page of its own for each motor that stands out or is asked about: `study.html` first, the
 * others named in it.
 *
 * @returns name and content of each file
 */
export async function studyPages(source: StudySource): Promise<Record<string, string>> {
  const { summary } = source;
  const fleet = fleetOf(source.tables);
  const pages = motorPages(source, fleet);
  const link = (motor: string) => pages.names.get(motor);
  const page = new Page();
  const drawn = async (figures: readonly StudyFigure[]) =>
    (
      await Promise.all(figures.map(({ name, drawing, caption }) => page.figure(name, drawing, caption)))
    ).join("\n");
  page.section("new", "Since the earlier study", sinceHtml(source.since, link));
  page.section("not-sound", "Not sound", notSoundHtml(summary, link));
  page.section("not-decided", "Not decided", undecidedHtml(summary, link));
  page.section("outlying", "Outlying motors", outlyingHtml(summary, link));
  page.section("batches", "Batches", groupsHtml(summary, "batch"));
  page.section("rigs", "Rigs", groupsHtml(summary, "rig"));
  page.section("drift", "Drift", driftHtml(summary, link) + (await drawn(driftFigures(summary, fleet))));
  page.section("left", "Time left", remainingHtml(summary, link));
  page.section(
    "days",
    "Day by day",
    isUndetermined(summary.charts)
      ? `<p>Control charts not drawn: ${text(summary.charts.undetermined)}.</p>`
      : await drawn(dayFigures(summary)),
  );
  page.section("life", "Life", await lifeHtml(source, drawn));
  page.section(
    "constants",
    "Constants",
    constantsHtml(summary, await drawn(quantileFigures(summary, fleet))),
  );
  page.section("spread", "Where the spread comes from", spreadHtml(summary));
  page.section("motors", "Motors", pages.table);
  page.section("made", "How this was made", madeHtml(source));
  const title = headline(summary);
  const head = `<h1 id="answer" tabindex="-1">${escapeHtml(title)}</h1>
<p class="quiet">${escapeHtml(counts(summary))}</p>
${standsOut(summary, link)}
<div class="caution" role="note"><strong>Caution.</strong> ${escapeHtml(caution)}</div>`;
  return { "study.html": page.html(`Study of motors. ${title}`, head, "Study of motors"), ...pages.files };
}

/** What stands out, in one line. */
function headline(s: StudySummary): string {
  const wrong = s.notSound.filter((n) => n.verdict !== "undetermined").length;
  const open = s.notSound.length - wrong;
  const odd = new Set(s.odd.map((o) => `${o.factor} ${o.group}`)).size;
  const out = isUndetermined(s.outlying) ? 0 : s.outlying.outlying.length;
  const drifting = new Set(s.drifting.map((d) => d.motor)).size;
  const lives = s.life?.differing ?? [];
  const stepped = isUndetermined(s.charts) ? [] : s.charts.filter(({ chart }) => chart.steps.length > 0);
  const parts = [
    ...(wrong > 0 ? [`${wrong} not sound`] : []),
    ...(odd > 0
      ? [
          odd === 1
            ? `${s.odd[0].factor} ${visible(s.odd[0].group, 40)} stands out`
            : `${odd} batches or rigs stand out`,
        ]
      : []),
    ...[...new Set(differing(s).map(({ factor }) => (factor === "batch" ? "batches" : "rigs")))].map(
      (levels) => `${levels} differ`,
    ),
    ...(out > 0 ? [`${out} outlying`] : []),
    ...(drifting > 0 ? [`${drifting} drifting`] : []),
    ...(open > 0 ? [`${open} not decided`] : []),
    ...(lives.length > 0
      ? [
          lives.length === 1
            ? `the life of ${visible(lives[0], 40)} differs`
            : `the lives of ${lives.length} groups differ`,
        ]
      : []),
    ...(stepped.length > 0
      ? [
          `the level of ${stepped.length === 1 ? wordsOf(stepped[0].constant) : `${stepped.length} constants`} steps`,
        ]
      : []),
  ];
  if (parts.length === 0 && isUndetermined(s.outlying))
    return `Nothing found to stand out; ${counted(s.motors, "motor")}, too few to compare them.`;
  if (parts.length === 0) return `Nothing found to stand out among ${counted(s.motors, "motor")}.`;
  return `Of ${counted(s.motors, "motor")}: ${parts.join(", ")}.`;
}

/** Counts of trials by verdict, `reversed` and those against the command apart. */
function counts(s: StudySummary): string {
  const words = Object.entries(s.verdicts).map(
    ([word, n]) => `${n} ${word === "against" ? "tracking, but against the command" : word}`,
  );
  const unnamed =
    s.unnamed === 0
      ? ""
      : ` ${counted(s.unnamed, "recording")} that ${s.unnamed === 1 ? "states" : "state"} no motor ${s.unnamed === 1 ? "counts as a motor of its" : "count as motors of their"} own.`;
  return `${counted(s.recordings, "recording")}${s.withoutResult > 0 ? `, ${s.withoutResult} without a result` : ""}.${unnamed} Trials: ${words.length > 0 ? words.join(", ") : "none"}. Chance of any false alarm in each part, if nothing stood out: ${Number((100 * s.alpha).toPrecision(2))}\u00a0%.`;
}

/** The first things to look at, each linked to where it is told. */
function standsOut(s: StudySummary, link: (motor: string) => string | undefined): string {
  const items = [
    ...alike(s).map(
      ({ verdict, remedy, motors }) =>
        `${motors
          .slice(0, 6)
          .map((m) => motorHtml(m, link))
          .join(
            ", ",
          )}${motors.length > 6 ? ` and ${motors.length - 6} more` : ""}: ${verdictWords[verdict]}${remedy === null ? "" : `; ${text(remedy)}`}`,
    ),
    ...s.odd
      .slice(0, 4)
      .map(
        (o) =>
          `<a href="#${o.factor === "batch" ? "batches" : "rigs"}">${o.factor === "batch" ? "Batch" : "Rig"} ${text(o.group)}</a>: ${text(wordsOf(o.constant))} ${Math.round(Math.abs(100 * o.share))} % ${o.share > 0 ? "above" : "below"} the others`,
      ),
    ...differing(s).map(
      ({ factor, line }) =>
        `<a href="#${factor === "batch" ? "batches" : "rigs"}">${factor === "batch" ? "Batches" : "Rigs"}</a>: ${minusText(line)}`,
    ),
    ...(isUndetermined(s.outlying)
      ? []
      : s.outlying.outlying.slice(0, 6).map((o) => `${motorHtml(o.motor, link)}: ${text(o.reason)}`)),
    ...s.drifting
      .slice(0, 6)
      .map((d) => `${motorHtml(d.motor, link)}: ${text(d.text.replace(` of ${d.motor}`, ""))}`),
    ...(isUndetermined(s.charts) ? [] : s.charts)
      .filter(({ chart }) => chart.steps.length > 0)
      .map(
        ({ constant, chart }) =>
          `<a href="#days">${text(wordsOf(constant))}</a>, all motors: ${text(foundOnDays(chart))}`,
      ),
    ...soonest(s, link),
    ...otherLives(s).map(
      ({ group, ratio }) =>
        `<a href="#life">Life of ${text(group)}</a>: ${numberText(ratio.value, 2)} times that of the others (${numberText(ratio.low, 2)} to ${numberText(ratio.high, 2)})`,
    ),
    ...(s.life?.withoutFailure ?? [])
      .filter(({ group }) => s.life?.differing.includes(group))
      .map(
        ({ group }) =>
          `<a href="#life">Life of ${text(group)}</a>: longer than that of the others, none failed`,
      ),
  ];
  if (items.length === 0) return "";
  return `<h2 id="first">What stands out</h2>\n<ul>${items.map((item) => `<li>${item}</li>`).join("\n")}</ul>`;
}

/** Constants in which batches or rigs differ though none of them stands out, with how they do. */
const differing = (s: StudySummary) =>
  s.differences.flatMap(({ factor, constants }) => {
    const found = constants.filter(
      (c) => c.different && !s.odd.some((o) => o.factor === factor && o.constant === c.constant),
    );
    return differencesText(found, (p) => `p ${chance(p)}`).map((line) => ({ factor, line }));
  });

/** Groups of the life table with another life than the others. */
const otherLives = ({ life }: StudySummary) =>
  life === undefined ? [] : life.groups.filter(({ group }) => life.differing.includes(group));

/** Motors beyond a limit, and the first that surely reach one while their lines are followed. */
function soonest(s: StudySummary, link: (motor: string) => string | undefined): string[] {
  return s.remaining.flatMap((limit) => {
    const { constant, horizon, found } = limit;
    if (isUndetermined(found)) return [];
    return withinHorizon(found, horizon)
      .near.filter((m) => m.remaining.high <= horizon)
      .slice(0, 3)
      .map(
        (m) =>
          `${motorHtml(m.motor, link)}: <a href="#left">${text(wordsOf(constant))}</a>, ${text(leftText(limit, m))}`,
      );
  });
}

/** Motors that are not sound, those with one verdict and one remedy together. */
function alike(s: StudySummary): { verdict: NotSound["verdict"]; remedy: string | null; motors: string[] }[] {
  const groups: { verdict: NotSound["verdict"]; remedy: string | null; motors: string[] }[] = [];
  for (const { verdict, remedy, motor } of s.notSound) {
    if (verdict === "undetermined") continue;
    const same = groups.find((g) => g.verdict === verdict && g.remedy === remedy);
    if (same === undefined) groups.push({ verdict, remedy, motors: [motor] });
    else same.motors.push(motor);
  }
  return groups;
}

async function lifeHtml(
  { summary, lifeLines, lifeBand }: StudySource,
  drawn: (figures: readonly StudyFigure[]) => Promise<string>,
): Promise<string> {
  if (summary.life === undefined) return "";
  const list = (lifeLines ?? []).map((line) => `<li>${text(line)}</li>`).join("\n");
  return `<ul>${list}</ul>\n${await drawn(lifeFigures(summary.life, lifeBand))}`;
}

function constantsHtml(s: StudySummary, figures: string): string {
  if (s.distributions.length === 0) return "";
  const plots =
    figures === "" ? "" : `\n<details><summary>Quantile plots with their bands</summary>${figures}</details>`;
  return `<p>Each sound motor as first measured.</p>\n${distributionsHtml(s)}${plots}`;
}

function sinceHtml(c: StudyComparison | undefined, link: (motor: string) => string | undefined): string {
  if (c === undefined) return "";
  const names = (list: readonly string[]) =>
    `${list
      .slice(0, 12)
      .map((m) => motorHtml(m, link))
      .join(", ")}${list.length > 12 ? ` and ${list.length - 12} more` : ""}`;
  const items = [
    `${counted(c.newRecordings, "recording")} and ${counted(c.newMotors.length, "motor")} new${c.newMotors.length > 0 ? `: ${names(c.newMotors)}` : ""}`,
    ...(c.goneRecordings > 0
      ? [
          `${counted(c.goneRecordings, "recording")} and ${counted(c.goneMotors.length, "motor")} not there any more`,
        ]
      : []),
    ...(c.movedRecordings > 0
      ? [`${counted(c.movedRecordings, "recording")} the same under another name or folder`]
      : []),
    ...(c.changedRecordings > 0
      ? [`${counted(c.changedRecordings, "recording")} with other content under the same name`]
      : []),
    c.newlyNotSound.length > 0
      ? `newly not sound: ${names(c.newlyNotSound.map((n) => n.motor))}`
      : "no motor newly not sound",
    ...(c.soundAgain.length > 0 ? [`sound again: ${names(c.soundAgain)}`] : []),
    ...c.changed.map((x) => `${motorHtml(x.motor, link)}: ${text(x.before)} before, ${text(x.now)} now`),
    ...changesText(c.constants, (p) => (p < 0.0001 ? "p < 0.0001" : `p = ${p.toPrecision(2)}`)).map(
      minusText,
    ),
  ];
  return `<ul>${items.map((item) => `<li>${item}</li>`).join("\n")}</ul>`;
}

function madeHtml({ folder, redacted, made, version }: StudySource): string {
  return tableHtml(
    [{ title: "What" }, { title: "Value", wide: true }],
    [
      ["made", text(made)],
      ["made by", text(`shaftwise report ${version}, Node.js ${process.versions.node}`)],
      ...(folder === undefined ? [] : [["results folder", text(folder)]]),
      ...(redacted
        ? [
            [
              "removed",
              text(
                `names of recordings, motors, batches, rigs and causes of failure; days are counted from ${firstDay}, which stands for the first`,
              ),
            ],
          ]
        : []),
      ["methods", "docs/study.md, with the tables of false alarms and of what is found"],
    ],
    "How this was made",
  );
}
