import { equalFindings, findingText } from "../recording/findingText.js";
import { type Limits, usualLimits } from "../recording/limits/limits.js";
import type { LeftOver } from "../recording/segments/cutTrials.js";
import type { Finding, Recording, Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { unitText } from "../units/forPeople.js";
import { jsonText, visible } from "../units/text.js";
import { columnTable } from "./columnTable.js";
import { commandLine } from "./commandLine.js";
import { type Command, exitStatus, type Io, UsageError } from "./io.js";
import { attentionLines, pageWidth, paint, paragraph, table } from "./layout.js";
import { startProgress } from "./progress.js";
import { readingHelp, readingOptions, readOptionsOf } from "./readingOptions.js";
import { trialLines } from "./trialTable.js";
import { version } from "./version.js";

const help = `shaftwise inspect <file or folder>... [options]

Says what was understood of each recording: format and dialect, rows and sampling,
what every column was taken for, in which unit, how surely and why, and what it
could be instead, what the checks of the channels against each other found, and
the trials it was cut into. Nothing is judged. When a column was taken wrongly,
say so with --map, --unit or --ignore, or write a datapackage.json beside the file.

${readingHelp}
  --json               print one JSON document; its JSON Schema ships with the
                       package: shaftwise/schema/inspect.schema.json
  --out <folder>       write the recordings there, cleaned and in SI units, with a
                       datapackage.json that states what was understood
  --format <format>    of --out: csv (the default) or parquet
  --help               this text

Roles: time, currentCommand, current, currentDCommand, currentD, currentU, currentV,
currentW, currentBus, voltageD, voltageQ, voltageBus, voltage, voltageCommand, duty,
speed, speedCommand, position, positionCommand, acceleration, accelerationCommand,
sweepAngle, electricalAngle, torque, torqueCommand, temperature, index; sample (a
counter); run, motor and ordering (columns that tell several recordings apart).

Examples
  shaftwise inspect log.csv
  shaftwise inspect log.csv --map current=I_mot --unit I_mot=mA --lines 1024
  shaftwise inspect bench/ --out cleaned --format parquet

Exit status: 0 everything was read; 2 wrong usage; 3 some input could not be read,
or what was read contradicts itself.
`;

/** What is known of one recording, before any verdict. */
interface Inspection {
  readonly recording: Recording;
  readonly channels: readonly {
    readonly role: string;
    readonly name: string;
    readonly unit: string;
    readonly recognisedBy: string;
    readonly siUnit: string;
    readonly noise: number;
    readonly step: number | null;
    readonly range: number;
    readonly missing: number;
  }[];
  readonly rate: number | null;
  readonly findings: readonly Finding[];
  /** Those that put the recording in doubt: they stand first. */
  readonly attention: readonly Finding[];
  readonly trials: readonly Trial[];
  readonly leftOver: readonly LeftOver[];
}

/** `shaftwise inspect`: what was understood of files. */
export const run: Command = async (args, io) => {
  const { values, paths } = commandLine("inspect", args, {
    json: { type: "boolean" },
    out: { type: "string" },
    format: { type: "string" },
    ...readingOptions,
    help: { type: "boolean", short: "h" },
  });
  if (values.help) {
    io.out(help);
    return exitStatus.done;
  }
  if (paths.length === 0) throw new UsageError("inspect needs at least one file or folder");
  const format = values.format ?? "csv";
  if (format !== "csv" && format !== "parquet")
    throw new UsageError(`--format is csv or parquet, not "${visible(format, 40)}"`);
  const { readRecordings, writeRecordings } = await import("../recording/index.js");
  const options = readOptionsOf(values);
  const progress = startProgress(io);
  const { recordings, problems: notRead } = await readRecordings(paths, { ...options, withoutClock: true });
  // What the other commands say of a log without a clock, they say of it as they read it.
  const judged = recordings.some(({ clock }) => clock === "rows")
    ? await readRecordings(paths, options)
    : undefined;
  const asJudged = new Map(judged?.recordings.map((recording) => [recording.path, recording]));
  const { inspections, failed } = await inspectAll(
    recordings,
    asJudged,
    options.limits ?? usualLimits(),
    (done) => progress.show("looking at recordings", done, recordings.length),
  );
  progress.stop();
  const problems = [...notRead, ...failed];
  let written: readonly string[] = [];
  const clocked = recordings.filter(({ clock }) => clock === undefined);
  if (values.out !== undefined && clocked.length > 0)
    written = await writeRecordings(clocked, values.out, { format });
  if (values.json) io.out(`${jsonText(document(inspections, problems))}\n`);
  else {
    const shared = sharedFindings(inspections);
    for (const inspection of inspections) io.out(`${page(inspection, io, shared)}\n`);
    io.out(sharedLines(shared, inspections.length, io));
    for (const problem of problems) {
      io.err(`${findingLine(problem, io, true)}\n`);
      // What was understood of a table that was refused helps to answer the question.
      if (problem.understanding !== undefined)
        io.err(`${columnTable(problem.understanding, [], io).join("\n")}\n\n`);
    }
    if (written.length > 0) io.out(`${written.length} files were written to ${visible(values.out ?? "")}.\n`);
    else if (values.out !== undefined)
      io.err(`Nothing was written to ${visible(values.out)}: no recording with a clock was read.\n`);
  }
  const doubt = inspections.some(({ attention }) => attention.some(({ severity }) => severity === "error"));
  return doubt || problems.some((p) => p.severity === "error") ? exitStatus.partly : exitStatus.done;
};

/** Looks at each recording within the limit of time; what takes longer is a problem of its file alone. */
async function inspectAll(
  recordings: readonly Recording[],
  asJudged: ReadonlyMap<string, Recording>,
  limits: Limits,
  show: (done: number) => void,
): Promise<{ readonly inspections: readonly Inspection[]; readonly failed: readonly Finding[] }> {
  const [
    { cannotAnalyse },
    { healthBounds },
    { withinTime },
    { Run },
    { withSetScales },
    { channelQuality, siUnits },
  ] = await Promise.all([
    import("../analysis/analyseJob.js"),
    import("../diagnosis/healthBounds.js"),
    import("../recording/limits/watchdog.js"),
    import("../run/run.js"),
    import("../run/setScales.js"),
    import("../recording/index.js"),
  ]);
  const look = async (run: Run): Promise<Inspection> => {
    const { time, logged: recording } = run;
    // Nothing is held against time where there is none.
    const rows = recording.clock === "rows";
    const other = asJudged.get(recording.path);
    const { findings, attention } = !rows
      ? healthBounds(run)
      : other === undefined
        ? { findings: recording.findings, attention: [] }
        : healthBounds(new Run(other));
    const interval = time.length > 1 && !rows ? (time[time.length - 1] - time[0]) / (time.length - 1) : 0;
    return {
      recording,
      channels: Object.values(recording.channels).map((channel) => {
        const { noise, step, range, missing } = channelQuality(channel);
        return {
          role: channel.role,
          name: channel.name,
          unit: channel.sourceUnit,
          recognisedBy: channel.recognisedBy,
          siUnit: siUnits[channel.role],
          noise,
          step: Number.isNaN(step) ? (channel.resolution ?? null) : step,
          range,
          missing,
        };
      }),
      rate: interval > 0 ? 1 / interval : null,
      findings,
      attention,
      trials: rows ? [] : run.cut.trials,
      leftOver: rows ? [] : run.cut.leftOver,
    };
  };
  const inspections: Inspection[] = [];
  const failed: Finding[] = [];
  const scaled: Run[] = [];
  const within = async (some: readonly Run[], work: (run: Run) => Promise<void>): Promise<void> => {
    for (const run of some)
      try {
        await withinTime(limits, () => work(run));
      } catch (error) {
        failed.push(cannotAnalyse(run.path, error));
      }
  };
  await within(
    recordings.map((recording) => new Run(recording)),
    async (run) => {
      show(scaled.length);
      // Without a clock there is no speed from a position.
      if (run.logged.clock !== "rows") void run.scaleEvidence;
      scaled.push(run);
    },
  );
  const clocked = (run: Run): boolean => run.logged.clock !== "rows";
  const together = withSetScales(scaled.filter(clocked));
  let next = 0;
  await within(
    scaled.map((run) => (clocked(run) ? together[next++] : run)),
    async (run) => {
      show(inspections.length);
      inspections.push(await look(run));
    },
  );
  return { inspections, failed };
}

function document(inspections: readonly Inspection[], problems: readonly Finding[]): unknown {
  return {
    version: version(),
    recordings: inspections.map(({ recording, channels, rate, findings, attention, trials, leftOver }) => ({
      path: recording.path,
      ordering: recording.ordering ?? null,
      motor: recording.motor ?? null,
      title: recording.title ?? null,
      source: recording.source ?? null,
      rows: recording.time.length,
      start: recording.time[0] ?? null,
      end: recording.time.at(-1) ?? null,
      rate,
      channels,
      columns: recording.understanding ?? [],
      machine: recording.machine,
      drive: recording.drive,
      encoder: recording.encoder,
      findings,
      ...(attention.length > 0 ? { attention } : {}),
      trials,
      leftOver,
    })),
    problems,
  };
}

function number(value: number): string {
  return Number.isFinite(value) ? String(Number(value.toPrecision(4))) : "-";
}

/** Recordings of one command from which on what is found alike in them is said once, with their number. */
const fewestShared = 3;

/** Findings that several recordings share word for word, by their message, and in how many. */
function sharedFindings(inspections: readonly Inspection[]): ReadonlyMap<string, readonly Finding[]> {
  const each = inspections.flatMap(({ findings, attention }) => {
    const said = new Set(attention.map(({ message }) => message));
    return equalFindings(findings.filter(({ message }) => !said.has(message))).map(([first]) => first);
  });
  return new Map(
    equalFindings(each)
      .filter((alike) => alike.length >= fewestShared)
      .map((alike) => [findingText(alike[0]), alike]),
  );
}

/** What several recordings share, once for all. */
function sharedLines(shared: ReadonlyMap<string, readonly Finding[]>, recordings: number, io: Io): string {
  const lines = [...shared].map(([text, alike]) => {
    const where =
      alike.length === recordings
        ? `in all ${recordings} recordings`
        : `in ${alike.length} of ${recordings} recordings`;
    return findingLine({ ...alike[0], message: `${where}: ${text}`, meaning: undefined }, io, false);
  });
  return lines.length === 0 ? "" : `Found alike in several recordings\n${lines.join("\n")}\n`;
}

function page(
  { recording, channels, rate, findings, attention, trials, leftOver }: Inspection,
  io: Io,
  shared: ReadonlyMap<string, readonly Finding[]>,
): string {
  const width = pageWidth(io);
  const { source, time } = recording;
  const out: string[] = [];
  out.push(paint(io, "strong", paragraph(visible(recording.path), width)));
  const about = [
    recording.title && visible(recording.title, 80),
    recording.ordering && `order ${recording.ordering}`,
    recording.motor && `motor ${visible(recording.motor, 40)}`,
  ].filter(Boolean);
  if (about.length > 0) out.push(paragraph(about.join(", "), width, "  "));
  out.push(...attentionLines(attention, width));
  if (source !== undefined) {
    out.push(
      paragraph(`${source.format}${source.dialect === undefined ? "" : `: ${source.dialect}`}`, width, "  "),
    );
    if (source.files.length > 1)
      out.push(paragraph(`joined from ${source.files.map((f) => visible(f, 80)).join(", ")}`, width, "  "));
  }
  const span =
    recording.clock === "rows" ? "" : `, ${number(time[0])} s to ${number(time[time.length - 1])} s`;
  out.push(
    paragraph(
      `${time.length} ${time.length === 1 ? "row" : "rows"}${span}${rate === null ? "" : `, ${number(rate)} samples a second`}${source === undefined ? "" : `; time: ${source.time}${source.timeColumn === undefined ? "" : ` in "${visible(source.timeColumn, 40)}"`}`}${source?.startedAt === undefined ? "" : `, from ${source.startedAt}`}`,
      width,
      "  ",
    ),
  );
  out.push("");
  // Of a table with several motors each shows its own columns, and those that all share.
  const mine = (recording.understanding ?? []).filter(
    (c) => c.motor === undefined || recording.motor === undefined || c.motor === recording.motor,
  );
  out.push(...columnTable(mine, channels, io));
  out.push("");
  const seen = [["channel", "range", "step", "noise", ""].map((h) => paint(io, "dim", h))];
  for (const c of channels) {
    seen.push([
      c.role,
      number(c.range),
      c.step === null ? "-" : number(c.step),
      number(c.noise),
      unitText(c.siUnit),
    ]);
  }
  out.push(table(seen, width));
  out.push("");
  if (recording.clock === "rows") out.push("  no trials are cut without a clock");
  else if (trials.length === 0) out.push("  no trials were found");
  else out.push(...trialLines(trials, io, width));
  for (const l of leftOver.slice(0, 10)) {
    out.push(paragraph(`left over: ${number(l.start)} s to ${number(l.end)} s, ${l.reason}`, width, "  "));
  }
  out.push("");
  if (findings.length === 0) out.push(`  ${paint(io, "good", "checks: nothing amiss")}`);
  const said = new Set(attention.map(({ message }) => message));
  const own = equalFindings(findings.filter(({ message }) => !said.has(message))).map(([first]) => first);
  const elsewhere = own.filter((f) => shared.has(findingText(f))).length;
  for (const f of own) if (!shared.has(findingText(f))) out.push(findingLine(f, io, false));
  if (elsewhere > 0)
    out.push(
      `  ${elsewhere} more ${elsewhere === 1 ? "finding" : "findings"}, shared with other recordings: see the end.`,
    );
  return `${out.join("\n")}\n`;
}

function findingLine(f: Finding, io: Io, withFile: boolean): string {
  const width = pageWidth(io);
  const tone = f.severity === "error" ? "bad" : f.severity === "warning" ? "warn" : "dim";
  const where = [
    withFile && f.file !== undefined ? visible(f.file) : undefined,
    f.row === undefined ? undefined : `line ${f.row}`,
    f.column === undefined ? undefined : `column "${visible(f.column, 40)}"`,
  ].filter((w) => w !== undefined);
  const text = `${withFile && where.length > 0 ? `${where.join(", ")}: ` : ""}${visible(findingText(f), 1400)}`;
  return paragraph(text, width, `  ${f.severity}: `).replace(f.severity, paint(io, tone, f.severity));
}
