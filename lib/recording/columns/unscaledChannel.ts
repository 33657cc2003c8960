import { unwrap } from "../../numeric/series/unwrap.js";
import type { SourceTable } from "../formats/sourceTable.js";
import type { Channel, ChannelRole } from "../types.js";
import type { Choice } from "./chooseChannels.js";
import { roleFacts } from "./roles.js";
import { crossedInMotion, wrapOf } from "./wrapOf.js";

const counters = [8, 10, 12, 14, 16, 18, 20, 22, 24, 32].map((bits) => 2 ** bits);

/**
 * A column whose quantity is known and whose scale is not: counts of an encoder without lines, percent of a rating that
 * nobody stated, millimetres of an axis. Its sign, its zero and its shape are as good as any; values are as logged, a
 * counter that wraps carried on. Undefined where even the zero may be elsewhere (counts of a converter).
 */
export function unscaledChannel(raw: Float64Array, choice: Choice, table: SourceTable): Channel | undefined {
  const role = choice.role as ChannelRole;
  const unit = choice.unit ?? "1";
  const { quantity } = roleFacts[role];
  const shaft = quantity === "position" || quantity === "speed" || quantity === "acceleration";
  const part = unit === "%" || unit === "[ppth]" || unit === "1";
  const effort = quantity === "current" || quantity === "torque";
  if (!shaft && !(effort && part)) return undefined;
  const counted = quantity === "position" && unit === "{count}";
  const wrap = counted ? wrapOf(raw, counters) : undefined;
  const wraps =
    wrap !== undefined && wrap.times > 0 && (role === "position" || crossedInMotion(raw, wrap.size));
  const data = wraps ? unwrap(raw, wrap.size, false) : raw;
  return {
    role,
    name: table.columns[choice.index].name,
    sourceUnit: unit,
    recognisedBy: choice.recognisedBy,
    data,
  };
}
