import { asks, headline, lettersSentence } from "../diagnosis/danger.js";
import type { Diagnosis, RemedyProbability } from "../diagnosis/types.js";
import type { LeadOrder } from "../motor/facts.js";
import { exchangeTerminals } from "../motor/leadOrder.js";
import { markdownText, visible } from "../units/text.js";
import { alignment, plain, powered } from "./letterRemedies.js";
import { questions } from "./questions.js";
import type { ReportSource } from "./types.js";
import { baseName, calm, percentText, sentence } from "./wording.js";

const off =
  "Switch the power off and lock it, wait as long as the drive's label says for its voltage to die away, and make sure that nothing can turn.";
const again = "Repeat the trial with a small current first, and record it.";

/** How to record what is asked for: what such a log needs. */
const record = [
  "time, commanded and measured current, speed, position, and in a speed trial the speed asked for, each with its unit in the heading;",
  "at least 500 rows a second, without filtering, from one second before the command to one second after it;",
];
const recordOrders =
  "a trial forward, then the same backward, at a small current; one file for each order of the leads, with the order in its name.";
const recordBoth = "a trial forward, then the same backward, with a small current or voltage.";

/** What each of a few trials did, the worst first, with its file where there are several; a set of orders has its own
 * answer. */
function seen({ recordings, orderings }: Diagnosis): string[] {
  const asked = recordings.flatMap(({ path, trials }) =>
    trials.filter(asks).map((trial) => ({ path, trial })),
  );
  if (orderings.length > 0 || asked.length === 0 || asked.length > 4) return [];
  return asked
    .sort((a, b) => rank.indexOf(a.trial.verdict) - rank.indexOf(b.trial.verdict))
    .map(
      ({ path, trial }) =>
        `${recordings.length > 1 ? `${baseName(path)}: ` : ""}${calm(sentence(trial.text))}`,
    );
}

const rank = ["runaway", "reversed", "blocked", "undetermined", "tracking"];

const caution =
  "A shaft can start without warning. Work on wires and encoder only with power off, locked and proved dead. Run trials with the shaft unloaded and guarded, " +
  "the current limited, and a means of removing power at hand, by qualified people under your site's rules and local codes.";

/**
 * A short reply to paste into a message: what was seen, what it means, numbered steps, what to send next and how to
 * record it, the caution.
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
  const remedy = usable ? undefined : chosen(diagnosis);
  const list = usable ? stepsToOrder(usable) : remedy ? stepsOf(remedy) : [];
  const threePhase =
    diagnosis.orderings.length > 0 ||
    diagnosis.recordings.some(({ fieldOriented = 0 }) => fieldOriented > 0.5);
  const asked = questions(diagnosis).slice(0, 3);
  const letters = lettersSentence(diagnosis);
  const parts = [
    `Hello,`,
    `${cover?.caseNumber ? `about case ${said(cover.caseNumber)}: ` : ""}thank you for the log. ${readText(diagnosis.recordings.length, trials.length)}`,
    heading("What we saw"),
    said(headline(diagnosis)),
    ...(letters === undefined ? [] : [said(letters)]),
    ...seen(diagnosis).map(said),
    ...(usable ? [heading("What it means"), diagnosis.advice.slice(0, 2).map(said).join("\n\n")] : []),
    ...(remedy && (remedy.remedy !== "keep" || trials.every(({ verdict }) => verdict === "tracking"))
      ? [heading("What it means"), said(meaning(remedy))]
      : []),
    ...(list.length > 0
      ? [heading("What to do"), list.map((line, i) => `${i + 1}. ${line}`).join("\n")]
      : []),
    ...(asked.length > 0
      ? [
          heading("What would help us next"),
          asked
            .map(
              ({ ask, caution: care }, i) =>
                `${i + 1}. ${said(withoutOptions(ask))}${care ? ` (${said(care)})` : ""}`,
            )
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

/** The remedy that the worst trial asks for, with its order where a set of them was tried: what can hurt someone is put
 * right first. */
function chosen({ recordings, orderings }: Diagnosis): Chosen | undefined {
  return recordings
    .flatMap(({ ordering, trials }) =>
      trials.flatMap(({ verdict, remedies }) => {
        const [remedy] = remedies ?? [];
        return remedy
          ? [{ ...remedy, verdict, ...(orderings.length > 1 && ordering ? { order: ordering } : {}) }]
          : [];
      }),
    )
    .sort((a, b) => rank.indexOf(a.verdict) - rank.indexOf(b.verdict))[0];
}

interface Chosen extends RemedyProbability {
  readonly order?: LeadOrder;
}

const connect = ([one, two, three]: LeadOrder): string =>
  `Connect motor lead ${one} to drive terminal 1, ${two} to 2 and ${three} to 3 (order ${one}${two}${three}).`;

function stepsToOrder(order: LeadOrder): readonly string[] {
  return [off, connect(order), powered, `Then ${alignment}.`, again];
}

function stepsOf({ remedy, probability, order }: Chosen): readonly string[] {
  if (probability < 0.5 || remedy === "keep") return [];
  const steps = plain[remedy]?.steps ?? [];
  if (order === undefined) return [off, ...steps, again];
  // With a known order the new one can be said, lead by lead.
  return remedy === "swap"
    ? [off, connect(exchangeTerminals(order, 1, 2)), "Leave the encoder as it is.", ...steps.slice(1), again]
    : [off, connect(order), ...steps, again];
}

function meaning({ remedy, text, probability, order }: Chosen): string {
  const words = plain[remedy]?.meaning ?? text;
  if (remedy === "keep" && probability >= 0.5) return `${words}.`;
  const told = `(${percentText(probability)})${order ? ` with order ${order}` : ""}: ${words[0].toLowerCase()}${words.slice(1)}.`;
  return probability >= 0.5
    ? `Most likely ${told}`
    : `The log does not settle the cause. The likeliest so far ${told}`;
}

function readText(recordings: number, trials: number): string {
  if (recordings === 0) return "None of it could be read.";
  return trials === 0
    ? `${count(recordings, "recording")} could be read, but no trial was found in ${recordings === 1 ? "it" : "them"}.`
    : `${count(recordings, "recording")} with ${count(trials, "trial")} could be read.`;
}

/** Whoever gets the letter has no command line: options in brackets go. */
const withoutOptions = (text: string): string => text.replace(/ ?\([^()]*--[a-z][^()]*\)/g, "");

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
