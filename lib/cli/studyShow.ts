import { parseArgs } from "node:util";
import { jsonText, visible } from "../units/text.js";
import { exitStatus, type Io, UsageError } from "./io.js";
import { startProgress } from "./progress.js";
import { lifeFlags, lifeOptionsOf, needLives, withNegatives } from "./studyLife.js";
import { summaryText } from "./studyText.js";

/** `shaftwise study show`: statistics across the motors of a study. */
export async function showCommand(args: readonly string[], io: Io): Promise<number> {
  const { values, positionals } = parse(args);
  const lifeOptions = lifeOptionsOf(values);
  if (positionals.length !== 1) throw new UsageError("study show needs one results folder");
  needLives(values);
  const { studySummary } = await import("../study/population/studySummary.js");
  const { readLifeTable } = await import("../study/life/readLifeTable.js");
  const { readLimits } = await import("../study/pipeline/readLimits.js");
  const progress = startProgress(io, "reading the tables");
  try {
    const life = values.life === undefined ? undefined : await readLifeTable(values.life);
    const limits = values.limits === undefined ? undefined : await readLimits(values.limits);
    const summary = await studySummary(positionals[0], {
      lives: life?.lives,
      lifeUnit: life?.unit,
      lifeOptions,
      limits,
      told: progress.show,
    });
    const since =
      values.since === undefined
        ? undefined
        : await (await import("../study/population/compareStudies.js")).compareStudies(
            values.since,
            positionals[0],
          );
    progress.stop();
    if (values.json === true) io.out(`${jsonText(since === undefined ? summary : { ...summary, since })}\n`);
    else
      io.out(
        summaryText(summary, io, { shares: lifeOptions.shares, ...(since === undefined ? {} : { since }) }),
      );
    return exitStatus.done;
  } catch (error) {
    progress.stop();
    if (!(error instanceof Error)) throw error;
    io.err(`shaftwise: ${visible(error.message, 400)}\n`);
    return exitStatus.failed;
  }
}

function parse(args: readonly string[]) {
  const text = { type: "string" } as const;
  try {
    return parseArgs({
      args: withNegatives(args),
      options: { life: text, limits: text, since: text, json: { type: "boolean" }, ...lifeFlags },
      allowPositionals: true,
    });
  } catch (error) {
    throw new UsageError((error as Error).message);
  }
}
