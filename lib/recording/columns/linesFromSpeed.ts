import { range } from "../../numeric/series/range.js";
import { unwrap } from "../../numeric/series/unwrap.js";
import { conversion } from "../../units/convert.js";
import { visible } from "../../units/text.js";
import type { SourceTable } from "../formats/sourceTable.js";
import type { ColumnUnderstanding, Finding } from "../types.js";
import type { Choice } from "./chooseChannels.js";
import { linesInDoubt, usualCountAbove } from "./linesInDoubt.js";
import { type Ratio, ratioToIntegral, ratioWhereCounted } from "./motionFit.js";
import { wrapOf } from "./wrapOf.js";

/** Lines are taken when they are known this well, as a part of themselves from the low to the high end. */
const knownWell = 0.02;
/** A speed is trusted for this only where its unit is stated, or as good as certain. */
const sureUnit = 0.95;

/** Everything that says how position and speed were logged. */
export interface MotionLogged {
  readonly table: SourceTable;
  readonly choices: readonly Choice[];
  readonly at: (choice: Choice) => Float64Array;
  readonly time: Float64Array;
  /** The unit of time is stated, or as good as certain. */
  readonly timeSure: boolean;
}

/**
 * Encoder lines of a position in counts from the speed beside it, where that has a unit: the counts for one turn are
 * what makes the two agree. Undefined where they do not tell it within two percent.
 */
export async function linesFromSpeed(logged: MotionLogged, findings: Finding[]): Promise<number | undefined> {
  const { table, choices, at, time, timeSure } = logged;
  const position = choices.find(
    (c) => c.role === "position" && c.unit === "{count}" && c.scale === undefined,
  );
  const speed = choices.find((c) => c.role === "speed" && c.unit !== undefined && c.scale === undefined);
  if (position === undefined || speed === undefined || !timeSure) return undefined;
  if (!speed.unitStated && speed.unitProbability < sureUnit) return undefined;
  const line = await conversion(speed.unit as string, "rad/s");
  if (line === undefined) return undefined;
  const raw = at(position);
  const wrap = wrapOf(
    raw,
    [8, 10, 12, 14, 16, 18, 20, 24, 32].map((bits) => 2 ** bits),
  );
  const counts = wrap === undefined || wrap.times === 0 ? raw : unwrap(raw, wrap.size);
  const ratio = ratioWhereCounted(
    counts,
    at(speed).map((v) => v * line.factor),
    time,
  );
  if (ratio === undefined) return undefined;
  const turn = Math.abs(2 * Math.PI * ratio.value);
  const half = Math.PI * (ratio.high - ratio.low);
  if (turn < 8 || 2 * half > knownWell * turn) return undefined;
  const counted = roundCounts(turn, half, wrap?.size);
  findings.push({
    severity: "note",
    code: "lines-inferred",
    message: `the encoder gives ${Number(counted.toPrecision(6))} counts a turn, as position "${visible(table.columns[position.index].name, 40)}" and speed "${visible(table.columns[speed.index].name, 40)}" show together (${Number((turn - half).toPrecision(5))} to ${Number((turn + half).toPrecision(5))})`,
    value: counted / 4,
    unit: "1",
    meaning: `${Number((counted / 4).toPrecision(6))} lines are used; state them with --lines when they are known`,
    file: table.path,
    column: table.columns[position.index].name,
  });
  const turns = range(counts) / turn;
  findings.push(...doubtsOfLines(table, position.index, speed.index, { turn, half, turns }));
  return counted / 4;
}

/** A shaft that twitches does not tell its counts to the percent: a filter of the speed and its rounding weigh more. */
const fewestTurns = 5;

/** What is to be said of a count that no usual encoder has. */
function doubtsOfLines(
  table: SourceTable,
  position: number,
  speed: number,
  { turn, half, turns }: { readonly turn: number; readonly half: number; readonly turns: number },
): Finding[] {
  const name = (index: number): string => visible(table.columns[index].name, 40);
  const doubt = linesInDoubt(turn, half);
  if (doubt !== undefined)
    return [
      {
        severity: "error",
        code: "lines-doubtful",
        message: `no usual encoder has ${Number(turn.toPrecision(5))} counts a turn, and if the speed "${name(speed)}" is ${Number(doubt.factor.toPrecision(4))} times too large it has ${doubt.counts}`,
        value: doubt.factor,
        unit: "1",
        meaning: `this is the factor of ${doubt.text}; state the unit of the speed and the encoder's lines`,
        file: table.path,
        column: table.columns[speed].name,
      },
    ];
  const usual = turns < fewestTurns ? undefined : usualCountAbove(turn, half);
  if (usual === undefined) return [];
  return [
    {
      severity: "warning",
      code: "lines-unusual",
      message: `no usual encoder has ${Number(turn.toPrecision(5))} counts a turn; it is ${Number((100 * (1 - turn / usual)).toPrecision(2))} % below ${usual}`,
      value: turn / usual,
      unit: "1",
      meaning: `"${name(position)}" may lose counts, turn by a gear or a wheel, or the speed is a little too large; state the encoder's lines with --lines`,
      file: table.path,
      column: table.columns[position].name,
    },
  ];
}

/** The count that an encoder is likely to have within an interval: the size of its wrap, a power of two, a round
 * number; else the middle. */
function roundCounts(turn: number, half: number, wrap: number | undefined): number {
  const within = (n: number): boolean => Math.abs(n - turn) <= Math.max(half, 1e-3 * turn);
  if (wrap !== undefined && within(wrap)) return wrap;
  const power = 2 ** Math.round(Math.log2(turn));
  if (within(power)) return power;
  for (const step of [1000, 500, 100, 40, 20, 4]) {
    const n = Math.round(turn / step) * step;
    // One round number only: where the interval holds several, none of them is known.
    if (n > 0 && within(n) && half < step / 2) return n;
  }
  return turn;
}

/**
 * What the time from row to row must be for a position and a speed without a clock to agree: an option to answer with,
 * for a refusal; empty where they do not tell.
 */
export async function intervalFromMotion(
  columns: readonly ColumnUnderstanding[],
  values: (index: number) => Float64Array | undefined,
): Promise<string | undefined> {
  const pick = (role: string): ColumnUnderstanding | undefined =>
    columns.filter((c) => c.role === role && c.probability > 0.5 && c.unit !== undefined)[0];
  const position = pick("position");
  const speed = pick("speed");
  const [p, v] = [position && values(position.index), speed && values(speed.index)];
  if (position?.unit === undefined || speed?.unit === undefined || p === undefined || v === undefined)
    return undefined;
  const angle = await conversion(position.unit, "rad").catch(() => undefined);
  const rate = await conversion(speed.unit, "rad/s").catch(() => undefined);
  if (angle === undefined || rate === undefined) return undefined;
  const rows = Float64Array.from({ length: p.length }, (_, i) => i);
  const ratio = ratioToIntegral(
    p.map((x) => x * angle.factor),
    v.map((x) => x * rate.factor),
    rows,
  );
  return ratio === undefined || !(ratio.low > 0) ? undefined : intervalText(ratio);
}

/** A time as `--interval` takes it. */
function intervalText({ value, low, high }: Ratio): string {
  // A round time within the interval is what the logger was set to.
  const digits =
    [1, 2, 3].find((d) => Number(value.toPrecision(d)) >= low && Number(value.toPrecision(d)) <= high) ?? 3;
  const dt = Number(value.toPrecision(digits));
  return dt < 1e-3
    ? `${Number((dt * 1e6).toPrecision(digits))}us`
    : dt < 1
      ? `${Number((dt * 1e3).toPrecision(digits))}ms`
      : `${dt}`;
}
