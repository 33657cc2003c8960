import { basename } from "node:path";
import { parseArgs } from "node:util";
import { findingText } from "../recording/findingText.js";
import type { Finding } from "../recording/types.js";
import { redactTriage } from "../report/redact/redactTriage.js";
import { type Triage, type TriageCase, triage } from "../report/triage.js";
import type { TriageRow } from "../report/triageRow.js";
import { percentText } from "../report/wording.js";
import { visible } from "../units/text.js";
import { type Command, exitStatus, type Io, UsageError } from "./io.js";
import { pageWidth, paint, paragraph } from "./layout.js";
import { readingHelp, readingOptions, readOptionsOf } from "./readingOptions.js";
import { customersOf, readCustomer } from "./triageInput.js";
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
  --redact             customers, motors and files become "customer 1", ...; of
                       texts only our own words go through
  --name <word>        with --redact: take out this word too (may be repeated)
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
  if (values.name && !values.redact) throw new UsageError("--name goes with --redact");
  if (positionals.length === 0) throw new UsageError("triage needs a folder of customers' logs");
  const options = readOptionsOf(values);
  const customers = positionals.flatMap(customersOf);
  const cases: TriageCase[] = [];
  const notRead: Finding[] = [];
  for (const [i, path] of customers.entries()) {
    if (io.live) io.err(`\r\u001b[K${i + 1} of ${customers.length}: ${visible(basename(path), 60)}`);
    const customer = await readCustomer(path, options);
    cases.push(...customer.cases);
    notRead.push(...customer.problems);
  }
  if (io.live) io.err("\r\u001b[K");
  const all = triage(cases, notRead);
  const found = values.redact ? redactTriage(all, values.name) : all;
  if (values.json) io.out(`${JSON.stringify({ version: version(), ...found }, null, 2)}\n`);
  else if (values.csv) io.out(csv(found));
  else io.out(text(found, positionals, io));
  if (cases.every(({ diagnosis }) => diagnosis.recordings.length === 0)) return exitStatus.failed;
  return notRead.some(({ severity }) => severity === "error") ? exitStatus.partly : exitStatus.done;
};

function text({ rows, common, notRead }: Triage, folders: readonly string[], io: Io): string {
  const width = pageWidth(io);
  const out: string[] = [];
  for (const row of rows) {
    const tone =
      row.worst === "runaway" || row.worst === "reversed"
        ? "bad"
        : row.worst === "tracking"
          ? "good"
          : "warn";
    const name = visible([row.customer, row.motor].filter((part) => part !== "").join(", "), 56);
    out.push(`${paint(io, "strong", name)}  ${paint(io, tone, row.worst ?? "nothing to judge")}`);
    for (const line of linesOf(row)) out.push(paragraph(visible(line, 600), width, "  "));
    out.push("");
  }
  if (common.length > 0) {
    out.push(paint(io, "strong", "The same at several customers"));
    for (const line of common) out.push(paragraph(visible(line, 600), width, "  - "));
    out.push("");
  }
  if (notRead.length > 0) {
    out.push(paint(io, "strong", "Not read"));
    for (const one of notRead.slice(0, mostNotRead))
      out.push(paragraph(visible(`${placeOf(one, folders)}${findingText(one)}`, 600), width, "  - "));
    if (notRead.length > mostNotRead)
      out.push(`  and ${notRead.length - mostNotRead} more: --json has them all`);
    out.push("");
  }
  return out.join("\n");
}

/** Where a finding was made, from the folder that was given. */
function placeOf({ file }: Finding, folders: readonly string[]): string {
  if (!file) return "";
  const folder = folders.find((one) => file.startsWith(one));
  return `${folder === undefined ? file : file.slice(folder.length).replace(/^[\\/]+/, "") || basename(file)}: `;
}

/** Lines of what could not be read; the rest is counted. */
const mostNotRead = 40;

function linesOf({
  customer,
  files,
  what,
  finding,
  cause,
  probability,
  remedy,
  data,
  ask,
  caution,
}: TriageRow): string[] {
  const shown = files.slice(0, 3).join(", ");
  const from = files.length > 3 ? `${shown} and ${files.length - 3} more` : shown;
  const name = files.length === 0 || from === customer ? "" : `${from}. `;
  return [
    ...(what === "" && name === "" ? [] : [`${name}${what === "" ? "" : `${what}.`}`]),
    finding,
    ...(caution ? [caution] : []),
    ...(cause && probability !== undefined ? [`Cause, ${percentText(probability)}: ${cause}.`] : []),
    ...(remedy ? [`Remedy: ${remedy}`] : []),
    ...(data === "sound" ? [] : [`Data: ${data}`]),
    `Next: ${ask}`,
  ];
}

const columns = [
  "customer",
  "motor",
  "recordings",
  "trials",
  "files",
  "what",
  "worst",
  "finding",
  "cause",
  "probability",
  "remedy",
  "data",
  "ask",
  "caution",
] as const satisfies readonly (keyof TriageRow)[];

/** RFC 4180; a cell that a spreadsheet would take for a formula is set apart by an apostrophe. */
function csv({ rows }: Triage): string {
  const cell = (value: TriageRow[keyof TriageRow]): string => {
    const plain =
      value === undefined ? "" : visible(typeof value === "object" ? value.join("; ") : String(value), 2000);
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
        redact: { type: "boolean", default: false },
        name: { type: "string", multiple: true },
        help: { type: "boolean", short: "h", default: false },
      },
    });
  } catch (error) {
    throw new UsageError((error as Error).message.replace(/\.\s[\s\S]*$/, ""));
  }
}
