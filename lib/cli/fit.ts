import type { Analysis, FittedStep } from "../analysis/index.js";
import { equalFindings, findingText } from "../recording/findingText.js";
import { type AlikeSteps, alikeSteps } from "../report/alikeSteps.js";
import { openUnitsText, restsOnText, usedBy } from "../report/restsOn.js";
import { commandText, modelText, stepLines } from "../report/stepRows.js";
import { asTold, type Estimate } from "../units/estimate.js";
import { intervalText, quantityText, secondsText } from "../units/forPeople.js";
import { jsonText, visible } from "../units/text.js";
import { commandLine } from "./commandLine.js";
import { type Command, exitStatus, type Io, UsageError } from "./io.js";
import { progressOf, startProgress } from "./progress.js";
import { readingHelp, readingOptions, readOptionsOf } from "./readingOptions.js";
import { statusOf } from "./status.js";
import { version } from "./version.js";

const help = `shaftwise fit <file or folder>... [options]

Fits recordings of motor trials: the response of the speed to each step of the command,
and the constants of the motor (kv, torque constant, resistance, friction, inertia and
their ratios), each with its 95 % interval, its convention and the way it was had.

  --routes             every way each constant was had, not only the best
  --json               print one JSON document; its JSON Schema ships with the
                       package: shaftwise/schema/fit.schema.json
${readingHelp}
  --help               this text

Examples
  shaftwise fit bench/monday/run1.csv
  shaftwise fit run1.csv --map current=Iq_act --unit Iq_act=mA
  shaftwise fit bench/monday --json > fit.json

Exit status: 0 all was read, whatever could be fitted; 2 wrong usage;
3 some input could not be read, or what was read contradicts itself; the rest
was fitted.
`;

/** `shaftwise fit`: step responses and constants of recordings. */
export const run: Command = async (args, io) => {
  const { values, paths } = commandLine("fit", args, {
    json: { type: "boolean" },
    routes: { type: "boolean" },
    ...readingOptions,
    help: { type: "boolean", short: "h" },
  });
  if (values.help) {
    io.out(help);
    return exitStatus.done;
  }
  if (paths.length === 0) throw new UsageError("fit needs at least one file or folder");
  const progress = startProgress(io);
  const { analyseFiles } = await import("../analysis/analyseFiles.js");
  const analysis = await analyseFiles(paths, {
    reading: readOptionsOf(values),
    parts: { verdicts: "weighed", constants: true, steps: true },
    version: version(),
    ...progressOf(progress, "fitting files"),
  });
  progress.stop();
  if (values.json) io.out(`${jsonText(documentOf(analysis))}\n`);
  else await print(analysis, values.routes === true, io);
  return statusOf(analysis);
};

/** The document that `--json` prints: everything but the sample-by-sample residuals. */
function documentOf({ recordings, problems }: Analysis): object {
  return {
    version: version(),
    recordings: recordings.map(({ verdicts, assumptions, steps, constants }) => ({
      path: verdicts.path,
      ordering: verdicts.ordering,
      ...(verdicts.motor === undefined ? {} : { motor: verdicts.motor }),
      ...(verdicts.attention ? { attention: verdicts.attention } : {}),
      findings: verdicts.findings,
      assumptions,
      steps,
      constants,
    })),
    problems,
  };
}

async function print({ recordings, problems }: Analysis, routes: boolean, io: Io): Promise<void> {
  const { attentionLines, pageWidth, paint, paragraph, table } = await import("./layout.js");
  const { constantNames, wordsFor } = await import("../identify/constants.js");
  const width = pageWidth(io);
  for (const { verdicts, assumptions, steps = [], constants } of recordings) {
    if (constants === undefined) continue;
    const blocks = [
      [
        paint(io, "strong", paragraph(visible(verdicts.path), width)),
        ...attentionLines(verdicts.attention, width),
      ].join("\n"),
    ];
    const groups = steps.length > mostSteps ? alikeSteps(steps) : [];
    if (groups.length > 0 && 2 * groups.length <= steps.length)
      blocks.push(repeatedSteps(groups, width, table, paragraph));
    else if (steps.length > 0) {
      const rows = [["Step responses", "value", "95 % interval"]];
      for (const step of steps.slice(0, mostSteps)) {
        rows.push([`${secondsText(step.time, 3)} s, command ${commandText(step)}: ${modelText(step)}`]);
        for (const [name, estimate] of stepLines(step))
          rows.push([`  ${name}`, withUnit(estimate, name), interval(estimate)]);
      }
      if (steps.length > mostSteps) rows.push([`and ${steps.length - mostSteps} more: --json has them all`]);
      blocks.push(table(rows, width));
    }
    const all = [...constants.routes, ...(constants.unscaled ?? [])];
    const shown = routes ? all : all.filter((r, k) => all.findIndex((o) => o.quantity === r.quantity) === k);
    if (shown.length > 0) {
      const rows = [["Constants", "value", "95 % interval", "from"]];
      const sources: string[] = [];
      for (const group of ["electrical", "mechanical", "ratios"] as const)
        for (const { quantity, estimate } of shown)
          if (constantNames[quantity].group === group) {
            const words =
              estimate.convention === undefined
                ? estimate.method
                : `${estimate.method}; ${estimate.convention}`;
            if (!sources.includes(words)) sources.push(words);
            const told = asTold(estimate);
            const from = String(1 + sources.indexOf(words));
            rows.push([wordsFor(quantity, told), withUnit(told), interval(told), from]);
            if (told !== estimate)
              rows.push(["  with the units assumed", withUnit(estimate), interval(estimate), ""]);
          }
      const from = sources.map((words, k) =>
        paragraph(visible(words, 400), width, `${String(k + 1).padStart(2)}  `),
      );
      blocks.push(table(rows, width), from.join("\n"));
    }
    const used = usedBy([...steps, ...shown.map(({ estimate }) => estimate)], assumptions);
    const resting = restsOnText(used);
    if (resting !== undefined)
      blocks.push(paragraph(`${resting}. ${openUnitsText(used)}`, width, "rests on: "));
    const remarks = [
      ...constants.harmonics.map((h) =>
        paragraph(
          `${h.kind}, ${h.order} periods a turn: ${withUnit(h.amplitude)} (${interval(h.amplitude)}).`,
          width,
        ),
      ),
      ...equalFindings(constants.findings).map(([f]) => paragraph(findingText(f), width, `${f.severity}: `)),
    ];
    if (remarks.length > 0) blocks.push(remarks.join("\n"));
    if (constants.missing.length > 0) {
      const byNeed = new Map<string, string[]>();
      for (const { quantity, needs } of constants.missing)
        byNeed.set(needs, [...(byNeed.get(needs) ?? []), constantNames[quantity].words]);
      const needed = [...byNeed].map(([needs, names]) =>
        paragraph(`${names.join(", ")}: needs ${needs}.`, width, "- "),
      );
      blocks.push(["Not identifiable from this recording", ...needed].join("\n"));
    }
    io.out(`${blocks.join("\n\n")}\n\n`);
  }
  for (const problem of problems)
    io.err(
      `${paragraph(`${problem.file === undefined ? "" : `${visible(problem.file)}: `}${visible(findingText(problem), 800)}`, width)}\n`,
    );
}

/** Most steps of a recording that are printed each by itself. */
const mostSteps = 12;

/** Many steps that repeat a few: those of one command that answered alike together, and which of them stand apart. */
function repeatedSteps(
  groups: readonly AlikeSteps[],
  width: number,
  table: typeof import("./layout.js").table,
  paragraph: typeof import("./layout.js").paragraph,
): string {
  const at = (step: FittedStep): string => `${secondsText(step.time, 3)} s`;
  const rows = [["Step responses", "median", "least to largest"]];
  for (const { command, model, steps: own, lines } of groups.slice(0, mostSteps)) {
    const alone = own.length === 1;
    const when = alone
      ? `${at(own[0])}, command ${command} (95 % intervals)`
      : `command ${command}, ${own.length} steps, ${at(own[0])} to ${at(own[own.length - 1])}`;
    rows.push([`${when}: ${model}`]);
    if (alone)
      for (const [name, estimate] of stepLines(own[0]))
        rows.push([`  ${name}`, withUnit(estimate, name), interval(estimate)]);
    else
      for (const { name, usual, apart } of lines)
        rows.push([`  ${name}`, withUnit(usual, name), apart ? interval(apart) : "alike"]);
  }
  const rest = groups.length - mostSteps;
  if (rest > 0) rows.push([`and ${rest} more kinds of steps: --json has them all`]);
  const apart = groups.flatMap(({ command, odd }) =>
    odd.map(({ step, names }) =>
      paragraph(`${at(step)}, command ${command}: ${names.join(", ")}.`, width, "stands apart: "),
    ),
  );
  const note = paragraph(
    "Alike: no further apart than the 95 % interval of one step is wide. Each step is in --json.",
    width,
  );
  return [table(rows, width), "", ...apart.slice(0, mostSteps), note].join("\n");
}

/** The value, to as many digits as its interval bears. */
function withUnit(e: Estimate, of = ""): string {
  return e.limit === "upper"
    ? `below ${quantityText(e.high, e.unit)}`
    : quantityText(e.value, e.unit, digitsOf(e), of);
}

function digitsOf({ value, low, high }: Estimate): number {
  const width = Math.abs(high - low);
  if (!(width > 0) || value === 0 || !Number.isFinite(width)) return 4;
  return Math.min(6, Math.max(3, 2 + Math.ceil(Math.log10(Math.abs(value) / width))));
}

const interval = (e: Estimate): string => intervalText(e.limit === "upper" ? { ...e, value: e.high } : e);
