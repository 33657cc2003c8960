import { parseArgs } from "node:util";
import { jsonText, visible } from "../units/text.js";
import { exitStatus, type Io, UsageError } from "./io.js";
import { summaryText } from "./studyText.js";

/** `shaftwise study show`: statistics across the motors of a study. */
export async function showCommand(args: readonly string[], io: Io): Promise<number> {
  let values: { life?: string; limits?: string; json?: boolean };
  let positionals: string[];
  try {
    ({ values, positionals } = parseArgs({
      args: [...args],
      options: { life: { type: "string" }, limits: { type: "string" }, json: { type: "boolean" } },
      allowPositionals: true,
    }));
  } catch (error) {
    throw new UsageError((error as Error).message);
  }
  if (positionals.length !== 1) throw new UsageError("study show needs one results folder");
  const { studySummary } = await import("../study/population/studySummary.js");
  const { readLifeTable } = await import("../study/life/readLifeTable.js");
  const { readLimits } = await import("../study/pipeline/readLimits.js");
  try {
    const life = values.life === undefined ? undefined : await readLifeTable(values.life);
    const limits = values.limits === undefined ? undefined : await readLimits(values.limits);
    const summary = await studySummary(positionals[0], { lives: life?.lives, lifeUnit: life?.unit, limits });
    io.out(values.json === true ? `${jsonText(summary)}\n` : summaryText(summary, io));
    return exitStatus.done;
  } catch (error) {
    if (!(error instanceof Error)) throw error;
    io.err(`shaftwise: ${visible(error.message, 400)}\n`);
    return exitStatus.failed;
  }
}
