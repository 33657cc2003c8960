import { join } from "node:path";
import { analyseRunsWithin } from "../analysis/analyseRuns.js";
import { loadDrawing } from "../chart/render/drawingPackages.js";
import { findingText } from "../recording/findingText.js";
import { readRecordings } from "../recording/index.js";
import { usualLimits } from "../recording/limits/limits.js";
import { mayWriteTo, writeTo } from "../recording/outputFolder.js";
import type { Finding } from "../recording/types.js";
import { makeReport, type ReportSource, redact } from "../report/index.js";
import { reportedParts, reportSource } from "../report/reportSource.js";
import { Run } from "../run/run.js";
import { visible } from "../units/text.js";
import { commandLine } from "./commandLine.js";
import { type Command, exitStatus, UsageError } from "./io.js";
import { progressOf, startProgress } from "./progress.js";
import { readingHelp, readingOptions, readOptionsOf } from "./readingOptions.js";
import { statusOf } from "./status.js";
import { lifeFlags, lifeOptionNames } from "./studyLife.js";
import { isStudyFolder, isUnfinishedStudy, reportStudy } from "./studyReport.js";
import { version } from "./version.js";

const help = `shaftwise report <folder or file>... --out <folder>

Writes what the recordings show as a report to hand on:

  report.html   one page that opens from disk without a network: the answer
                first, the orders at a glance, each trial with its chart,
                evidence and reasons, constants with intervals, step
                responses, margins of the speed loop, cautions
  report.md     the same for a ticket
  report.json   the same for a program
  letter.txt    a short reply to paste: what was seen, what to do, what to
  letter.md     send next and how to record it

Of the results folder of a study: study.html, one page that says first what
stands out, and a page for each motor that does.

Options
  --out <folder>   where to write; made when it is not there (default: report)
  --redact         take out names of files, folders, motors and columns, titles,
                   paths, serial numbers, mail addresses and dates, and list in
                   the report what was taken out; of a study also batches and
                   rigs
  --name <word>    with --redact: take out this word too (may be repeated)
  --customer <name>, --case <number>, --author <name>
                   stand in the first lines and in the letter
  --no-constants   leave constants, step responses and speed loops out
  --life <csv>, --limits <csv>, --since <folder>
                   of a study: as for study show
  --at <temperature>, --confidence <%>, --failed <%>, --shape <number>
                   with --life: as for study life
${readingHelp}
  --help           this text

The charts are drawn by packages that are installed separately; where they are
missing the command says which.

Exit status: 0 done, 1 nothing could be read, 2 wrong usage,
3 done, but some input could not be read, or what was read
contradicts itself.
Read a redacted report once yourself before it leaves the house.
`;

const reportNames = ["report.html", "report.md", "report.json", "letter.txt", "letter.md"] as const;

/** `shaftwise report`: recordings in, a page, a ticket text and a JSON document out. */
export const run: Command = async (args, io) => {
  const { values, paths: positionals } = commandLine("report", args, {
    out: { type: "string", default: "report" },
    redact: { type: "boolean", default: false },
    name: { type: "string", multiple: true },
    customer: { type: "string" },
    case: { type: "string" },
    author: { type: "string" },
    "no-constants": { type: "boolean", default: false },
    life: { type: "string" },
    limits: { type: "string" },
    since: { type: "string" },
    ...lifeFlags,
    ...readingOptions,
    help: { type: "boolean", short: "h", default: false },
  });
  if (values.help) {
    io.out(help);
    return exitStatus.done;
  }
  if (positionals.length === 0) throw new UsageError("report needs a folder or file of recordings");
  if (values.name && !values.redact) throw new UsageError("--name goes with --redact");
  if (positionals.length === 1 && isUnfinishedStudy(positionals[0]))
    throw new UsageError(
      `${visible(positionals[0])} is the folder of a study that has not been finished: give its study run command again`,
    );
  if (positionals.length === 1 && isStudyFolder(positionals[0])) {
    const { out, life, limits, since, at, confidence, failed, shape } = values;
    const redacted = values.redact ? { redact: values.name ?? [] } : {};
    return reportStudy(
      positionals[0],
      { out, life, limits, since, at, confidence, failed, shape, ...redacted },
      io,
    );
  }
  for (const name of [...lifeOptionNames, "life", "limits", "since"] as const)
    if (values[name] !== undefined)
      throw new UsageError(`--${name} goes with the results folder of a study, by itself`);
  const options = readOptionsOf(values);
  await mayWriteTo(values.out, positionals, reportNames);
  await loadDrawing("the report");
  const progress = startProgress(io);
  const { recordings, problems } = await readRecordings(positionals, options);
  if (recordings.length === 0) {
    progress.stop();
    io.err("shaftwise: no recording could be read\n");
    for (const problem of problems) io.err(`  ${problemText(problem)}\n`);
    return exitStatus.failed;
  }
  const runs = recordings.map((recording) => new Run(recording));
  const { analysis, kept } = await analyseRunsWithin(options.limits ?? usualLimits(), runs, {
    parts: values["no-constants"] ? {} : reportedParts,
    problems,
    version: version(),
    ...progressOf(progress, "judging recordings"),
  });
  const { diagnosis } = analysis;
  const today = new Date().toISOString();
  let source = reportSource(analysis, kept, {
    made: values.redact ? today.slice(0, 10) : today.replace(/\.\d+Z$/, "Z"),
    ...(values.customer || values.case || values.author ? { cover: coverOf(values) } : {}),
    settings: {
      "made by": `shaftwise report, Node.js ${process.versions.node}`,
      read: positionals.map((path) => visible(path)).join(", "),
      ...(values["no-constants"] ? { constants: "left out (--no-constants)" } : {}),
    },
  });
  if (values.redact) {
    const { settings, ...rest } = source;
    const { read: _, ...kept } = settings ?? {};
    source = redact({ ...rest, settings: kept }, values.name);
  }
  progress.show("drawing");
  const report = await makeReport(source);
  const [html, markdown, json, text, reply] = reportNames;
  await writeTo(values.out, positionals, {
    [html]: report.html,
    [markdown]: report.markdown,
    [json]: report.json,
    [text]: report.letter.text,
    [reply]: report.letter.markdown,
  });
  progress.stop();
  const sizes = `${(report.html.length / 1e6).toFixed(1)} MB`;
  io.out(
    `${visible(join(values.out, "report.html"))} (${sizes}), report.md, report.json and a letter beside it\n`,
  );
  if (source.removed) {
    const removed = source.removed.map(({ what, count }) => `${count} × ${what}`).join(", ");
    io.out(`removed: ${removed || "nothing was found to remove"}\n`);
    io.out("read it once yourself before it leaves the house\n");
  }
  for (const problem of diagnosis.problems) io.err(`not read: ${problemText(problem)}\n`);
  return statusOf(analysis);
};

function coverOf(values: { customer?: string; case?: string; author?: string }): ReportSource["cover"] {
  return {
    ...(values.customer ? { customer: values.customer } : {}),
    ...(values.case ? { caseNumber: values.case } : {}),
    ...(values.author ? { author: values.author } : {}),
  };
}

function problemText(problem: Finding): string {
  return visible(`${problem.file ? `${problem.file}: ` : ""}${findingText(problem)}`, 800);
}
