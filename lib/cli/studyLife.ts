import { parseArgs } from "node:util";
import type { LifeOptions } from "../study/life/lifeSummary.js";
import { jsonText, visible } from "../units/text.js";
import { exitStatus, type Io, UsageError } from "./io.js";
import { pageWidth, paint, paragraph } from "./layout.js";
import { lifeLines } from "./studyLifeText.js";

/** Options that say how lives are looked at, of `study life` and `study show`. */
export const lifeFlags = {
  at: { type: "string" },
  confidence: { type: "string" },
  failed: { type: "string", multiple: true },
  shape: { type: "string" },
} as const;

/** Their names. */
export const lifeOptionNames = Object.keys(lifeFlags) as readonly (keyof typeof lifeFlags)[];

/** Refuses an option for lives where no lives are given, so that none is passed over. */
export function needLives(values: Readonly<Partial<Record<keyof typeof lifeFlags | "life", unknown>>>): void {
  const given = lifeOptionNames.find((name) => values[name] !== undefined);
  if (given !== undefined && values.life === undefined)
    throw new UsageError(`--${given} says how lives are looked at: it needs --life <csv>`);
}

/** Their values as `lifeSummary` takes them. */
export function lifeOptionsOf(values: {
  readonly at?: string;
  readonly confidence?: string;
  readonly failed?: readonly string[];
  readonly shape?: string;
}): LifeOptions & { readonly shares: readonly number[] } {
  const shares = (values.failed ?? ["10", "50"])
    .flatMap((text) => text.split(","))
    .map((text) => percentOf(text, "failed"));
  return {
    shares,
    ...(values.at === undefined ? {} : { referenceTemperature: celsiusOf(values.at) }),
    ...(values.confidence === undefined ? {} : { level: confidenceOf(values.confidence) }),
    ...(values.shape === undefined ? {} : { knownShape: positive(values.shape, "shape") }),
  };
}

/** A temperature: a number with C, K or F. */
function celsiusOf(text: string): number {
  const found = /^\s*([-+]?[\d.]+)\s*(°?\s*C|Cel|K|°?\s*F)\s*$/i.exec(text);
  const value = Number(found?.[1] ?? Number.NaN);
  if (found === null || !Number.isFinite(value))
    throw new UsageError(
      `--at is a temperature with its unit, such as 40C, 313K or 104F; found "${visible(text)}"`,
    );
  const unit = found[2].toUpperCase();
  const celsius = unit === "K" ? value - 273.15 : unit.endsWith("F") ? ((value - 32) * 5) / 9 : value;
  if (celsius <= -273.15) throw new UsageError(`--at ${visible(text)} lies below absolute zero`);
  return celsius;
}

/** A share given in percent. */
function percentOf(text: string, name: string): number {
  const value = Number(text.trim().replace(/\s*%$/, ""));
  if (!(value > 0 && value < 100))
    throw new UsageError(`--${name} is in percent, above 0 and below 100; found "${visible(text)}"`);
  return value / 100;
}

function positive(text: string, name: string): number {
  const value = Number(text);
  if (!(value > 0 && Number.isFinite(value)))
    throw new UsageError(`--${name} must be a number above 0, found "${visible(text)}"`);
  return value;
}

function parsed<T>(parse: () => T): T {
  try {
    return parse();
  } catch (error) {
    throw new UsageError((error as Error).message.replace(/\s*To specify.*$/s, "").replace(/\s+/g, " "));
  }
}

/** A number below zero is the value of the option before it, as in `--at -10C`. */
export function withNegatives(args: readonly string[]): string[] {
  return args.reduce<string[]>((list, arg) => {
    const before = list[list.length - 1] ?? "";
    if (/^-[\d.]/.test(arg) && /^--[a-z]+$/.test(before)) list[list.length - 1] = `${before}=${arg}`;
    else list.push(arg);
    return list;
  }, []);
}

/** A confidence in percent: one below a half says nothing, and a fraction is meant by it. */
function confidenceOf(text: string): number {
  const level = percentOf(text, "confidence");
  if (level < 0.5) throw new UsageError(`--confidence is in percent, 50 or more; found "${visible(text)}"`);
  return level;
}

/** `shaftwise study life`: a life table by itself, without a results folder. */
export async function lifeCommand(args: readonly string[], io: Io): Promise<number> {
  const { values, positionals } = parsed(() =>
    parseArgs({
      args: withNegatives(args),
      options: { ...lifeFlags, json: { type: "boolean" } },
      allowPositionals: true,
    }),
  );
  if (positionals.length !== 1) throw new UsageError("study life needs one life table (CSV)");
  const options = lifeOptionsOf(values);
  const { readLifeTable } = await import("../study/life/readLifeTable.js");
  const { lifeSummary } = await import("../study/life/lifeSummary.js");
  try {
    const { lives, unit } = await readLifeTable(positionals[0]);
    const summary = lifeSummary(lives, { unit, ...options });
    if (values.json === true) io.out(`${jsonText(summary)}\n`);
    else {
      const width = pageWidth(io);
      const lines = lifeLines(summary, options.shares).map((line) => paragraph(line, width, "  "));
      io.out(
        `${paint(io, "strong", "Life")}\n${lines.join("\n")}\n\nAdvice from a table, never a clearance to run a machine.\n`,
      );
    }
    return exitStatus.done;
  } catch (error) {
    if (error instanceof UsageError || !(error instanceof Error)) throw error;
    io.err(`shaftwise: ${visible(error.message, 400)}\n`);
    return exitStatus.failed;
  }
}

/** `shaftwise study plan`: how many units a test needs, and for how long. */
export async function planCommand(args: readonly string[], io: Io): Promise<number> {
  const text = { type: "string" } as const;
  const { values, positionals } = parsed(() =>
    parseArgs({
      args: withNegatives(args),
      options: {
        reliability: text,
        confidence: text,
        mission: text,
        shape: text,
        allowed: text,
        units: text,
        precision: text,
        failed: text,
        watched: text,
        energy: text,
        use: text,
        test: text,
        json: { type: "boolean" },
      },
      allowPositionals: true,
    }),
  );
  if (positionals.length > 0) throw new UsageError("study plan takes options only");
  const { planTest } = await import("../study/life/testPlan.js");
  const number = (name: "mission" | "shape" | "units" | "precision" | "energy") =>
    values[name] === undefined ? undefined : positive(values[name] as string, name);
  const share = (name: "reliability" | "failed" | "watched") =>
    values[name] === undefined ? undefined : percentOf(values[name] as string, name);
  const allowed = values.allowed === undefined ? undefined : Number(values.allowed);
  if (allowed !== undefined && !(Number.isInteger(allowed) && allowed >= 0))
    throw new UsageError(`--allowed is a whole number of failures, found "${visible(values.allowed ?? "")}"`);
  if (values.reliability === undefined && values.precision === undefined && values.energy === undefined)
    throw new UsageError(
      "study plan needs --reliability (a demonstration), --precision (an estimate) or --energy with --use and --test (how much faster an accelerated test runs)",
    );
  if (
    (values.energy === undefined) !== (values.use === undefined) ||
    (values.use === undefined) !== (values.test === undefined)
  )
    throw new UsageError("an accelerated test needs --energy, --use and --test together");
  const units = number("units");
  if (units !== undefined && !Number.isInteger(units))
    throw new UsageError(`--units is a whole number of units, found "${visible(values.units ?? "")}"`);
  if (units !== undefined && values.reliability === undefined)
    throw new UsageError("--units needs --reliability: what the units there are shall demonstrate");
  const precision = number("precision");
  if (precision !== undefined && precision <= 1)
    throw new UsageError(
      `--precision is a factor above 1, such as 1.5; found "${visible(values.precision ?? "")}"`,
    );
  const reliability = share("reliability");
  // A fraction is meant by what is below one per cent.
  if (reliability !== undefined && reliability < 0.01)
    throw new UsageError(
      `--reliability is in percent: for ${visible(values.reliability ?? "")} of all units write ${Number((1e4 * reliability).toPrecision(6))}`,
    );
  const plan = planTest({
    reliability,
    confidence: values.confidence === undefined ? undefined : confidenceOf(values.confidence),
    mission: number("mission"),
    shape: number("shape"),
    allowed,
    units,
    precision,
    failed: share("failed"),
    watched: share("watched"),
    energy: number("energy"),
    use: values.use === undefined ? undefined : celsiusOf(values.use),
    test: values.test === undefined ? undefined : celsiusOf(values.test),
  });
  if (values.json === true) io.out(`${jsonText(plan)}\n`);
  else io.out(`${plan.lines.map((line) => paragraph(line, pageWidth(io))).join("\n")}\n`);
  return exitStatus.done;
}
