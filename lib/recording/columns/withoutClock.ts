import type { SourceTable } from "../formats/sourceTable.js";
import type { Channel, ChannelRole, Finding } from "../types.js";
import { commandedEfforts } from "./roles.js";

/** Fewer rows than this are taken for a table of points, not for samples of a run (common practice, no source). */
const leastRows = 100;
/** Fewer will do where the command rests for so many rows on average: points of a curve change with every row, and a
 * few readings a point do not make twelve (common practice, no source). */
const leastHeldRows = 24;
const rowsOfRest = 12;
/** So sure must be what the columns of few rows hold (judgement). */
const sureOfFew = 0.8;

/** A command that rests for as many rows, and for such a part of all of them, was sampled: nobody reads one point of a
 * curve so often (judgement). */
const longRest = { rows: rowsOfRest, part: 0.03 };

/** Part of the changes of a column that go one way, above which it only rises or only falls. */
const oneWay = 0.95;

type Channels = Readonly<Partial<Record<ChannelRole, Channel>>>;

/** A command and the motion that may have answered it. */
function pairOf(channels: Channels): readonly [Channel, Channel] | undefined {
  const { position, positionCommand, speed, speedCommand } = channels;
  if (positionCommand !== undefined && position !== undefined) return [positionCommand, position];
  const motion = speed ?? position;
  if (motion === undefined) return undefined;
  if (speedCommand !== undefined && speed !== undefined) return [speedCommand, speed];
  const asked = commandedEfforts.find((role) => channels[role] !== undefined);
  return asked === undefined ? undefined : [channels[asked] as Channel, motion];
}

/** The column only rises, or only falls, wherever it changes. */
function goesOneWay({ data }: Channel): boolean {
  let up = 0;
  let down = 0;
  for (let i = 1; i < data.length; i += 1)
    if (data[i] > data[i - 1]) up += 1;
    else if (data[i] < data[i - 1]) down += 1;
  return Math.max(up, down) >= oneWay * (up + down);
}

/**
 * Rows without a clock that can still be judged by their order: a command and the motion beside it, in enough rows for
 * a run. Where the command only rises or falls, and never rests for long, the rows may as well be steady points of a
 * curve.
 *
 * @param sureness probability that the column of a role holds it
 */
export function judgedByOrder(
  channels: Channels,
  rows: number,
  sureness: (role: ChannelRole) => number,
): boolean {
  const pair = pairOf(channels);
  if (pair === undefined) return false;
  const [command, motion] = pair;
  let changes = 0;
  let since = 0;
  let rest = 0;
  for (let i = 1; i <= rows; i += 1) {
    if (i < rows && command.data[i] === command.data[i - 1]) continue;
    rest = Math.max(rest, i - since);
    since = i;
    if (i < rows) changes += 1;
  }
  const held =
    rows >= leastHeldRows &&
    changes > 0 &&
    changes * rowsOfRest <= rows &&
    Math.min(sureness(command.role), sureness(motion.role)) >= sureOfFew;
  if (rows < leastRows && !held) return false;
  const rests = rest >= longRest.rows && rest >= longRest.part * rows;
  return rests || changes <= 0.2 * rows || !goesOneWay(command) || !goesOneWay(motion);
}

/** What stands in the place of the refusal. */
export function noClock(refusal: Finding, table: SourceTable): Finding {
  return {
    severity: "error",
    code: "no-clock",
    message: `${refusal.message}: the log has no clock, and its rows are judged by their order alone`,
    meaning: `nothing that depends on seconds is said (constants, growth, responses, forecasts): ${refusal.meaning ?? "give the time from row to row with --interval <time>"}`,
    file: table.path,
  };
}
