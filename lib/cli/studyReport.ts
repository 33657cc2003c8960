import { existsSync } from "node:fs";
import { join } from "node:path";
import { loadDrawing } from "../chart/render/drawingPackages.js";
import { mayWriteTo, writeTo } from "../recording/outputFolder.js";
import { type RedactedStudy, redactStudy } from "../report/redact/redactStudy.js";
import type { StudySource } from "../report/study/studySource.js";
import { isUndetermined, type Life } from "../study/life/lifeData.js";
import type { LifeSummary } from "../study/life/lifeSummary.js";
import { hasJournal } from "../study/pipeline/journal.js";
import { jsonText, visible } from "../units/text.js";
import { exitStatus, type Io } from "./io.js";
import { startProgress } from "./progress.js";
import { lifeOptionsOf, needLives } from "./studyLife.js";
import { lifeLines } from "./studyLifeText.js";
import { version } from "./version.js";

/** True for a folder that a study wrote its tables to. */
export const isStudyFolder = (path: string) =>
  ["recordings.parquet", "trials.parquet"].every((name) => existsSync(join(path, name)));

/** True for the folder of a study that was stopped before it wrote its tables. */
export const isUnfinishedStudy = (path: string) => !isStudyFolder(path) && hasJournal(join(path, "journal"));

/** Writes the page of a study, a page for each motor that stands out, and the summary as JSON. */
export async function reportStudy(
  folder: string,
  options: {
    readonly out: string;
    readonly life?: string;
    readonly limits?: string;
    readonly since?: string;
    readonly at?: string;
    readonly confidence?: string;
    readonly failed?: readonly string[];
    readonly shape?: string;
    /** Take the customer out, and these words too. */
    readonly redact?: readonly string[];
  },
  io: Io,
): Promise<number> {
  needLives(options);
  const lifeOptions = lifeOptionsOf(options);
  await mayWriteTo(options.out, [folder], ["study.html", "study-summary.json"]);
  await loadDrawing("the report");
  const { readLimits } = await import("../study/pipeline/readLimits.js");
  const { compareStudies } = await import("../study/population/compareStudies.js");
  const { studySummary } = await import("../study/population/studySummary.js");
  const { studyPages } = await import("../report/study/studyPage.js");
  const progress = startProgress(io, "reading the tables");
  try {
    const given = await studyOf(folder, options);
    const { tables: all, lives, lifeUnit } = options.redact ? redactStudy(given, options.redact) : given;
    const [tables, before] = all;
    const summary = await studySummary(tables, {
      lives,
      lifeUnit,
      lifeOptions,
      limits: options.limits === undefined ? undefined : await readLimits(options.limits),
      told: progress.show,
    });
    const since = before === undefined ? undefined : await compareStudies(before, tables);
    progress.show("pages");
    const files = await studyPages({
      ...(options.redact ? { redacted: true } : { folder: visible(folder) }),
      tables,
      summary,
      ...(summary.life === undefined ? {} : { lifeLines: lifeLines(summary.life, lifeOptions.shares) }),
      ...(await bandOf(summary.life, lives)),
      ...(since === undefined ? {} : { since }),
      made: options.redact
        ? new Date().toISOString().slice(0, 10)
        : new Date().toISOString().replace(/\.\d+Z$/, "Z"),
      version: version(),
    });
    await writeTo(options.out, [folder], { ...files, "study-summary.json": `${jsonText(summary)}\n` });
    progress.stop();
    const motors = Object.keys(files).length - 1;
    io.out(
      `${visible(join(options.out, "study.html"))} (${(files["study.html"].length / 1e6).toFixed(1)} MB), ${motors === 1 ? "a page of 1 motor" : `pages of ${motors} motors`} and study-summary.json beside it\n`,
    );
    if (options.redact)
      io.out(
        `removed: names of recordings, motors, batches, rigs and causes of failure, and dates\nread it once yourself before it leaves the house\n`,
      );
    return exitStatus.done;
  } catch (error) {
    progress.stop();
    if (!(error instanceof Error)) throw error;
    io.err(`shaftwise: ${visible(error.message, 400)}\n`);
    return exitStatus.failed;
  }
}

/** Units whose lives are drawn anew for a band, over all its samples: some seconds. */
const drawnUnits = 200_000;

/** The band of a curve that has none of its own. */
async function bandOf(
  life: LifeSummary | undefined,
  lives: readonly Life[] | undefined,
): Promise<Pick<StudySource, "lifeBand">> {
  if (life === undefined || lives === undefined || isUndetermined(life.curve)) return {};
  if (life.curve.method !== "Turnbull") return {};
  const { turnbullBand } = await import("../study/life/turnbullBand.js");
  const samples = Math.max(40, Math.min(400, Math.round(drawnUnits / life.units)));
  return { lifeBand: turnbullBand(lives, { level: life.level, samples }) };
}

/** The tables of a study, of the one it is compared with, and its lives. */
async function studyOf(
  folder: string,
  { since, life }: { readonly since?: string; readonly life?: string },
): Promise<RedactedStudy> {
  const { readTables } = await import("../study/pipeline/readTables.js");
  const { readLifeTable } = await import("../study/life/readLifeTable.js");
  const { keptApart } = await import("../study/population/keptApart.js");
  const folders = since === undefined ? [folder] : [folder, since];
  const tables = await Promise.all(folders.map(async (one) => keptApart(await readTables(one))));
  const table = life === undefined ? undefined : await readLifeTable(life);
  return { tables, ...(table === undefined ? {} : { lives: table.lives, lifeUnit: table.unit }) };
}
