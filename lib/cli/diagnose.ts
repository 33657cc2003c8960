import type { Diagnosis } from "../diagnosis/types.js";
import { jsonText, visible } from "../units/text.js";
import { commandLine } from "./commandLine.js";
import { type Command, exitStatus, type Io, UsageError } from "./io.js";
import { progressOf, startProgress } from "./progress.js";
import { readingHelp, readingOptions, readOptionsOf } from "./readingOptions.js";
import { statusOf } from "./status.js";
import { version } from "./version.js";

const help = `shaftwise diagnose <file or folder>... [options]

Reads recordings of motor trials and judges each trial: blocked, tracking,
runaway, or undetermined and what is missing. Across the recordings of one
motor it says which lead order is usable, why the others are not, and the least
rework.

A folder is read by its datapackage.json, or every readable file in it.

  --json               print one JSON document; its JSON Schema ships with the
                       package: shaftwise/schema/diagnosis.schema.json
  --out <folder>       also write diagnosis.json and diagnosis.txt there
  --explain <name>     print the whole reasoning for the recording of that name
${readingHelp}
  --wanted <sense>     wanted sense of rotation, seen from the drive end:
                       clockwise or counterclockwise (IEC 60034-8)
  --help               this text

Examples
  shaftwise diagnose bench/monday
  shaftwise diagnose run1.csv run2.csv --map current=Iq_act --unit Iq_act=mA
  shaftwise diagnose bench/monday --json > monday.json

Exit status: 0 all was read and judged, whatever the verdicts; 2 wrong usage;
3 some input could not be read, or what was read contradicts itself; the rest
was judged.
A verdict is advice from a log, never a clearance to run a machine.
`;

const output = () => import("../recording/outputFolder.js");

/** `shaftwise diagnose`: recordings in, verdicts out. */
export const run: Command = async (args, io) => {
  const { values, paths } = commandLine("diagnose", args, {
    json: { type: "boolean" },
    out: { type: "string" },
    explain: { type: "string" },
    ...readingOptions,
    wanted: { type: "string" },
    help: { type: "boolean", short: "h" },
  });
  if (values.help) {
    io.out(help);
    return exitStatus.done;
  }
  if (paths.length === 0) throw new UsageError("diagnose needs at least one file or folder");
  const wanted = wantedSense(values.wanted);
  if (values.out !== undefined)
    await (await output()).mayWriteTo(values.out, paths, ["diagnosis.json", "diagnosis.txt"]);
  const progress = startProgress(io);
  const { analyseFiles } = await import("../analysis/analyseFiles.js");
  const analysis = await analyseFiles(paths, {
    reading: readOptionsOf(values),
    wanted,
    version: version(),
    ...progressOf(progress, "judging files"),
  });
  progress.stop();
  await print(analysis.diagnosis, paths, values, io);
  return statusOf(analysis);
};

function wantedSense(text: string | undefined): "clockwise" | "counterclockwise" | undefined {
  if (text === undefined || text === "clockwise" || text === "counterclockwise") return text;
  throw new UsageError(`--wanted is "clockwise" or "counterclockwise", not "${text}"`);
}

async function print(
  diagnosis: Diagnosis,
  paths: readonly string[],
  values: { json?: boolean; out?: string; explain?: string },
  io: Io,
): Promise<void> {
  const document = (): string => `${jsonText(diagnosis)}\n`;
  if (values.json) {
    io.out(document());
  } else if (values.explain !== undefined) {
    const { explain } = await import("./explain.js");
    const text = explain(diagnosis, values.explain);
    if (text === undefined) {
      const names = diagnosis.recordings.map((recording) => visible(recording.path)).join(", ");
      throw new UsageError(`--explain: there is no recording "${visible(values.explain)}" among ${names}`);
    }
    io.out(text.endsWith("\n") ? text : `${text}\n`);
  } else {
    const { diagnosisText } = await import("./diagnosisText.js");
    io.out(diagnosisText(diagnosis, io));
  }
  if (values.out !== undefined) {
    const { diagnosisText } = await import("./diagnosisText.js");
    await (await output()).writeTo(values.out, paths, {
      "diagnosis.json": document(),
      "diagnosis.txt": diagnosisText(diagnosis, { color: false, columns: 80 }),
    });
  }
}
