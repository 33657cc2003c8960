import type { DriveFacts, EncoderFacts, MachineFacts } from "../../motor/facts.js";
import { range } from "../../numeric/series/range.js";
import { unwrap } from "../../numeric/series/unwrap.js";
import { conversion } from "../../units/convert.js";
import { unitText } from "../../units/forPeople.js";
import { visible } from "../../units/text.js";
import { unitTable } from "../../units/unitTable.js";
import type { SourceTable } from "../formats/sourceTable.js";
import { resolutionOf } from "../resolutionOf.js";
import { type Channel, type ChannelRole, type Finding, type FindingAnswer, siUnits } from "../types.js";
import { answerText, quoted, unitAnswer } from "./answers.js";
import type { Choice } from "./chooseChannels.js";
import { converterMiddle } from "./converterMiddle.js";
import { metres, metresASecond } from "./lengths.js";
import { isAccelerationRole, roleFacts } from "./roles.js";
import { crossedInMotion, wrapOf } from "./wrapOf.js";

/** Facts that a unit may need: what a count or a percent stands for. */
export interface StatedUnits {
  readonly machine: MachineFacts;
  readonly drive: DriveFacts;
  readonly encoder: EncoderFacts;
}

/** `value * factor + offset`. */
interface Line {
  readonly factor: number;
  readonly offset: number;
  /** Size of one step in SI, where the unit tells it. */
  readonly resolution?: number;
}

/** A column that cannot be converted: the finding that asks for what is missing, the reason in few words, and the
 * option that would answer it. */
export interface Missing {
  readonly finding: Finding;
  readonly reason: string;
  /** How the answer is given: by an option for all counts of an encoder, or by the unit of this column; the figure is
   * an example. */
  readonly answer?: FindingAnswer;
  /** What one turn of the shaft by hand would say of the encoder. */
  readonly oneTurn?: OneTurn;
}

/** How far a position in counts moves, and the lines of an encoder of which that is one turn. */
export interface OneTurn {
  readonly counts: number;
  readonly lines: number;
}

/** Everything that says how a column is to be converted. */
export interface ColumnToConvert {
  readonly raw: Float64Array;
  /** The array is nobody else's and may be changed. */
  readonly mine: boolean;
  readonly choice: Choice;
  readonly table: SourceTable;
  readonly stated: StatedUnits;
}

/** A channel in SI, or what is missing for it (its finding is among the findings then). */
export async function channelInSi(given: ColumnToConvert, findings: Finding[]): Promise<Channel | Missing> {
  const { raw, choice, table } = given;
  const role = choice.role as ChannelRole;
  const column = table.columns[choice.index];
  const unit = choice.unit ?? siUnits[role];
  const line = await lineOf(given, role, unit);
  if ("finding" in line) {
    findings.push(line.finding);
    // By itself: what is missing is the same in many files, how far each of them moves is not.
    if (line.oneTurn !== undefined) findings.push(oneTurnOf(given, line.oneTurn));
    return line;
  }
  const recognisedBy =
    choice.unitStated || role === "index" ? choice.recognisedBy : `${choice.recognisedBy}, unit assumed`;
  if (!choice.unitStated && role !== "index") findings.push(assumed(given, role, unit));
  const { quantity } = roleFacts[role];
  if (ofField(given) && given.stated.machine.polePairs === undefined) findings.push(fieldSpeed(given));
  if (
    rms.test(choice.spelling ?? "") &&
    (quantity === "current" || quantity === "voltage") &&
    role !== "currentBus"
  )
    findings.push(effective(given, unit));
  const angular = quantity === "position" || quantity === "sweepAngle" || quantity === "electricalAngle";
  const unwrapped = angular ? unwrapAngle(given, unit, line.factor, findings) : undefined;
  const values = unwrapped?.values ?? raw;
  const data = scaled(values, line.factor, line.offset, given.mine || values !== raw);
  let { resolution } = line;
  if (resolution === undefined && quantity === "position") {
    const step = resolutionOf(data);
    if (step > 0) resolution = step;
  }
  return {
    role,
    name: column.name,
    sourceUnit: choice.scale === undefined ? unit : (choice.spelling ?? unit),
    ...(line.factor === 1 ? {} : { perUnit: line.factor }),
    recognisedBy,
    data,
    resolution,
    wrap: unwrapped?.wrap,
  };
}

/** `value * factor + offset`, in place when the array is nobody else's. */
export function scaled(values: Float64Array, factor: number, offset: number, mine: boolean): Float64Array {
  if (factor === 1 && offset === 0) return values;
  const out = mine ? values : new Float64Array(values.length);
  for (let i = 0; i < values.length; i += 1) out[i] = values[i] * factor + offset;
  return out;
}

/** Turns of the field, `ERPM`: the shaft turns once for so many of them as there are pole pairs. */
const electrical = /(^|[^a-z])e-?rpm([^a-z]|$)/i;

function ofField({ choice, table }: ColumnToConvert): boolean {
  const { name, unit } = table.columns[choice.index];
  const own = choice.role === "speed" || choice.role === "speedCommand";
  return own && electrical.test(`${name} ${unit ?? ""}`) && !choice.recognisedBy.includes("--unit");
}

function fieldSpeed({ choice, table }: ColumnToConvert): Finding {
  return {
    severity: "warning",
    code: "electrical-speed",
    message: `"${nameOf(table, choice.index)}" counts turns of the field, and the pole pairs are not stated`,
    meaning: `the shaft is slower by their number; state them: ${answerText(polePairsAnswer)}`,
    file: table.path,
    column: table.columns[choice.index].name,
    answers: [polePairsAnswer],
  };
}

/** A unit that says the effective value: of a sine it is the amplitude over the root of two. */
const rms = /rms|eff|valeur efficace/i;

function effective({ choice, table }: ColumnToConvert, unit: string): Finding {
  const name = nameOf(table, choice.index);
  return {
    severity: "note",
    code: "effective-value",
    message: `the column "${name}" is logged as an effective (rms) value and is taken as it stands`,
    meaning: `constants per ampere are then per effective ampere; to have amplitudes, as the dq quantities of most drives are, say --unit "${name}=1.41421 ${unit}"`,
    column: name,
    file: table.path,
  };
}

function assumed({ choice, table }: ColumnToConvert, role: ChannelRole, unit: string): Finding {
  const name = nameOf(table, choice.index);
  const sure = Math.round(100 * Math.min(0.99, choice.unitProbability));
  return {
    severity: choice.unitProbability >= 0.9 || isAccelerationRole(role) ? "note" : "warning",
    code: "unit-assumed",
    message: `the column "${name}" (${role}) says no unit; ${unit === "1" ? "a plain number" : unitText(unit)} ${/\{count\}|^\{rev\}$/.test(unit) ? "were" : "was"} assumed (${sure} %)`,
    value: choice.unitProbability,
    unit: "1",
    meaning: `if it is another, say so: --unit ${quoted(table, choice.index)}=<unit>`,
    file: table.path,
    column: table.columns[choice.index].name,
  };
}

function nameOf(table: SourceTable, index: number): string {
  const { name } = table.columns[index];
  return table.nameless || name.trim() === "" ? `#${index + 1}` : visible(name, 60);
}

async function lineOf(given: ColumnToConvert, role: ChannelRole, unit: string): Promise<Line | Missing> {
  const { choice, stated } = given;
  const { quantity } = roleFacts[role];
  if (role === "index") return { factor: 1, offset: 0 };
  const own = choice.scale;
  const scale = (line: Line): Line =>
    own === undefined
      ? line
      : {
          ...line,
          factor: own.factor * line.factor,
          offset: line.offset - own.zero * own.factor * line.factor,
        };
  if (unit === "{count}" || /^\{count\}\/(s|min)$/.test(unit)) return countLine(given, role, unit);
  if (quantity === "speed" && (unit === "Hz" || unit === "kHz")) {
    // Turns per second of the shaft; an electrical frequency shows in the cross-check against position.
    return scale({ factor: 2 * Math.PI * (unit === "kHz" ? 1000 : 1), offset: 0 });
  }
  // Exactly, as they are defined.
  if (unit === "Cel") return scale({ factor: 1, offset: 273.15 });
  if (unit === "[degF]") return scale({ factor: 1 / 1.8, offset: 273.15 - 32 / 1.8 });
  const fraction = unit === "1" && quantity === "torque";
  const ratio = unit === "%" ? 0.01 : unit === "[ppth]" ? 0.001 : fraction ? 1 : undefined;
  if (quantity === "acceleration" && !(unit in unitTable)) return ofNoShaft(given, unit);
  if (ratio !== undefined && quantity === "duty") return { factor: ratio, offset: 0 };
  if (ratio !== undefined) {
    const rated =
      quantity === "current"
        ? stated.machine.ratedCurrent
        : quantity === "torque"
          ? stated.machine.ratedTorque
          : quantity === "speed"
            ? stated.machine.ratedSpeed
            : undefined;
    return rated === undefined ? missingRating(given, role, ratio) : { factor: ratio * rated, offset: 0 };
  }
  // Servo pulses: 1000 us is off, 2000 us full.
  if (quantity === "duty" && unit === "us") return { factor: 1e-3, offset: -1 };
  const line = await conversion(unit, siUnits[role]);
  const pairs = ofField(given) ? (stated.machine.polePairs ?? 1) : 1;
  if (line !== undefined) return scale({ ...line, factor: line.factor / pairs });
  const along =
    quantity === "position" ? metres.get(unit) : quantity === "speed" ? metresASecond.get(unit) : undefined;
  if (along !== undefined) return alongALine(given, role, along);
  const column = given.table.columns[choice.index];
  return {
    reason: `unit ${visible(choice.spelling ?? unit, 30)} does not fit`,
    finding: {
      severity: "warning",
      code: "unit",
      message: `"${visible(choice.spelling ?? unit, 30)}" of "${nameOf(given.table, choice.index)}" is no unit of ${role} that could be converted to ${unitText(siUnits[role])}`,
      meaning: `the column is left out; give its unit with --unit ${quoted(given.table, choice.index)}=<unit>`,
      file: given.table.path,
      column: column.name,
    },
  };
}

/** A way of one turn that an example is given for, in metres. */
const exampleOfTurn = 0.005;

/** A motion along a line: what one turn of the shaft moves is a fact of the machine, which only a person can state. */
function alongALine({ choice, table }: ColumnToConvert, role: ChannelRole, inMetres: number): Missing {
  const rate = roleFacts[role].quantity === "speed";
  const turns = inMetres / exampleOfTurn;
  const written = Number((rate ? 60 * turns : 360 * turns).toPrecision(6));
  const unit = visible(choice.spelling ?? choice.unit ?? "", 30);
  return {
    reason: `${unit} along a line`,
    finding: {
      severity: "warning",
      code: "unit",
      message: `"${nameOf(table, choice.index)}" (${role}) is in ${unit} along a line, and how far one turn of the shaft moves it is not stated: its sign and its shape are used, and no figures are given`,
      meaning: `with 5 mm for each turn, for example, say --unit ${quoted(table, choice.index)}="${written} ${rate ? "rev/min" : "deg"}"`,
      file: table.path,
      column: table.columns[choice.index].name,
    },
  };
}

/** An acceleration that is not that of the shaft, or in counts: nothing rests on it, and it is kept as it was
 * logged. */
function ofNoShaft({ choice, table }: ColumnToConvert, unit: string): Missing {
  const written = visible(choice.spelling ?? unitText(unit), 30);
  return {
    reason: `${written} is no unit of a shaft's acceleration`,
    finding: {
      severity: "note",
      code: "unit",
      message: `the acceleration "${nameOf(table, choice.index)}" is in ${written}, which is no unit of a shaft's acceleration`,
      meaning: "nothing is estimated from an acceleration; it is kept as it was logged",
      file: table.path,
      column: table.columns[choice.index].name,
    },
  };
}

/** Example units that an answer may be written in. */
const examples: Readonly<Record<string, string>> = {
  current: "A",
  torque: "N.m",
  speed: "rpm",
  voltage: "V",
};

function missingRating({ choice, table }: ColumnToConvert, role: ChannelRole, ratio: number): Missing {
  const [one, many] =
    ratio === 1
      ? ["1", "parts"]
      : ratio === 0.01
        ? ["one percent", "percent"]
        : ["one thousandth", "thousandths"];
  const column = table.columns[choice.index];
  const example = examples[roleFacts[role].quantity] ?? siUnits[role];
  const answer = unitAnswer(table, choice.index, `${ratio === 1 ? 5 : 0.05} ${example}`, true);
  return {
    reason: `${many} of a rated value that is not stated`,
    answer,
    finding: {
      severity: "warning",
      code: "rating-missing",
      message: `the ${role} "${nameOf(table, choice.index)}" ${choice.unitStated ? "is" : "says no unit and is likeliest"} in ${many} of a rated value that is not stated`,
      meaning: `the column is left out until then; say what ${one} is: ${answerText(answer)}`,
      answers: [answer],
      file: table.path,
      column: column.name,
    },
  };
}

/** The option that says what counts of an encoder are. */
export const linesAnswer: FindingAnswer = { option: "lines", value: "1024", example: true };
const polePairsAnswer: FindingAnswer = { option: "pole-pairs", value: "4", example: true };

const dutyScales = [
  1, 100, 127, 255, 400, 500, 511, 1000, 1023, 2000, 2047, 4095, 8191, 10_000, 16_383, 32_767, 65_535,
];

function countLine(given: ColumnToConvert, role: ChannelRole, unit: string): Line | Missing {
  const { choice, stated, table, raw } = given;
  const column = table.columns[choice.index];
  const { quantity } = roleFacts[role];
  const { lines } = stated.encoder;
  const name = nameOf(table, choice.index);
  if (quantity === "duty") {
    let largest = 0;
    for (const v of raw) if (Math.abs(v) > largest) largest = Math.abs(v);
    return { factor: 1 / (dutyScales.find((s) => s >= largest) ?? largest), offset: 0 };
  }
  if (quantity === "electricalAngle") {
    const wrap = wrapOf(
      raw,
      [8, 10, 12, 14, 16].map((b) => 2 ** b),
    );
    if (wrap !== undefined && wrap.times > 0) return { factor: (2 * Math.PI) / wrap.size, offset: 0 };
  }
  const shaft = quantity === "position" || quantity === "speed" || quantity === "sweepAngle";
  if (shaft && lines !== undefined) {
    const count = (2 * Math.PI) / (4 * lines);
    if (unit !== "{count}") return { factor: count / (unit.endsWith("min") ? 60 : 1), offset: 0 };
    return { factor: count, offset: 0, resolution: role === "position" ? count : undefined };
  }
  if (shaft && column.hall === true) {
    return {
      reason: "Hall steps without stated pole pairs",
      answer: polePairsAnswer,
      finding: {
        severity: "warning",
        code: "lines-missing",
        answers: [polePairsAnswer],
        message: `"${name}" counts steps of Hall signals, six in an electrical turn, but the pole pairs are not stated`,
        meaning:
          "state them (machine.polePairs in the descriptor, or --pole-pairs): only its sign and shape are used until then",
        file: table.path,
        column: column.name,
      },
    };
  }
  if (shaft) {
    const what = quantity === "speed" ? "speed" : "position";
    const oneTurn = what === "position" ? ifOneTurn(raw) : undefined;
    return {
      reason: "counts without stated encoder lines",
      answer: linesAnswer,
      oneTurn,
      finding: {
        severity: "warning",
        code: "lines-missing",
        answers: [linesAnswer],
        message: `the ${what} "${name}" is in ${unit === "{count}" ? "counts" : "counts per time"}, but the encoder's lines are not stated`,
        meaning: `state them (encoder.lines in the descriptor, or --lines): the ${what} is left out until then`,
        file: table.path,
        column: column.name,
      },
    };
  }
  const scale = `0.01 ${examples[quantity] ?? siUnits[role]}${middleOf(raw)}`;
  const answer = unitAnswer(table, choice.index, scale, true);
  return {
    reason: "counts of a converter whose scale is not stated",
    answer,
    finding: {
      severity: "warning",
      code: "scale-missing",
      message: `the ${role} "${name}" is in counts of a converter whose scale is not stated`,
      meaning: `the column is left out until then; say what one count is: ${answerText(answer)}`,
      answers: [answer],
      file: table.path,
      column: column.name,
    },
  };
}

/** What a count that goes from one rest to another would say of the encoder: turning the shaft once by hand is how it
 * is checked. */
function ifOneTurn(raw: Float64Array): OneTurn | undefined {
  const span = range(raw);
  const lines = Math.round(span / 4);
  return lines >= 4 && lines <= 20_000 ? { counts: Math.round(span), lines } : undefined;
}

/** What one turn of the shaft would say, in words. */
export function ifOneTurnWords({ counts, lines }: OneTurn): string {
  return `It moves over ${counts} counts: if that was one turn of the shaft, by hand, --lines ${lines} (four counts to a line)`;
}

function oneTurnOf({ choice, table }: ColumnToConvert, turn: OneTurn): Finding {
  const { name } = table.columns[choice.index];
  return {
    severity: "note",
    code: "one-turn",
    message: `"${visible(name, 60)}" moves over ${turn.counts} counts`,
    meaning: `if that was one turn of the shaft, by hand, say --lines ${turn.lines} (four counts to a line)`,
    file: table.path,
    column: name,
  };
}

/** The middle of a converter that a column rests at, as the option takes it. */
function middleOf(raw: Float64Array): string {
  const middle = converterMiddle(raw.find((v) => v - v === 0) ?? 0);
  return middle === undefined ? "" : ` from ${middle}`;
}

function unwrapAngle(
  { raw, mine, choice, table }: ColumnToConvert,
  unit: string,
  factor: number,
  findings: Finding[],
): { readonly values: Float64Array; readonly wrap: number } | undefined {
  const turn = Math.abs((2 * Math.PI) / factor);
  const sizes =
    unit === "{count}" ? [turn, ...[8, 10, 12, 14, 16, 18, 20, 22, 24, 32].map((b) => 2 ** b)] : [turn];
  const wrap = wrapOf(raw, sizes);
  if (wrap === undefined || wrap.times === 0) return undefined;
  if (choice.role === "positionCommand" && !crossedInMotion(raw, wrap.size)) return undefined;
  const doubtful = wrap.closest > 0.9;
  const column = table.columns[choice.index];
  findings.push({
    severity: doubtful ? "warning" : "note",
    code: doubtful ? "unwrap-doubtful" : "unwrapped",
    message: `the column "${nameOf(table, choice.index)}" wraps at ${Number(wrap.size.toPrecision(8))} ${unitText(unit)} (${wrap.times === 1 ? "once" : `${wrap.times} times`}) and was unwrapped; the largest movement between two samples is ${Math.round(wrap.closest * 100)} % of half a wrap`,
    value: wrap.closest,
    unit: "1",
    meaning: doubtful
      ? "near half a wrap the direction of a movement cannot be known: sample faster or log a wider counter"
      : undefined,
    file: table.path,
    column: column.name,
  });
  return { values: unwrap(raw, wrap.size, mine), wrap: wrap.size * factor };
}
