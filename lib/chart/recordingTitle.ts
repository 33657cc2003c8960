import type { TrialVerdict } from "../diagnosis/types.js";
import type { Recording, Trial } from "../recording/types.js";
import { kindText } from "./kindText.js";
import { outcome } from "./marks/outcome.js";
import { saidTime } from "./marks/says.js";

/** Longest title that stands beside nothing else, characters. */
const longest = 96;

/**
 * What a recording shows, in one line: its name and how its trials ended, the most telling first; how far it went where
 * no trial was judged.
 *
 * @param trials - those that the picture shows
 * @param range - what is said where none of them was judged
 */
export function recordingTitle(
  recording: Recording,
  trials: readonly (Trial | TrialVerdict)[],
  range: string,
): string {
  const name =
    (isName(recording.title) ? recording.title : undefined) ??
    (recording.ordering
      ? `Order ${recording.ordering}`
      : (recording.path.split(/[\\/]/).at(-1) ?? recording.path));
  const judged = trials.filter((trial): trial is TrialVerdict => "verdict" in trial && trial.kind !== "idle");
  const told = judged.filter(({ verdict }) => verdict !== "undetermined");
  if (told.length === 0)
    return `${name}: ${judged.length > 0 ? "no trial can be judged" : range[0].toLowerCase() + range.slice(1)}`;
  const rank = ["runaway", "reversed", "blocked", "tracking"];
  const parts = [...told]
    .sort((a, b) => rank.indexOf(a.verdict) - rank.indexOf(b.verdict) || b.confidence - a.confidence)
    .map(partOf);
  const unique = [...new Set(parts)];
  const whole = `${name}: ${unique.slice(0, 2).join("; ")}`;
  return whole.length <= longest ? whole : `${name}: ${unique[0]}`;
}

/** A title short enough to be a name; what a logger writes into a heading is not. */
function isName(title: string | undefined): boolean {
  return title !== undefined && title.length <= 32 && !title.includes(":");
}

/** How one trial ended, how sure that is, and how fast a runaway grew where its log shows it. */
function partOf(trial: TrialVerdict): string {
  const tau = trial.growth?.growthTime?.value;
  const growth =
    trial.verdict === "runaway" && tau !== undefined && tau > 0
      ? `, error doubles every ${saidTime(tau * Math.LN2)}`
      : "";
  return `${kindText(trial.kind)} ${outcome(trial).words} (${Math.round(100 * trial.confidence)} %)${growth}`;
}
