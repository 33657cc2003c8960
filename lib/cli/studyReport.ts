import { existsSync } from "node:fs";
import { join } from "node:path";
import { loadDrawing } from "../chart/render/drawingPackages.js";
import { mayWriteTo, writeTo } from "../recording/outputFolder.js";
import { jsonText, visible } from "../units/text.js";
import { exitStatus, type Io } from "./io.js";
import { lifeOptionsOf } from "./studyLife.js";
import { lifeLines } from "./studyLifeText.js";
import { version } from "./version.js";

/** True for a folder that a study wrote its tables to. */
export const isStudyFolder = (path: string) =>
  ["recordings.parquet", "trials.parquet"].every((name) => existsSync(join(path, name)));

/** Writes the page of a study, a page for each motor that stands out, and the summary as JSON. */
export async function reportStudy(
  folder: string,
  options: {
    readonly out: string;
    readonly life?: string;
    readonly limits?: string;
    readonly since?: string;
    readonly at?: string;
  },
  io: Io,
): Promise<number> {
  await mayWriteTo(options.out, [folder], ["study.html", "study-summary.json"]);
  await loadDrawing("the report");
  const { readTables } = await import("../study/pipeline/readTables.js");
  const { readLimits } = await import("../study/pipeline/readLimits.js");
  const { readLifeTable } = await import("../study/life/readLifeTable.js");
  const { keptApart } = await import("../study/population/keptApart.js");
  const { studySummary } = await import("../study/population/studySummary.js");
  const { studyPages } = await import("../report/study/studyPage.js");
  try {
    const tables = keptApart(await readTables(folder));
    const life = options.life === undefined ? undefined : await readLifeTable(options.life);
    const lifeOptions = lifeOptionsOf(options);
    const summary = await studySummary(tables, {
      lives: life?.lives,
      lifeUnit: life?.unit,
      lifeOptions,
      limits: options.limits === undefined ? undefined : await readLimits(options.limits),
    });
    const since =
      options.since === undefined
        ? undefined
        : await (await import("../study/population/compareStudies.js")).compareStudies(options.since, tables);
    const files = await studyPages({
      folder: visible(folder),
      tables,
      summary,
      ...(summary.life === undefined ? {} : { lifeLines: lifeLines(summary.life, lifeOptions.shares) }),
      ...(since === undefined ? {} : { since }),
      made: new Date().toISOString().replace(/\.\d+Z$/, "Z"),
      version: version(),
    });
    await writeTo(options.out, [folder], { ...files, "study-summary.json": `${jsonText(summary)}\n` });
    const motors = Object.keys(files).length - 1;
    io.out(
      `${visible(join(options.out, "study.html"))} (${(files["study.html"].length / 1e6).toFixed(1)} MB), pages of ${motors} motors and study-summary.json beside it\n`,
    );
    return exitStatus.done;
  } catch (error) {
    if (!(error instanceof Error)) throw error;
    io.err(`shaftwise: ${visible(error.message, 400)}\n`);
    return exitStatus.failed;
  }
}
