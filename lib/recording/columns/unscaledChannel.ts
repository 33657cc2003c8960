import { median } from "../../numeric/series/median.js";
import { range } from "../../numeric/series/range.js";
import { unwrap } from "../../numeric/series/unwrap.js";
import type { SourceTable } from "../formats/sourceTable.js";
import type { Channel, ChannelRole } from "../types.js";
import type { Choice } from "./chooseChannels.js";
import { converterMiddle } from "./converterMiddle.js";
import { roleFacts } from "./roles.js";
import { crossedInMotion, wrapOf } from "./wrapOf.js";

const counters = [8, 10, 12, 14, 16, 18, 20, 22, 24, 32].map((bits) => 2 ** bits);

/**
 * A column whose quantity is known and whose scale is not: counts of an encoder without lines, percent of a rating that
 * nobody stated, millimetres of an axis. Its sign, its zero and its shape are as good as any; values are as logged, a
 * counter that wraps carried on. Counts of a converter are taken from the level that the log begins with, where that is
 * its middle, or nought; undefined where the zero may be elsewhere.
 */
export function unscaledChannel(raw: Float64Array, choice: Choice, table: SourceTable): Channel | undefined {
  const role = choice.role as ChannelRole;
  const unit = choice.unit ?? "1";
  const { quantity } = roleFacts[role];
  const shaft = quantity === "position" || quantity === "speed" || quantity === "acceleration";
  const part = unit === "%" || unit === "[ppth]" || unit === "1";
  const effort = quantity === "current" || quantity === "torque";
  const zero = effort && unit === "{count}" ? zeroOf(raw) : undefined;
  if (!shaft && !(effort && part) && zero === undefined) return undefined;
  const counted = quantity === "position" && unit === "{count}";
  const wrap = counted ? wrapOf(raw, counters) : undefined;
  const wraps =
    wrap !== undefined && wrap.times > 0 && (role === "position" || crossedInMotion(raw, wrap.size));
  const level = zero ?? 0;
  const data = wraps ? unwrap(raw, wrap.size, false) : level === 0 ? raw : raw.map((v) => v - level);
  return {
    role,
    name: table.columns[choice.index].name,
    sourceUnit: unit,
    recognisedBy: choice.recognisedBy,
    data,
  };
}

/** Rows at the beginning of a log that tell a converter's zero, as a part of all and at least, and how near to nought
 * their level is then, as a part of the range (judgement). */
const beginning = { part: 0.02, least: 3, near: 0.03 };

/** The level in counts that no current is logged as. */
function zeroOf(raw: Float64Array): number | undefined {
  const rows = raw.subarray(0, Math.max(beginning.least, Math.floor(beginning.part * raw.length)));
  const level = median(Float64Array.from(rows.filter((v) => v - v === 0)));
  if (converterMiddle(level) !== undefined) return level;
  return Math.abs(level) <= beginning.near * range(raw) ? 0 : undefined;
}
