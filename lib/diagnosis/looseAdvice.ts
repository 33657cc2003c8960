import { dangerSentence, doNotClose } from "./danger.js";
import { kindUnknown } from "./driveKind.js";
import { type JudgedRecording, leading } from "./judged.js";
import { percent } from "./observe.js";
import { stays } from "./orderReason.js";
import { capital, remediesOf, remedySentence, shortText } from "./remedies.js";
import { causeByCode, signTurned } from "./tables/causes.js";
import { thresholds } from "./tables/thresholds.js";

/** Advice for recordings without a stated order: what can hurt someone, and the rest; equal lines of several files
 * once. */
export function looseAdvice(
  all: readonly JudgedRecording[],
  several: boolean,
): { dangerous: string[]; others: string[] } {
  const dangerous = all.filter(isDangerous);
  const others = all.filter((one) => !dangerous.includes(one) && tells(one));
  return {
    dangerous: grouped(dangerous, several, dangerAdvice),
    others: grouped(others, several, (one) => [causeAdvice(one)]),
  };
}

const isDangerous = ({ trials }: JudgedRecording): boolean =>
  trials.some(({ observation: o }) => o.verdict === "runaway" || o.verdict === "reversed");

const tells = ({ trials }: JudgedRecording): boolean =>
  trials.some(
    ({ likelihood, hand, observation }) =>
      hand?.mismatch !== undefined ||
      hand?.frozen === true ||
      hand?.verdict === "blocked" ||
      (!hand && likelihood && observation.holds.some((h) => h.sense !== 0)),
  );

/** Equal lines of several files are said once, with the files they are for. */
function grouped(
  list: readonly JudgedRecording[],
  several: boolean,
  linesOf: (one: JudgedRecording) => readonly string[],
): string[] {
  const files = new Map<string, string[]>();
  for (const one of list)
    for (const line of linesOf(one)) {
      const name = fileName(one.recording.path);
      const known = files.get(line);
      if (!known) files.set(line, [name]);
      else if (!known.includes(name)) known.push(name);
    }
  return [...files].map(([line, names]) => {
    if (!several) return line;
    return `${names.length > 3 ? `in ${names.length} files, ${names[0]} among them` : names.join(", ")}: ${line}`;
  });
}

function dangerAdvice(one: JudgedRecording): string[] {
  const trials = one.trials.map(({ observation }) => observation);
  const mirrored = trials.every((o) => o.verdict !== "reversed" || o.behaviour === "mirrored");
  const runs = trials.some((o) => o.verdict === "runaway");
  const what = dangerSentence(trials.map((o) => ({ verdict: o.verdict, kind: o.trial.kind }))) ?? "";
  if (mirrored && !runs)
    return [
      `${what} The speed loop itself holds: set the sign of the logged position and speed right before a position loop is closed on them.`,
    ];
  const causes = !tells(one)
    ? ""
    : ` ${kindUnknown(one.fieldOriented, one.driveSigns) ? signAdvice : causeAdvice(one)}`;
  return [`${what} ${doNotClose}${causes}`];
}

/** What is said of a wrong sense where the kind of motor and drive is not known. */
const signAdvice = `${capital(signTurned.text)}. ${capital(signTurned.remedy)}; what kind of motor and drive it is, is not in the log.`;

/** What is likely wrong and what to do: causes that share a remedy are added up and the remedy is said. */
function causeAdvice(judged: JudgedRecording): string {
  const remedies = remediesOf(judged.posterior);
  const [first] = remedies;
  if (!first) return "No cause could be weighed.";
  if (first.remedy === "keep" && first.probability > thresholds.named.value && !isDangerous(judged))
    return soundAdvice(judged);
  const [cause, probability] = leading(judged.posterior);
  if (first.probability > thresholds.named.value && first.remedy !== "keep") {
    const alone = probability > thresholds.settledCause.value * first.probability;
    return alone
      ? `Likely (${percent(probability)}): ${causeByCode.get(cause)?.text}. Least rework: ${first.text}.`
      : remedySentence(first);
  }
  const list = [...judged.posterior]
    .filter(([code, p]) => p > thresholds.listed.value && !(isDangerous(judged) && code === "nothing-wrong"))
    .sort((a, b) => b[1] - a[1])
    .slice(0, 4);
  return `The log leaves open: ${list.map(([code, p]) => `${shortText(code, stays(judged))} (${percent(p)})`).join(", ")}.`;
}

function soundAdvice({ trials, fieldOriented }: JudgedRecording): string {
  if (trials.every(({ observation: o }) => o.verdict === "undetermined"))
    return "No fault shows, and nothing shows that all is well: no trial could be judged.";
  const tracked = trials.some(
    ({ observation: o }) =>
      (o.trial.kind === "speed" || o.trial.kind === "position") && o.verdict === "tracking",
  );
  const torque = trials.some(({ observation: o }) => o.trial.kind === "torque");
  const both = trials.some(({ observation: o }) => o.bothSenses);
  const next =
    tracked || !torque || fieldOriented < 0.5
      ? ""
      : both
        ? " Close the speed loop at low speed and low current first."
        : " Repeat the torque trial from standstill in both senses before a speed loop is closed.";
  return `${capital("no sign of a fault")}.${next}`;
}

function fileName(path: string): string {
  return path.split(/[/\\]/).pop() ?? path;
}
