import { createWriteStream } from "node:fs";
import { realpath, writeFile } from "node:fs/promises";
import { basename, dirname, join } from "node:path";
import { finished } from "node:stream/promises";
import { jsonText, visible } from "../units/text.js";
import { connectEngine, sqlText } from "./formats/columnEngine.js";
import { TemporaryFolder } from "./formats/temporaryFolder.js";
import { OutputFolder, OutputRefused } from "./outputFolder.js";
import { columnsOf } from "./toTable.js";
import { type ChannelRole, type Recording, siUnits } from "./types.js";

/** How recordings are written. */
export interface WriteOptions {
  /** `csv` when absent. */
  readonly format?: "csv" | "parquet";
  /** Name of the data package. */
  readonly name?: string;
  readonly title?: string;
}

/**
 * Writes cleaned recordings (SI, unwrapped, one column per channel) into a folder as CSV (RFC 4180, UTF-8) or Parquet,
 * with a `datapackage.json` that states units, roles, facts and trials, so that `readRecordings` of the folder gives
 * the same recordings again, every double to its last bit.
 *
 * Writes nothing at all when a file that is there already is not one that was written here before, unchanged.
 *
 * @returns paths of the files written, the descriptor first.
 * @throws OutputRefused when the folder holds one of the inputs, or a file that is not ours would be replaced
 * @example
 * await writeRecordings(recordings, `${folder}/cleaned`, { format: "parquet" });
 */
export async function writeRecordings(
  recordings: readonly Recording[],
  folder: string,
  options: WriteOptions = {},
): Promise<string[]> {
  const format = options.format ?? "csv";
  const inputs = recordings.flatMap((recording) => recording.source?.files ?? [recording.path]);
  const output = await OutputFolder.open(folder, { inputs });
  try {
    await refuseAmongInputs(output, folder, inputs);
    const taken = new Set<string>();
    const names = recordings.map((recording) => resourceName(recording, taken));
    const files = names.map((name) => `${name}.${format}`);
    await output.mayWrite([descriptorName, ...files]);
    for (const [i, recording] of recordings.entries()) {
      const draft = await output.draft(files[i]);
      if (format === "csv") await writeCsv(recording, draft);
      else await writeParquet(recording, draft);
    }
    const document = {
      profile: "data-package",
      name: options.name ?? "recordings",
      title: options.title ?? "Cleaned recordings of motor trials",
      resources: recordings.map((recording, i) => resourceOf(recording, names[i], format)),
    };
    await writeFile(await output.draft(descriptorName), `${jsonText(document)}\n`, {
      flag: "wx",
    });
    await output.keep([...files, descriptorName]);
    return [descriptorName, ...files].map((name) => join(folder, name));
  } finally {
    await output.close();
  }
}

const descriptorName = "datapackage.json";

/** A descriptor written beside the originals would change how they are read from then on. */
async function refuseAmongInputs(
  output: OutputFolder,
  folder: string,
  inputs: readonly string[],
): Promise<void> {
  for (const input of inputs) {
    // Both where it was named and where it really lies, when it is a link.
    const homes = [realpath(dirname(input)), realpath(input).then(dirname)];
    const found = await Promise.all(homes.map((home) => home.catch(() => undefined)));
    if (found.includes(output.path))
      throw new OutputRefused(
        `${visible(folder)} holds the input "${visible(basename(input), 80)}": cleaned recordings are not written among the originals; name another folder`,
      );
  }
}

function resourceOf(recording: Recording, name: string, format: "csv" | "parquet"): unknown {
  return {
    name,
    path: `${name}.${format}`,
    title: recording.title ?? basename(recording.path),
    format,
    mediatype: format === "csv" ? "text/csv" : "application/vnd.apache.parquet",
    ...(format === "csv" ? { encoding: "utf-8" } : {}),
    shaftwise: {
      ordering: recording.ordering,
      motor: recording.motor,
      machine: recording.machine,
      drive: recording.drive,
      encoder: recording.encoder,
      trials: recording.declaredTrials,
    },
    schema: {
      fields: headings(recording).map(({ heading, role, unit, from }) => ({
        name: heading,
        type: "number",
        unit,
        role,
        ...(from === undefined ? {} : { description: `from the column ${JSON.stringify(from)}` }),
      })),
    },
  };
}

function headings(recording: Recording): { heading: string; role: string; unit: string; from?: string }[] {
  return Object.keys(columnsOf(recording)).map((role) => {
    const unit = role === "time" ? "s" : siUnits[role as ChannelRole];
    return {
      heading: `${role} [${unit}]`,
      role,
      unit,
      from: role === "time" ? recording.source?.timeColumn : recording.channels[role as ChannelRole]?.name,
    };
  });
}

/** A plain file name: small letters, digits and hyphens, unique in the folder. */
function resourceName(recording: Recording, taken: Set<string>): string {
  const stem = basename(recording.path)
    .replace(/\.[a-z0-9]{1,8}(\.(gz|zst|zstd))?(?=#|$)/i, "")
    .normalize("NFKD")
    .replace(/[^A-Za-z0-9]+/g, "-")
    .replace(/^-+|-+$/g, "")
    .toLowerCase()
    .slice(0, 60);
  const base = stem === "" ? "recording" : stem;
  let name = base;
  for (let k = 2; taken.has(name); k += 1) name = `${base}-${k}`;
  taken.add(name);
  return name;
}

async function writeCsv(recording: Recording, file: string): Promise<void> {
  const columns = Object.values(columnsOf(recording));
  const stream = createWriteStream(file, { flags: "wx" });
  const done = finished(stream);
  const put = async (text: string): Promise<void> => {
    if (!stream.write(text))
      await Promise.race([new Promise<void>((next) => stream.once("drain", () => next())), done]);
  };
  // Headings are ours (a role and a unit), so nothing in them can be taken for a formula.
  await put(
    `${headings(recording)
      .map((h) => h.heading)
      .join(",")}\r\n`,
  );
  let text = "";
  for (let i = 0; i < recording.time.length; i += 1) {
    for (let c = 0; c < columns.length; c += 1) {
      const v = columns[c][i];
      if (c > 0) text += ",";
      // The shortest text that reads back as the same double; nothing where there is no value.
      if (v === Number.POSITIVE_INFINITY) text += "inf";
      else if (v === Number.NEGATIVE_INFINITY) text += "-inf";
      else if (Object.is(v, -0)) text += "-0";
      else if (!Number.isNaN(v)) text += v;
    }
    text += "\r\n";
    if (text.length > 1 << 18) {
      await put(text);
      text = "";
    }
  }
  await put(text);
  stream.end();
  await done;
}

async function writeParquet(recording: Recording, file: string): Promise<void> {
  const folder = new TemporaryFolder();
  const connection = await connectEngine();
  try {
    const csv = await folder.path("table.csv");
    await writeCsv(recording, csv);
    const types = headings(recording)
      .map((h) => `${sqlText(h.heading)}: 'DOUBLE'`)
      .join(", ");
    await connection.run(
      `COPY (SELECT * FROM read_csv(${sqlText(csv)}, auto_detect=false, hive_partitioning=false, header=true, delim=',', quote='"', escape='"', columns={${types}})) TO ${sqlText(file)} (FORMAT parquet, COMPRESSION zstd)`,
    );
  } finally {
    connection.closeSync();
    await folder.close();
  }
}
