import { kindText } from "../chart/kindText.js";
import { headline } from "../diagnosis/danger.js";
import type { Diagnosis, TrialVerdict } from "../diagnosis/types.js";
import { stretchText } from "../units/forPeople.js";
import { visible } from "../units/text.js";

export {
  intervalText,
  numberText,
  quantityText,
  secondsText,
  sentence,
  sentences,
  unitText,
} from "../units/forPeople.js";

/** A probability. Certainty is never claimed. */
export function percentText(probability: number): string {
  if (probability > 0.99) return "over 99 %";
  if (probability < 0.01) return "under 1 %";
  return `${Math.round(100 * probability)} %`;
}

/** The answer in one or two sentences; what can hurt someone first. */
export function answer(diagnosis: Diagnosis): string {
  return headline(diagnosis);
}

/** What stands above every report. */
export const caution =
  "A shaft on a bench can spin up without warning, and an order that turned under torque can run away when the speed loop is closed. " +
  "Run trials unloaded and guarded, current limited, with an independent means of removing power at hand, by qualified people under the site's rules. " +
  "This is advice from a log, never a clearance to run.";

/** A warning that begins in capitals, in small letters: `TURNS AGAINST ITS COMMAND: ...`, for people who were not at
 * the bench. */
export function calm(text: string): string {
  return text.replace(
    /^[A-Z]{3,}(?: [A-Z]{2,})*(?=[:,])/,
    ([first, ...rest]) => `${first}${rest.join("").toLowerCase()}`,
  );
}

/** Name of a file without its folders. */
export function baseName(path: string): string {
  return visible(path.split(/[\\/]/).at(-1) ?? path, 80);
}

/** `torque trial, 0.5 s to 2.0 s` */
export function trialTitle(trial: Pick<TrialVerdict, "kind" | "start" | "end" | "clock">): string {
  const words = kindText(trial.kind);
  return `${words[0].toUpperCase()}${words.slice(1)}, ${stretchText(trial)}`;
}

/** `shaftwise 0.1.0, 2026-03-14 09:30 UTC` */
export function madeText({
  made,
  diagnosis,
}: {
  readonly made: string;
  readonly diagnosis: Pick<Diagnosis, "version">;
}): string {
  const when = made.replace(/^(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2}).*Z$/, "$1 $2 UTC");
  return `shaftwise${diagnosis.version === "" ? "" : ` ${diagnosis.version}`}, ${when}`;
}
