import { headline } from "../diagnosis/danger.js";
import type { RemedyProbability, TrialVerdict } from "../diagnosis/types.js";
import { markdownText, visible } from "../units/text.js";
import { questions } from "./questions.js";
import type { ReportSource } from "./types.js";
import { percentText, sentence } from "./wording.js";

/** Steps that somebody without a tool for it can follow, by remedy; each after power is off, locked and proved dead. */
const steps: Readonly<Record<string, readonly string[]>> = {
  keep: ["Leave the connections as they are."],
  align: [
    "Leave the three motor leads as they are.",
    "Make sure that the shaft can turn freely: no load, no brake, no belt.",
    "Put power back on and repeat the drive's alignment of the encoder, with as much current as the motor's rating allows.",
  ],
  swap: [
    "Exchange two of the three motor leads at the drive, any two. Leave the encoder as it is.",
    "Put power back on and repeat the drive's alignment of the encoder with the shaft free.",
  ],
  "pole-pairs": [
    "Read the number of poles from the motor's plate or data sheet. Pole pairs are half of it.",
    "Set the pole pairs in the drive, then repeat the alignment with the shaft free.",
  ],
  lines: [
    "Read the number of lines (pulses a turn) from the encoder's label. Counts after quadrature are four times as many.",
    "Set the lines in the drive, then repeat the alignment with the shaft free.",
  ],
  continuity: [
    "Measure the resistance between each two of the three motor leads at the drive's end: three readings, nearly equal.",
    "Where one lead shows no connection, look for a loose terminal or a broken wire and repair it.",
  ],
  polarity: ["Exchange the two wires of the motor. Leave the sensor as it is."],
  free: ["Turn the shaft by hand. Release the brake or remove what holds it."],
  load: ["Uncouple the load, or have a qualified person raise the current limit within the motor's rating."],
  drive: ["Read the drive's state and messages: enabled, supply present, limits as intended."],
  sensor: [
    "Turn the shaft by hand through one whole turn and watch the position in the drive: it must rise or fall steadily by one turn.",
    "Where it does not, look at the encoder's cable, plug and coupling.",
  ],
  tune: ["Ask for new gains of the speed loop before the next trial."],
  display: ["Have the sign of the logged speed set right; the wiring needs no change."],
  look: ["Send the log as the drive wrote it, unchanged."],
};

const off = "Switch the power off, lock it, and make sure that nothing can turn.";
const again = "Repeat the trial with a small current first, and record it.";

/** How to record what is asked for: what such a log needs. */
const record = [
  "time, commanded and measured current, speed, position, and in a speed trial the speed asked for, each with its unit in the heading;",
  "at least 500 rows a second, without filtering, from one second before the command to one second after it;",
];
const recordOrders =
  "a trial forward, then the same backward, at a small current; one file for each order of the leads, with the order in its name.";
const recordBoth = "a trial forward, then the same backward, with a small current or voltage.";

/** What each of a few trials did, the worst first; a set of orders has its own answer. */
function seen(trials: readonly TrialVerdict[], orders: number): string[] {
  const asked = trials.filter(({ kind }) => kind !== "coast" && kind !== "idle");
  if (orders > 0 || asked.length === 0 || asked.length > 4) return [];
  return [...asked]
    .sort((a, b) => rank.indexOf(a.verdict) - rank.indexOf(b.verdict))
    .map(({ text }) => sentence(text));
}

const rank = ["runaway", "reversed", "blocked", "undetermined", "tracking"];

const caution =
  "A shaft can start without warning. Work on wires and encoder only with power off, locked and proved dead. Run trials with the shaft unloaded and guarded, " +
  "the current limited, and a means of removing power at hand, by qualified people under your site's rules and local codes.";

/**
 * A short reply to paste into a message: what was seen, what it means, numbered steps, what to send next and how to record it, the caution.
 *
 * @param form - `markdown` for a ticket, `text` for a plain mail.
 * @example
 * letter(source, "text").split("\\n")[0]; // => "Hello,"
 */
export function letter(source: ReportSource, form: "text" | "markdown"): string {
  const { diagnosis, cover } = source;
  const heading = (words: string) => (form === "markdown" ? `**${words}**` : words.toUpperCase());
  /** What is put into it comes from outside as well. */
  const said = (words: string) => (form === "markdown" ? markdownText(words) : visible(words, 3000));
  const trials = diagnosis.recordings.flatMap((recording) => recording.trials);
  const usable = diagnosis.orderings.find((order) => order.usable)?.ordering;
  const remedy = usable ? undefined : chosen(trials);
  const list = usable ? stepsToOrder(usable) : remedy ? stepsOf(remedy) : [];
  const threePhase =
    diagnosis.orderings.length > 0 ||
    diagnosis.recordings.some(({ fieldOriented = 0 }) => fieldOriented > 0.5);
  const asked = questions(diagnosis).slice(0, 3);
  const parts = [
    `Hello,`,
    `${cover?.caseNumber ? `about case ${said(cover.caseNumber)}: ` : ""}thank you for the log. ${count(diagnosis.recordings.length, "recording")} with ${count(trials.length, "trial")} could be read.`,
    heading("What we saw"),
    said(headline(diagnosis)),
    ...seen(trials, diagnosis.orderings.length).map(said),
    ...(usable ? [heading("What it means"), diagnosis.advice.slice(0, 2).map(said).join("\n\n")] : []),
    ...(remedy && remedy.remedy !== "keep" ? [heading("What it means"), said(meaning(remedy))] : []),
    ...(list.length > 0
      ? [heading("What to do"), list.map((line, i) => `${i + 1}. ${line}`).join("\n")]
      : []),
    ...(asked.length > 0
      ? [
          heading("What would help us next"),
          asked
            .map(({ ask, caution: care }, i) => `${i + 1}. ${said(ask)}${care ? ` (${said(care)})` : ""}`)
            .join("\n"),
        ]
      : []),
    heading("How to record it"),
    [...record, threePhase ? recordOrders : recordBoth].map((line) => `- ${line}`).join("\n"),
    heading("Caution"),
    caution,
    `Kind regards${cover?.author ? `,\n${said(cover.author)}` : ""}`,
  ];
  const joined = `${parts.join("\n\n")}\n`;
  return form === "markdown" ? joined : wrapped(joined);
}

/** The remedy that the worst trial asks for: what can hurt someone is put right first. */
function chosen(trials: readonly TrialVerdict[]): RemedyProbability | undefined {
  const sorted = [...trials].sort((a, b) => rank.indexOf(a.verdict) - rank.indexOf(b.verdict));
  return sorted.find(({ remedies }) => remedies && remedies.length > 0)?.remedies?.[0];
}

function stepsToOrder(order: string): readonly string[] {
  const [one, two, three] = order;
  return [
    off,
    `Connect motor lead ${one} to drive terminal 1, ${two} to 2 and ${three} to 3 (order ${order}).`,
    "Put power back on and repeat the drive's alignment of the encoder with the shaft free.",
    again,
  ];
}

function stepsOf({ remedy, probability }: RemedyProbability): readonly string[] {
  return probability < 0.5 || remedy === "keep" ? [] : [off, ...(steps[remedy] ?? []), again];
}

function meaning({ text, probability, open }: RemedyProbability): string {
  const said = `${text[0].toUpperCase()}${text.slice(1)}`;
  return probability >= 0.5
    ? `${said}: this is what the log points to (${percentText(probability)}).${open ? ` Still open: ${open}.` : ""}`
    : `The log does not settle the cause. The likeliest remedy so far, ${percentText(probability)}: ${text}.`;
}

const count = (n: number, word: string): string => `${n} ${word}${n === 1 ? "" : "s"}`;

/** Lines of a plain mail, 76 characters at most. */
function wrapped(text: string): string {
  return text
    .split("\n")
    .map((line) => {
      const lines: string[] = [];
      const indent = /^(?:\d+\.|-) /.exec(line)?.[0].length ?? 0;
      for (const word of line.split(" ")) {
        const last = lines[lines.length - 1];
        if (last !== undefined && last.length + word.length < 76) lines[lines.length - 1] = `${last} ${word}`;
        else lines.push(lines.length === 0 ? word : `${" ".repeat(indent)}${word}`);
      }
      return lines.join("\n");
    })
    .join("\n");
}
