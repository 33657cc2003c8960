import { basename } from "node:path";
import { analyseRuns } from "../../lib/analysis/analyseRuns.js";
import { run as diagnoseCommand } from "../../lib/cli/diagnose.js";
import { explain } from "../../lib/cli/explain.js";
import { run as fit } from "../../lib/cli/fit.js";
import { run as inspect } from "../../lib/cli/inspect.js";
import type { Command } from "../../lib/cli/io.js";
import { run as loop } from "../../lib/cli/loop.js";
import { run as triage } from "../../lib/cli/triage.js";
import { readRecordings } from "../../lib/recording/readRecordings.js";
import { reportHtml } from "../../lib/report/html.js";
import { letter } from "../../lib/report/letter.js";
import { reportMarkdown } from "../../lib/report/markdown.js";
import { reportedParts, reportSource } from "../../lib/report/reportSource.js";
import { runOf } from "../../lib/run/run.js";
import { capture } from "../house/capture.js";
import type { HumanCase } from "./humanCases.js";

/** Columns of the terminal. */
const columns = Number(process.env.COLUMNS ?? 100);

/** Every text for people that a folder of logs gives, by where it comes from. */
export async function textsOf(
  { folder, files }: Pick<HumanCase, "folder" | "files">,
  page = false,
): Promise<Record<string, string>> {
  const texts: Record<string, string> = {};
  const commands: Readonly<Record<string, Command>> = {
    inspect,
    diagnose: diagnoseCommand,
    fit,
    loop,
    triage,
  };
  for (const [name, command] of Object.entries(commands)) {
    const args = name === "triage" ? [folder] : [...files, ...(name === "loop" ? ["--no-proposals"] : [])];
    const { out, err } = await capture(command, args, { columns });
    texts[name] = out;
    texts[`${name}, errors`] = err;
  }
  const { recordings, problems } = await readRecordings(files);
  if (recordings.length === 0) return texts;
  const runs = recordings.map((recording) => runOf(recording));
  const analysis = analyseRuns(runs, { problems, version: "0.1.0", parts: reportedParts });
  for (const verdict of analysis.diagnosis.recordings)
    texts[`explain ${basename(verdict.path)}`] = explain(analysis.diagnosis, verdict) ?? "";
  const source = reportSource(analysis, runs, {
    made: "2026-11-26",
    cover: { customer: "Example Works", caseNumber: "12-3", author: "A. Writer" },
  });
  texts.markdown = reportMarkdown(source);
  texts.letter = letter(source, "text");
  texts["letter, Markdown"] = letter(source, "markdown");
  if (page) texts.page = textOfPage(await reportHtml(source));
  return texts;
}

/** Characters a line in each of these texts; the others are not wrapped. */
export function widthOf(where: string): number | undefined {
  if (where.startsWith("explain")) return 80;
  if (where === "letter") return 76;
  return /^(?:inspect|diagnose|fit|loop|triage)(?:,|$)/.test(where) ? columns : undefined;
}

/** What a reader of a page sees, a block a line. */
export function textOfPage(html: string): string {
  return html
    .replace(
      /<script[\s\S]*?<\/script>|<style[\s\S]*?<\/style>|<svg[\s\S]*?<\/svg>|<details class="licences"[\s\S]*?<\/details>/g,
      "",
    )
    .replace(/<\/(?:p|li|h\d|td|th|tr|div|summary|figcaption|dd|title|a|dt)>/g, "\n\n")
    .replace(/<br>/g, "\n\n")
    .replace(/<[^>]*>/g, "")
    .replace(/&lt;/g, "<")
    .replace(/&gt;/g, ">")
    .replace(/&quot;/g, '"')
    .replace(/&#39;/g, "'")
    .replace(/&amp;/g, "&");
}
