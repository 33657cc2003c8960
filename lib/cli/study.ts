import { parseArgs } from "node:util";
import type { StudyReport } from "../study/pipeline/studyOptions.js";
import { jsonText, visible } from "../units/text.js";
import { type Command, exitStatus, type Io, UsageError } from "./io.js";
import { pageWidth, paragraph } from "./layout.js";
import { readingHelp, readingOptions, readOptionsOf } from "./readingOptions.js";

/** How the files of a study are read: as for every command, but that each file is judged by itself and none is
 * joined. */
const { join: _join, ...readingOfStudy } = readingOptions;
const readingOfStudyHelp = readingHelp
  .split("\n")
  .filter((line) => !line.includes("--join"))
  .map((line) => `    ${line}`)
  .join("\n");

const about = `shaftwise study: many motors

  shaftwise study run <folder, file or pattern>... --out <folder>
      Judges and fits every recording and writes trials.parquet, recordings.parquet,
      motors.parquet and study.json. Started again with the same --out it goes on
      where it was stopped: nothing is done twice, a changed file is done anew.

      --out <folder>       where the results go (needed)
      --about <csv>        facts for each recording or motor: a column "recording" or
                           "motor", and any of batch, rig, date, temperature,
                           hours (of use), in these or other usual words; looked
                           through before anything is judged
      --about-column <fact>=<heading>
                           the column of a fact whose heading does not say so
                           (motor=Geraet); may be repeated
      --dates <order>      day-month or month-day, for dates in it that can be read in
                           two ways (04/03/2026)
      --threads <n>        worker threads; one for each core when not given
      --retry-dead         try again what ended or hung its worker
      --queue <url>        leave the work to workers behind a Redis queue
      --shared <folder>    with --queue: the folder that all machines share (.)
      --json               print the summary as JSON

      How every file is read:
${readingOfStudyHelp}

  shaftwise study worker --queue <url> --shared <folder>
      Serves a queue on this machine, until it is stopped.

      --threads <n>        recordings at once (1)
      --limit <seconds>    time limit of one recording (600)
      --idle <seconds>     end after so long without work
      --lock <seconds>     a task of a worker that has died goes to another after
                           this time (30)

  shaftwise study show <results folder>
      Statistics across the motors: what is not sound with cause and remedy,
      distributions, outlying motors, batches, drift, control charts, capability, time
      left, life data.

      --life <csv>         life table: columns after, by; also motor, group, count,
                           temperature, cause, from (see docs/study.md)
      --limits <csv>       limits for capability and for the time left until a constant
                           reaches one: columns constant, lower, upper
      --since <folder>     what is new against an earlier study
      --json               print everything as JSON
      and the options of study life

  shaftwise study life <csv>
      A life table by itself.

      --at <temperature>   use temperature of the answers, with its unit: 40C, 313K
      --confidence <%>     coverage of the intervals (95)
      --failed <%>         lives of which parts of the units (10,50); may be repeated
      --shape <number>     a Weibull shape known from before: a lower limit of the life,
                           also without any failure
      --json               print everything as JSON

  shaftwise study plan
      How many units a test needs.

      --reliability <%>    share that must survive the mission, to be demonstrated
      --confidence <%>     (90)
      --mission <number>   its length (1)
      --allowed <n>        failures allowed in the test (0)
      --shape <number>     Weibull shape known from before
      --units <n>          units there are: how long must each run?
      --precision <factor> units for a life known to within this factor
      --failed <%>         which life (10); --watched <%>: failed at the end (100)
      --energy <eV>        with --use and --test <temperature>: an accelerated test

A queue needs two more packages beside shaftwise: npm install bullmq ioredis.
The queue may also be named by SHAFTWISE_QUEUE_URL; user and password are taken from
SHAFTWISE_QUEUE_USER and SHAFTWISE_QUEUE_PASSWORD, a certificate authority of one's own
from SHAFTWISE_QUEUE_CA (a PEM file, for rediss:// URLs). They are never printed.

Exit status: 0 done, 1 failed or interrupted, 2 wrong usage, 3 done, but some recordings
gave no result (each has its reason in trials.parquet).
`;

/** `shaftwise study`: run, worker, show. */
export const run: Command = async (args, io) => {
  const [verb, ...rest] = args;
  if (
    verb === undefined ||
    verb === "--help" ||
    verb === "-h" ||
    rest.includes("--help") ||
    rest.includes("-h")
  ) {
    io.out(about);
    return verb === undefined ? exitStatus.usage : exitStatus.done;
  }
  if (verb === "run") return runCommand(rest, io);
  if (verb === "worker") return workerCommand(rest, io);
  if (verb === "show") return (await import("./studyShow.js")).showCommand(rest, io);
  if (verb === "life") return (await import("./studyLife.js")).lifeCommand(rest, io);
  if (verb === "plan") return (await import("./studyLife.js")).planCommand(rest, io);
  throw new UsageError(`"study ${visible(verb)}" is not known; there are run, worker, show, life and plan`);
};

async function runCommand(args: readonly string[], io: Io): Promise<number> {
  const { values, positionals } = parsed(args, {
    out: { type: "string" },
    about: { type: "string" },
    "about-column": { type: "string", multiple: true },
    dates: { type: "string" },
    threads: { type: "string" },
    ...readingOfStudy,
    "retry-dead": { type: "boolean" },
    queue: { type: "string" },
    shared: { type: "string" },
    json: { type: "boolean" },
  });
  const out = values.out as string | undefined;
  if (positionals.length === 0) throw new UsageError("study run needs a folder, a file or a pattern");
  if (out === undefined) throw new UsageError("study run needs --out <folder>");
  const { runStudy } = await import("../study/pipeline/runStudy.js");
  const { settingsOf } = await import("../study/pipeline/readingSettings.js");
  const reading = readOptionsOf(values);
  const settings = settingsOf(reading);
  const { version: versionOf } = await import("./version.js");
  const version = versionOf();
  const say = (text: string) => io.err(`shaftwise: ${visible(text)}\n`);
  const stop = stopOnSignal(say);
  const begun = Date.now();
  let shown = 0;
  try {
    const { queueUrl } = await import("../study/queue/queueConnection.js");
    const wanted = values.queue !== undefined;
    const judges = wanted
      ? await (await import("../study/queue/queueJudges.js")).queueJudges({
          url: queueUrl(values.queue as string),
          shared: (values.shared as string | undefined) ?? ".",
          out,
          version,
          settings,
          say,
        })
      : undefined;
    try {
      const report = await runStudy(positionals, {
        out,
        version,
        settings,
        judges,
        about: values.about as string | undefined,
        aboutColumns: columnsOfFacts(values["about-column"] as readonly string[] | undefined),
        dates: dateOrder(values.dates),
        threads: whole(values.threads, "threads"),
        limit: reading.limits?.seconds,
        ...(values.memory === undefined ? {} : { memory: reading.limits?.bytes }),
        retryDead: values["retry-dead"] === true,
        signal: stop.signal,
        progress: ({ total, done, failed, rate, secondsLeft }) => {
          const now = Date.now();
          // A terminal gets a line that moves, a file one line every ten seconds; nothing in the first second.
          if (now - begun < 1000 && done < total) return;
          if (!io.live && now - shown < 10_000) return;
          shown = now;
          const left = secondsLeft === null || done === total ? "" : `, ${spell(secondsLeft)} left`;
          const bad = failed > 0 ? `, ${failed} without a result` : "";
          const speed = rate > 0 ? `, ${rate.toFixed(1)} a second` : "";
          const line = `${done} of ${total} recordings${speed}${left}${bad}`;
          io.err(io.live ? `\r\u001b[2K${line}` : `${line}\n`);
        },
      });
      if (io.live && shown > 0) io.err("\r\u001b[2K");
      if (values.json === true) io.out(`${jsonText(report)}\n`);
      else io.out(summary(report, out, (Date.now() - begun) / 1000, pageWidth(io)));
      return report.failed > 0 ? exitStatus.partly : exitStatus.done;
    } finally {
      await judges?.close();
    }
  } catch (error) {
    if (io.live && shown > 0) io.err("\n");
    if (error instanceof UsageError || !(error instanceof Error)) throw error;
    say(error.message);
    return exitStatus.failed;
  } finally {
    stop.release();
  }
}

async function workerCommand(args: readonly string[], io: Io): Promise<number> {
  const { values, positionals } = parsed(args, {
    queue: { type: "string" },
    shared: { type: "string" },
    threads: { type: "string" },
    limit: { type: "string" },
    idle: { type: "string" },
    lock: { type: "string" },
  });
  if (positionals.length > 0) throw new UsageError("study worker takes options only");
  const { serveQueue } = await import("../study/queue/queueWorker.js");
  const { queueUrl } = await import("../study/queue/queueConnection.js");
  const { version } = await import("./version.js");
  const say = (text: string) => io.err(`shaftwise: ${visible(text)}\n`);
  const stop = stopOnSignal(say);
  try {
    const report = await serveQueue({
      url: queueUrl(values.queue as string | undefined),
      shared: (values.shared as string | undefined) ?? ".",
      version: version(),
      threads: whole(values.threads, "threads"),
      limit: positive(values.limit, "limit"),
      idle: positive(values.idle, "idle"),
      lock: positive(values.lock, "lock"),
      say,
      signal: stop.signal,
    });
    if (report.refused !== undefined && report.judged === 0) return exitStatus.failed;
    io.out(`${report.judged} recordings judged\n`);
    return exitStatus.done;
  } catch (error) {
    if (error instanceof UsageError || !(error instanceof Error)) throw error;
    say(error.message);
    return exitStatus.failed;
  } finally {
    stop.release();
  }
}

/** The first Ctrl-C or SIGTERM asks for a clean end, the second ends at once. */
function stopOnSignal(say: (text: string) => void): { signal: AbortSignal; release: () => void } {
  const controller = new AbortController();
  const heard = () => {
    if (controller.signal.aborted) process.exit(130);
    say("stopping; what is done is kept (once more to stop at once)");
    controller.abort();
  };
  process.on("SIGINT", heard);
  process.on("SIGTERM", heard);
  return {
    signal: controller.signal,
    release: () => {
      process.off("SIGINT", heard);
      process.off("SIGTERM", heard);
    },
  };
}

function summary(report: StudyReport, out: string, seconds: number, width: number): string {
  const lines = [
    `${counted(report.files, "file")}: ${report.judged} judged now, ${report.reused} known from before (${spell(seconds)})`,
    `${counted(report.recordings, "recording")}, ${counted(report.trials, "trial")}: ${Object.entries(
      report.verdicts,
    )
      .map(([word, n]) => `${n} ${word}`)
      .join(", ")}`,
  ];
  if (report.cut > 0) lines.push(`a torn end of ${report.cut} bytes in the journal was cut off`);
  if (report.damaged > 0)
    lines.push(
      `${report.damaged} damaged ${report.damaged === 1 ? "line" : "lines"} in the journal: what they held was judged again`,
    );
  const few = (names: readonly string[]) =>
    `${names
      .slice(0, 3)
      .map((name) => visible(name))
      .join(", ")}${names.length > 3 ? `, and ${names.length - 3} more` : ""}`;
  if (report.tables.length > 0)
    lines.push(
      `left out, tables about recordings or motors: ${few(report.tables)} (facts: --about, lives: study life)`,
    );
  if (report.unusedFacts.length > 0)
    lines.push(`the table about them also names what is not given: ${few(report.unusedFacts)}`);
  if (report.withoutFacts.length > 0)
    lines.push(
      report.withoutFacts.length === report.files
        ? `the table about them says nothing of any: add a column "recording" with their names, or name the motors as the recordings do`
        : `the table about them says nothing of ${report.withoutFacts.length}: ${few(report.withoutFacts)}`,
    );
  if (report.ignoredColumns.length > 0)
    lines.push(
      `not used of the table about them: ${few(report.ignoredColumns)} (used are recording, motor, batch, rig, date, temperature, hours; a column of other name: --about-column batch=...)`,
    );
  const taken = Object.entries(report.takenColumns).map(([fact, column]) => `"${column}" as ${fact}`);
  if (taken.length > 0) lines.push(`of the table about them, ${taken.map((t) => visible(t)).join(", ")}`);
  // Sentences are wrapped; paths and commands below stay whole.
  lines.splice(0, lines.length, ...lines.map((line) => paragraph(line, width)));
  if (report.failed > 0) {
    lines.push(`${report.failed} without a result:`);
    for (const { path, reason } of report.failures.slice(0, 10))
      lines.push(`  ${visible(path)}: ${visible(reason)}`);
    if (report.failed > 10)
      lines.push(`  and ${report.failed - 10} more, with their reasons in trials.parquet`);
  }
  if (report.dead > 0)
    lines.push(
      `${report.dead} of them ended or hung their worker: see dead-letters.jsonl, --retry-dead to try again`,
    );
  lines.push(`results in ${visible(out)}; statistics: shaftwise study show ${visible(out)}`);
  return `${lines.join("\n")}\n`;
}

const counted = (n: number, one: string): string => `${n} ${one}${n === 1 ? "" : "s"}`;

function spell(seconds: number): string {
  if (seconds < 90) return `${Math.max(0, Math.round(seconds))} s`;
  if (seconds < 5400) return `${Math.round(seconds / 60)} min`;
  return `${(seconds / 3600).toFixed(1)} h`;
}

function parsed(
  args: readonly string[],
  options: Record<string, { type: "string" | "boolean"; multiple?: boolean }>,
): { values: Record<string, unknown>; positionals: string[] } {
  try {
    return parseArgs({ args: [...args], options, allowPositionals: true, strict: true });
  } catch (error) {
    throw new UsageError((error as Error).message);
  }
}

function positive(text: unknown, name: string): number | undefined {
  if (text === undefined) return undefined;
  const value = Number(text);
  if (!(value > 0))
    throw new UsageError(`--${name} must be a number above 0, found "${visible(String(text))}"`);
  return value;
}

const facts = ["recording", "motor", "batch", "rig", "date", "temperature", "hours"];

/** Columns of facts as stated: `batch=Charge`. */
function columnsOfFacts(stated: readonly string[] = []): Readonly<Record<string, string>> {
  return Object.fromEntries(
    stated.map((text) => {
      const at = text.indexOf("=");
      const [fact, column] = [text.slice(0, at).trim(), text.slice(at + 1).trim()];
      if (at < 0 || column === "" || !facts.includes(fact))
        throw new UsageError(
          `--about-column needs a fact and a heading (batch=Charge), found "${visible(text)}"; facts are ${facts.join(", ")}`,
        );
      return [fact, column];
    }),
  );
}

function dateOrder(text: unknown): "day-month" | "month-day" | undefined {
  if (text === undefined || text === "day-month" || text === "month-day") return text;
  throw new UsageError(`--dates is day-month or month-day, found "${visible(String(text))}"`);
}

function whole(text: unknown, name: string): number | undefined {
  const value = positive(text, name);
  if (value !== undefined && !Number.isInteger(value))
    throw new UsageError(`--${name} must be a whole number`);
  return value;
}
