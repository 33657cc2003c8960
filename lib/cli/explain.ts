import { dangerSentence, doNotClose } from "../diagnosis/danger.js";
import { capital, shortText } from "../diagnosis/remedies.js";
import type { CauseCode } from "../diagnosis/tables/causes.js";
import type { Diagnosis, Evidence, RecordingVerdict, TrialVerdict } from "../diagnosis/types.js";
import { equalFindings, findingText } from "../recording/findingText.js";
import { quantityText, secondsText, sentence, stretchText } from "../units/forPeople.js";
import { visible } from "../units/text.js";
import { paragraph } from "./layout.js";

const width = 80;

/**
 * The whole reasoning for one recording, as plain text at 80 columns: what was seen, what it was held against, the
 * causes with their probabilities and what moved them, the forecast, and what to do.
 *
 * @param recording the verdict on the recording, or its path or file name
 * @returns undefined when no recording of that name is in the diagnosis
 */
export function explain(diagnosis: Diagnosis, recording: RecordingVerdict | string): string | undefined {
  const found = typeof recording === "string" ? find(diagnosis, recording) : recording;
  if (!found) return undefined;
  const lines: string[] = [];
  const order = found.ordering ? `, lead order ${found.ordering}` : "";
  lines.push(
    paragraph(`${visible(found.path)}${order}${found.motor ? `, motor ${visible(found.motor)}` : ""}`, width),
  );
  if (found.trials.length === 0) lines.push("", "No trial was found in this recording.");
  for (const finding of found.attention ?? [])
    lines.push(paragraph(visible(`Check first: ${findingText(finding)}`, 2000), width));
  const danger = dangerSentence(found.trials);
  if (danger) lines.push("", paragraph(`${danger} ${doNotClose}`, width));
  found.trials.forEach((trial, k) => {
    lines.push("", ...trialLines(trial, k + 1));
  });
  const told = found.trials.find(({ causes }) => causes.length > 0);
  if (told) lines.push("", ...causeLines(told));
  if (found.fieldOriented !== undefined && found.fieldOriented < 0.9 && told)
    lines.push(
      "",
      paragraph(
        `That the drive is field-oriented has a probability of ${percent(found.fieldOriented)} by what was logged and stated; causes of lead order and offset count only as far as it is.`,
        width,
        "  ",
      ),
    );
  const verdict = diagnosis.orderings.find(({ ordering }) => ordering === found.ordering);
  if (verdict) {
    lines.push("", `Order ${verdict.ordering} as a whole: ${verdict.usable ? "usable" : verdict.verdict}`);
    lines.push(paragraph(visible(verdict.reason, 2000), width, "  "));
    if (verdict.rework) lines.push(paragraph(`Least rework: ${visible(verdict.rework, 2000)}`, width, "  "));
  }
  if (diagnosis.nextTest) {
    const { test, information, outcomes, caution } = diagnosis.nextTest;
    lines.push("", `The next test that would tell most (about ${information.toFixed(1)} bits):`);
    lines.push(paragraph(visible(test, 2000), width, "  "));
    for (const outcome of outcomes) lines.push(paragraph(visible(outcome, 2000), width, "    if "));
    if (caution) lines.push(paragraph(`Caution: ${visible(sentence(caution), 2000)}`, width, "  "));
  }
  if (found.findings.length > 0) {
    lines.push("", "Noticed in the data");
    for (const [one, ...more] of equalFindings(found.findings))
      lines.push(
        paragraph(
          `${visible(capital(findingText(one)), 2000)}${more.length > 0 ? ` (${more.length + 1} times)` : ""}`,
          width,
          "  - ",
        ),
      );
  }
  lines.push(
    "",
    paragraph(
      "This is advice from a log, never a clearance to run. A shaft on a bench can spin up without warning: unloaded, guarded, current limited, power within reach of the hand that removes it, and by qualified people under the site's rules.",
      width,
    ),
  );
  return `${lines.join("\n")}\n`;
}

function find(diagnosis: Diagnosis, name: string): RecordingVerdict | undefined {
  const last = (path: string): string => path.split(/[/\\]/).pop() ?? path;
  return (
    diagnosis.recordings.find(({ path }) => path === name) ??
    diagnosis.recordings.find(({ path }) => last(path) === last(name)) ??
    diagnosis.recordings.find(({ path }) => last(path).replace(/\.[^.]*$/, "") === last(name)) ??
    diagnosis.recordings.find(({ ordering }) => ordering !== null && ordering === name.toUpperCase())
  );
}

function trialLines(trial: TrialVerdict, number: number): string[] {
  const lines: string[] = [];
  const sure = trial.verdict === "undetermined" ? "" : ` (${percent(trial.confidence)} sure)`;
  const sense = trial.sense === "none" ? "" : `, shaft ${trial.sense} the command`;
  const seconds = `${secondsText(trial.start)} to ${secondsText(trial.end)} s`;
  const stretch = trial.clock === "rows" ? stretchText(trial) : seconds;
  lines.push(
    paragraph(`Trial ${number}: ${trial.kind}, ${stretch}: ${trial.verdict}${sense}${sure}.`, width),
  );
  lines.push(paragraph(visible(trial.text, 2000), width, "  "));
  if (trial.missing)
    lines.push(paragraph(`Missing: ${visible(sentence(trial.missing.join("; ")), 2000)}`, width, "  "));
  if (trial.evidence.length > 0) {
    lines.push("  Seen and held against");
    for (const evidence of trial.evidence) lines.push(paragraph(evidenceText(evidence), width, "    - "));
  }
  if (trial.torqueFactor)
    lines.push(
      paragraph(
        `Torque factor g: ${number3(trial.torqueFactor.value)} (${number3(trial.torqueFactor.low)} to ${number3(trial.torqueFactor.high)}), ${trial.torqueFactor.method}.`,
        width,
        "  ",
      ),
    );
  if (trial.offsetError)
    lines.push(
      paragraph(
        `Offset error: ${Math.round(trial.offsetError.value)} electrical deg (${Math.round(trial.offsetError.low)} to ${Math.round(trial.offsetError.high)}), positive when the drive's angle runs ahead of the magnets.`,
        width,
        "  ",
      ),
    );
  if (trial.forecast) lines.push(paragraph(`Forecast: ${visible(trial.forecast.text, 2000)}`, width, "  "));
  return lines;
}

/** Causes and remedies: the trials of a recording share them, so they are said once. */
function causeLines(trial: TrialVerdict): string[] {
  const lines = ["What has to be done, and how probable it is that it helps"];
  for (const { probability, text, open } of trial.remedies ?? []) {
    if (probability < 0.01) continue;
    lines.push(
      paragraph(`${text}${open ? ` (${open})` : ""}`, width, `  ${percent(probability).padStart(6)}  `),
    );
  }
  const causes = trial.causes.filter(({ probability }) => probability >= 0.01);
  lines.push("Causes, with the probability that this log and the other orders leave them");
  for (const { probability, text } of causes)
    lines.push(paragraph(text, width, `  ${percent(probability).padStart(6)}  `));
  const rest = 1 - causes.reduce((sum, { probability }) => sum + probability, 0);
  if (rest > 0.0005) lines.push(`  ${percent(rest).padStart(6)}  everything else together`);
  if (trial.inseparable && trial.inseparable.length > 1)
    lines.push(
      paragraph(
        `This log hardly tells apart (less than 20 times): ${trial.inseparable.map(named).join("; ")}. Between them it is mostly the prior probability that decides.`,
        width,
        "  ",
      ),
    );
  if (trial.weights && trial.weights.length > 0) {
    lines.push("What moved the probabilities of the two that lead");
    for (const { finding, factor, favoured, against } of trial.weights)
      lines.push(
        paragraph(
          `${finding}: ${times(factor)} for ${named(favoured)}, against ${named(against)}`,
          width,
          "  - ",
        ),
      );
  }
  return lines;
}

/** A cause in a few words; codes that are not known stay as they are. */
const named = (code: string): string => shortText(code as CauseCode);

function evidenceText({ quantity, value, unit, limit, limitSource, meaning }: Evidence): string {
  const held =
    limit === undefined
      ? ""
      : ` (held against ${quantityText(limit, unit, 3, quantity)}${limitSource ? `; ${limitSource}` : ""})`;
  return visible(`${quantity}: ${quantityText(value, unit, 3, quantity)}${held}: ${meaning}`, 2000);
}

function number3(value: number): string {
  if (!Number.isFinite(value)) return "unknown";
  if (Math.abs(value) >= 1000) return String(Math.round(value));
  return String(Number(value.toPrecision(3)));
}

function percent(p: number): string {
  if (p >= 0.995) return ">99 %";
  if (p < 0.01) return "<1 %";
  return `${Math.round(p * 100)} %`;
}

function times(factor: number): string {
  return factor >= 100 ? `${Number(factor.toPrecision(1))} times` : `${factor.toPrecision(2)} times`;
}
