import { equalFindings, findingText } from "../../recording/findingText.js";
import { type ConstantsRow, constantsBeside } from "../constantRows.js";
import { recordingOf } from "../figures.js";
import { loopRows } from "../loopRows.js";
import { openUnitsText, restsOnText, usedBy } from "../restsOn.js";
import { stepSummary } from "../stepRows.js";
import type { ReportRecording, ReportSource } from "../types.js";
import { secondsText } from "../wording.js";
import { recordingName, shortRecordingName, tableHtml, text } from "./parts.js";

/** A recording with the name that stands over its column. */
interface Named {
  readonly name: string;
  readonly full: string;
  readonly found: ReportRecording;
}

/** Recordings side by side in one table; more would not fit on a page, so each has a table of its own then. */
const mostBeside = 6;
/** Steps in the table; the others are counted. */
const mostSteps = 16;

/** Constants, step responses and speed loops: what the recordings have in common in one table each, in units for
 * people. */
export function constantsHtml(source: ReportSource): string {
  const named = source.diagnosis.recordings.flatMap((verdict): Named[] => {
    const found = recordingOf(source, verdict);
    return found ? [{ name: shortRecordingName(verdict), full: recordingName(verdict), found }] : [];
  });
  const known = named.filter(({ found }) => found.constants && constantsBeside([found.constants]).length > 0);
  const tables: string[] = [];
  for (let i = 0; i < known.length; i += mostBeside)
    tables.push(constantsTable(known.slice(i, i + mostBeside)));
  const [first, ...rest] = tables;
  const further =
    rest.length > 0
      ? `<details><summary>Constants of ${known.length - mostBeside} more recordings</summary>${rest.join("\n")}</details>`
      : "";
  const lead = first
    ? `<p class="quiet">Values, and in brackets the intervals that hold them with 95 %.</p>\n${first}`
    : "";
  return [lead, further, restingHtml(named), notesHtml(known), loopsHtml(named), stepsHtml(named)]
    .filter((part) => part !== "")
    .join("\n");
}

/** What the figures of each recording rest on that nobody stated: once for recordings of the same columns. */
function restingHtml(named: readonly Named[]): string {
  const lines = new Map<string, string[]>();
  for (const { name, found } of named) {
    const estimates = (found.constants?.routes ?? []).map(({ estimate }) => estimate);
    const unscaled = (found.constants?.unscaled ?? []).map(({ estimate }) => estimate);
    const used = usedBy([...estimates, ...unscaled, ...(found.steps ?? [])], found.assumptions ?? []);
    const words = restsOnText(used);
    if (words === undefined) continue;
    const line = `${words}. ${openUnitsText(used)}`;
    lines.set(line, [...(lines.get(line) ?? []), name]);
  }
  return [...lines]
    .slice(0, mostBeside)
    .map(([line, of]) => {
      const whose = `${of.slice(0, 3).join(", ")}${of.length > 3 ? ` and ${of.length - 3} more` : ""}`;
      return `<p class="quiet">${named.length > 1 ? `${text(whose)} rests on: ` : "Rests on: "}${text(line)}</p>`;
    })
    .join("\n");
}

function constantsTable(known: readonly Named[]): string {
  const rows = constantsBeside(known.map(({ found }) => found.constants));
  const [main, further] = [rows.filter((row) => !row.further), rows.filter((row) => row.further)];
  if (main.length === 0 || further.length === 0) return tableOf(known, rows);
  return `${tableOf(known, main)}\n<details><summary>Further constants: each sense of rotation, ratios</summary>${tableOf(known, further)}</details>`;
}

function tableOf(known: readonly Named[], rows: readonly ConstantsRow[]): string {
  const between = known.length > 3 ? "<br>" : " ";
  const cell = (one: ConstantsRow["cells"][number]): string =>
    one
      ? `${text(one.value)}${one.interval === "" ? "" : `${between}<span class="quiet">(${text(one.interval)})</span>`}`
      : "";
  const columns = [{ title: "constant" }, ...known.map(({ name }) => ({ title: text(name), number: true }))];
  const cells = rows.map(({ name, unit, cells: values }) => [
    `${text(name)}${unit === "" ? "" : ` <span class="quiet">${text(unit)}</span>`}`,
    ...values.map(cell),
  ]);
  return `${tableHtml(columns, cells, "Constants of the recordings, with their intervals", "beside")}`;
}

/** How each constant was obtained, and what was noticed, behind one line. */
function notesHtml(known: readonly Named[]): string {
  const rows = constantsBeside(known.map(({ found }) => found.constants)).filter(({ how }) =>
    how.some((one) => one !== ""),
  );
  const notes = equalFindings(known.flatMap(({ found }) => found.constants?.findings ?? []));
  if (rows.length === 0 && notes.length === 0) return "";
  const items = [
    ...rows.map(
      ({ name, how }) => `<li>${text(name)}: ${text(how.filter((one) => one !== "").join(" / "))}</li>`,
    ),
    ...notes.map(
      ([one, ...more]) =>
        `<li><strong>${one.severity}</strong>${more.length > 0 ? ` (in ${more.length + 1} places)` : ""}: ${text(findingText(one))}</li>`,
    ),
  ];
  return `<details><summary>How they were obtained</summary><ul>${items.join("\n")}</ul></details>`;
}

function loopsHtml(named: readonly Named[]): string {
  const known = named.flatMap(({ name, found }) => {
    const rows = found.loop ? loopRows(found.loop) : [];
    return rows.length > 0 ? [{ name, rows }] : [];
  });
  if (known.length === 0) return "";
  const beside = known.slice(0, mostBeside);
  const titles = [...new Set(beside.flatMap(({ rows }) => rows.map(({ name }) => name)))];
  const cells = titles.map((title) => [
    text(title),
    ...beside.map(({ rows }) => {
      const row = rows.find(({ name }) => name === title);
      return row
        ? `${text(row.value)}${row.interval === "" ? "" : ` <span class="quiet">(${text(row.interval)})</span>`}`
        : "";
    }),
  ]);
  const columns = [
    { title: "speed loop" },
    ...beside.map(({ name }) => ({ title: text(name), number: true })),
  ];
  return `<details><summary>Speed loop: margins with the gains of the log</summary>${tableHtml(columns, cells, "Speed loops and their margins", "beside")}<p class="quiet">Of a model of the loop; without a stated sample time its delays are not in it. Never a clearance to close a loop.</p></details>`;
}

function stepsHtml(named: readonly Named[]): string {
  const all = named.flatMap(({ name, found }) => (found.steps ?? []).map((step) => ({ name, step })));
  const seen = all.filter(({ step }) => step.fit.determined);
  if (seen.length === 0) return "";
  const rows = seen.slice(0, mostSteps).map(({ name, step }) => {
    const { command, model, figures } = stepSummary(step);
    return [text(name), `${secondsText(step.time)} s`, text(command), text(model), text(figures)];
  });
  const columns = [
    { title: "recording" },
    { title: "at", number: true },
    { title: "command" },
    { title: "response" },
    { title: "figures", wide: true },
  ];
  const left = all.length - Math.min(seen.length, mostSteps);
  const more =
    left > 0
      ? `<p class="quiet">${left} more ${left === 1 ? "step is" : "steps are"} not shown: further ones, and those whose response could not be determined.</p>`
      : "";
  return `<details><summary>Step responses: ${seen.length} of ${all.length} ${all.length === 1 ? "step" : "steps"} determined</summary>${tableHtml(columns, rows, "Responses to steps of the command")}${more}</details>`;
}
