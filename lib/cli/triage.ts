import { readdirSync, statSync } from "node:fs";
import { basename, dirname, join, relative } from "node:path";
import { parseArgs } from "node:util";
import { summariseFiles } from "../analysis/analyseFiles.js";
import { conclude } from "../analysis/conclude.js";
import type { RunSummary } from "../analysis/summary.js";
import type { Finding } from "../recording/types.js";
import { type Triage, type TriageCase, type TriageRow, triage } from "../report/triage.js";
import { visible } from "../units/text.js";
import { type Command, exitStatus, type Io, UsageError } from "./io.js";
import { pageWidth, paint, paragraph } from "./layout.js";
import { readingHelp, readingOptions, readOptionsOf } from "./readingOptions.js";
import { version } from "./version.js";

const help = `shaftwise triage <folder>...

One row for each customer and motor, the most urgent first: what was found,
the cause and the remedy, how far the data can be trusted, what to ask for,
and what several customers have in common. Every folder, file, archive or
workbook directly in <folder> is a customer; what lies below it is read
whole.

Options
  --csv                a table for a spreadsheet instead of text
  --json               one JSON document
${readingHelp}
  --help               this text

Exit status: 0 done, 1 nothing could be read, 2 wrong usage,
3 done, but some input could not be read.
`;

/** `shaftwise triage`: a folder of customers in, a row for each of their motors out. */
export const run: Command = async (args, io) => {
  const { values, positionals } = parse(args);
  if (values.help) {
    io.out(help);
    return exitStatus.done;
  }
  if (positionals.length === 0) throw new UsageError("triage needs a folder of customers' logs");
  const options = readOptionsOf(values);
  const customers = positionals.flatMap(customersOf);
  const cases: TriageCase[] = [];
  const notRead: Finding[] = [];
  for (const [i, path] of customers.entries()) {
    if (io.live) io.err(`\r\u001b[K${i + 1} of ${customers.length}: ${visible(basename(path), 60)}`);
    const { summaries, problems } = await summariseFiles(foldersOf(path), { reading: options });
    notRead.push(...problems);
    if (summaries.length === 0) cases.push(caseOf(path, "", [], problems));
    for (const [motor, group] of groupsOf(summaries, path))
      cases.push(
        caseOf(
          path,
          motor,
          group,
          problems.filter(({ file }) => sameFolder(file, group)),
        ),
      );
  }
  if (io.live) io.err("\r\u001b[K");
  const found = triage(cases, notRead);
  if (values.json) io.out(`${JSON.stringify({ version: version(), ...found }, null, 2)}\n`);
  else if (values.csv) io.out(csv(found));
  else io.out(text(found, io));
  if (cases.every(({ diagnosis }) => diagnosis.recordings.length === 0)) return exitStatus.failed;
  return notRead.some(({ severity }) => severity === "error") ? exitStatus.partly : exitStatus.done;
};

/** What lies directly in a folder, each a customer; a file given by name is one. */
function customersOf(path: string): string[] {
  const entry = statSync(path, { throwIfNoEntry: false });
  if (entry === undefined) throw new UsageError(`${visible(path)} is not there`);
  if (!entry.isDirectory()) return [path];
  return readdirSync(path)
    .filter((name) => !name.startsWith("."))
    .sort()
    .map((name) => join(path, name));
}

/** A customer's own folder and all below it; a file by itself. */
function foldersOf(path: string): string[] {
  if (!statSync(path).isDirectory()) return [path];
  const below = readdirSync(path, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && !entry.name.startsWith("."))
    .map((entry) => entry.parentPath);
  return [...new Set(below)].sort();
}

/** Recordings of one motor together: by the motor's name, else by the folder they lie in. */
function groupsOf(summaries: readonly RunSummary[], customer: string): Map<string, RunSummary[]> {
  const groups = new Map<string, RunSummary[]>();
  for (const summary of summaries) {
    const { recording } = summary.read;
    const folder = relative(customer, dirname(recording.path));
    const key = recording.motor ?? (folder.startsWith("..") ? "" : folder);
    groups.set(key, [...(groups.get(key) ?? []), summary]);
  }
  return groups;
}

function sameFolder(file: string | undefined, group: readonly RunSummary[]): boolean {
  return file !== undefined && group.some(({ read }) => dirname(read.recording.path) === dirname(file));
}

function caseOf(
  path: string,
  motor: string,
  group: readonly RunSummary[],
  problems: readonly Finding[],
): TriageCase {
  const { diagnosis } = conclude(group, { problems, version: version() });
  return { customer: basename(path), motor, diagnosis };
}

function text({ rows, common, notRead }: Triage, io: Io): string {
  const width = pageWidth(io);
  const out: string[] = [];
  for (const row of rows) {
    const tone =
      row.worst === "runaway" || row.worst === "reversed"
        ? "bad"
        : row.worst === "tracking"
          ? "good"
          : "warn";
    const name = visible([row.customer, row.motor].filter((part) => part !== "").join(", "), 70);
    out.push(`${paint(io, "strong", name)}  ${paint(io, tone, row.worst ?? "nothing to judge")}`);
    for (const line of linesOf(row)) out.push(paragraph(visible(line, 400), width, "  "));
    out.push("");
  }
  if (common.length > 0) {
    out.push(paint(io, "strong", "The same at several customers"));
    for (const line of common) out.push(paragraph(visible(line, 400), width, "  - "));
    out.push("");
  }
  const files = new Set(notRead.map(({ file }) => file)).size;
  if (files > 0)
    out.push(`${files} ${files === 1 ? "file was" : "files were"} not read; --json says why.`, "");
  return out.join("\n");
}

function linesOf({ finding, cause, probability, remedy, data, ask, caution }: TriageRow): string[] {
  return [
    finding,
    ...(caution ? [caution] : []),
    ...(cause && probability !== undefined ? [`Cause, ${Math.round(100 * probability)} %: ${cause}.`] : []),
    ...(remedy ? [`Remedy: ${remedy}`] : []),
    ...(data === "sound" ? [] : [`Data: ${data}`]),
    ...(ask ? [`Ask: ${ask}`] : []),
  ];
}

const columns = [
  "customer",
  "motor",
  "recordings",
  "trials",
  "worst",
  "finding",
  "cause",
  "probability",
  "remedy",
  "data",
  "ask",
] as const satisfies readonly (keyof TriageRow)[];

/** RFC 4180; a cell that a spreadsheet would take for a formula is set apart by an apostrophe. */
function csv({ rows }: Triage): string {
  const cell = (value: string | number | undefined): string => {
    const plain = value === undefined ? "" : visible(String(value), 2000);
    return `"${(/^[=+\-@]/.test(plain) ? `'${plain}` : plain).replace(/"/g, '""')}"`;
  };
  return [columns.join(","), ...rows.map((row) => columns.map((name) => cell(row[name])).join(","))]
    .map((line) => `${line}\r\n`)
    .join("");
}

function parse(args: readonly string[]) {
  try {
    return parseArgs({
      args: [...args],
      allowPositionals: true,
      options: {
        ...readingOptions,
        csv: { type: "boolean", default: false },
        json: { type: "boolean", default: false },
        help: { type: "boolean", short: "h", default: false },
      },
    });
  } catch (error) {
    throw new UsageError((error as Error).message.replace(/\.\s[\s\S]*$/, ""));
  }
}
