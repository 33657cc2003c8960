import { createHash } from "node:crypto";
import { isUndetermined } from "../../study/life/lifeData.js";
import type { StudyRecording } from "../../study/pipeline/readTables.js";
import { type StudyConstant, unitOfConstant } from "../../study/pipeline/studyConstants.js";
import type { Fleet } from "../../study/population/fleet.js";
import { causeText } from "../../study/population/notSound.js";
import { medianOf } from "../../study/population/sample.js";
import { numberText, scaleOf, withHalf } from "../../units/forPeople.js";
import { escapeHtml, visible } from "../../units/text.js";
import { pageStyle } from "../pageStyle.js";
import { tableHtml, text } from "../sections/parts.js";
import { leftText, motorHtml, verdictWords, wordsOf } from "./studySections.js";
import type { StudySource } from "./studySource.js";

/** Most motors with a page of their own, and in the table of motors. */
const most = 300;

/** Pages of single motors: those that stand out first, then the others in order. */
export function motorPages(
  source: StudySource,
  fleet: Fleet,
): {
  readonly files: Record<string, string>;
  readonly names: ReadonlyMap<string, string>;
  readonly table: string;
} {
  const { summary } = source;
  const first = [
    ...summary.notSound.map((n) => n.motor),
    ...(isUndetermined(summary.outlying) ? [] : summary.outlying.outlying.map((o) => o.motor)),
    ...summary.drifting.map((d) => d.motor),
    ...summary.remaining.flatMap(({ found }) =>
      isUndetermined(found)
        ? []
        : [...found.motors].sort((a, b) => a.remaining.value - b.remaining.value).map((m) => m.motor),
    ),
  ];
  const shown = [...new Set([...first, ...fleet.motors.keys()])]
    .filter((m) => fleet.motors.has(m))
    .slice(0, most);
  const names = new Map(shown.map((motor) => [motor, fileName(motor)]));
  const constants = summary.distributions.map((d) => d.constant);
  const files = Object.fromEntries(
    shown.map((motor) => [
      names.get(motor) as string,
      motorPage(motor, fleet.motors.get(motor) ?? [], source),
    ]),
  );
  const last = [...shown].map((motor) => fleet.motors.get(motor)?.at(-1));
  const columns = columnsOf(constants, last);
  const rows = [...shown].sort().map((motor) => {
    const list = fleet.motors.get(motor) ?? [];
    const last = list[list.length - 1];
    return [
      motorHtml(motor, (m) => names.get(m)),
      text(last?.batch ?? ""),
      String(list.length),
      ...columns.map((column) => cellOf(last, column)),
    ];
  });
  const titles = columns.map(({ title }) => ({ title: text(title), number: true }));
  const table = tableHtml(
    [{ title: "Motor" }, { title: "Batch" }, { title: "Recordings", number: true }, ...titles],
    rows,
    "Motors",
    "dense",
  );
  const left = fleet.motors.size - shown.length;
  const note =
    left > 0
      ? `<p class="quiet">those that stand out and the first by name; the other ${left} are in motors.parquet</p>`
      : "";
  return {
    files,
    names,
    table: `<details><summary>${left > 0 ? `${shown.length} of ${fleet.motors.size}` : shown.length} motors as last measured, with half of the 95 % interval</summary>${table}${note}</details>`,
  };
}

/** A name that every file system takes, and that two motors never share. */
function fileName(motor: string): string {
  const plain = motor.replace(/[^A-Za-z0-9_-]+/g, "-").slice(0, 60);
  const sum = createHash("sha256").update(motor).digest("hex").slice(0, 8);
  return `motor-${plain === motor && !/^-|[A-Z]/.test(motor) ? motor : `${plain}-${sum}`}.html`;
}

/** One unit for a whole column, by its middle size, with the column's heading. */
interface ConstantColumn {
  readonly constant: StudyConstant;
  readonly title: string;
  readonly size: number;
}

function columnsOf(
  constants: readonly StudyConstant[],
  recordings: readonly (StudyRecording | undefined)[],
): ConstantColumn[] {
  return constants.map((constant) => {
    const sizes = recordings.flatMap((r) => {
      const value = r?.constants[constant];
      return value === undefined ? [] : [Math.abs(value)];
    });
    const [unit, size] = scaleOf(sizes.length === 0 ? 1 : medianOf(sizes), unitOfConstant(constant));
    const title = `${wordsOf(constant)}${unit === "" || unit === "1" ? "" : `, ${unit}`}`;
    return { constant, title, size };
  });
}

/** A value to the digits that half of its interval leaves. */
function cellOf(recording: StudyRecording | undefined, { constant, size }: ConstantColumn): string {
  const value = recording?.constants[constant];
  if (value === undefined) return "";
  const half = (recording?.halves?.[constant] ?? Number.NaN) / size;
  if (!(half > 0) || !Number.isFinite(half)) return text(numberText(value / size, 4));
  return text(withHalf(value / size, half));
}

/** Length of the folder in which all recordings of a motor lie. */
function sharedFolder([first = "", ...rest]: readonly string[]): number {
  let length = first.lastIndexOf("/") + 1;
  while (length > 0 && !rest.every((path) => path.startsWith(first.slice(0, length))))
    length = first.lastIndexOf("/", length - 2) + 1;
  return length;
}

/** One motor: what stands out of it, its recordings, its constants in each. */
function motorPage(
  motor: string,
  list: readonly StudyRecording[],
  { summary, tables, folder }: StudySource,
): string {
  const found = summary.notSound.filter((n) => n.motor === motor);
  const said = [
    ...found.map(
      (n) =>
        `${verdictWords[n.verdict]}: ${n.text}${n.cause === null ? "" : ` Most probable cause: ${causeText(n)}.`}${n.remedy === null ? "" : ` Remedy: ${n.remedy}.`}`,
    ),
    ...(isUndetermined(summary.outlying)
      ? []
      : summary.outlying.outlying.filter((o) => o.motor === motor).map((o) => `outlying: ${o.reason}`)),
    ...summary.drifting.filter((d) => d.motor === motor).map((d) => d.text),
    ...summary.remaining.flatMap((limit) => {
      const one = isUndetermined(limit.found) ? undefined : limit.found.motors.find((m) => m.motor === motor);
      return one === undefined || one.remaining.low > limit.horizon
        ? []
        : [`${wordsOf(limit.constant)}: ${leftText(limit, one)}`];
    }),
  ];
  const shared = sharedFolder(list.map((r) => r.recording));
  const trials = tables.troubled.filter((t) => t.motor === motor);
  const columns = columnsOf(
    summary.distributions.map((d) => d.constant),
    list,
  );
  const remarks = list.map(
    (r) =>
      r.reason ??
      trials
        .filter((t) => t.recording === r.recording)
        .map((t) => t.verdict)
        .join(", "),
  );
  const remarked = remarks.some((remark) => remark !== "");
  const rows = list.map((r, i) => [
    text(r.recording.slice(shared)),
    text(r.date ?? ""),
    text(r.rig ?? ""),
    ...columns.map((column) => cellOf(r, column)),
    ...(remarked ? [text(remarks[i])] : []),
  ]);
  const title = /^motor\b/i.test(motor)
    ? visible(motor, 80).replace(/^m/, "M")
    : `Motor ${visible(motor, 80)}`;
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<title>${escapeHtml(title)}</title>
<style>${pageStyle}</style>
</head>
<body>
<header class="bar"><strong>Study of motors</strong><nav aria-label="Sections"><a href="study.html">The study</a></nav></header>
<main>
<h1>${escapeHtml(title)}</h1>
<p class="quiet">${text(list[0]?.batch == null ? "no batch stated" : `Batch ${list[0].batch}`)}; ${list.length} ${list.length === 1 ? "recording" : "recordings"}${folder === undefined ? "" : ` in ${text(folder)}`}${shared > 1 ? `, all below ${text(list[0].recording.slice(0, shared - 1))}` : ""}</p>
${said.length > 0 ? `<ul>${said.map((line) => `<li>${text(line)}</li>`).join("\n")}</ul>` : "<p>Nothing found to stand out.</p>"}
<h2>Recordings</h2>
${tableHtml([{ title: "Recording" }, { title: "Date" }, { title: "Rig" }, ...columns.map((c) => ({ title: text(c.title), number: true })), ...(remarked ? [{ title: "Remark" }] : [])], rows, "Recordings", "dense")}
<p class="quiet">Evidence, charts and reasons of one recording: shaftwise report &lt;recording&gt;</p>
</main>
</body>
</html>
`;
}
