import { type Exchange, exchangedChannels } from "../recording/checks/exchangedChannels.js";
import type { Channel, ChannelRole, Finding, Recording } from "../recording/types.js";

/** Columns of a command and its measured value that stand for each other. */
export interface Exchanged {
  /** The recording with those put right that are likely to be exchanged; the same object where none is. */
  readonly recording: Recording;
  readonly findings: readonly Finding[];
}

/**
 * From this probability on two columns are taken the other way round (judgement); below it nothing is read from a
 * motion and its command. A current and its command are so much alike that either way round gives the same verdict.
 */
const likely = { motion: 0.8, effort: 0.5 };

const isLikely = ({ measured, probability }: Exchange): boolean =>
  probability >= (measured === "speed" || measured === "position" ? likely.motion : likely.effort);

const matters = (exchange: Exchange): boolean =>
  exchange.measured === "speed" || exchange.measured === "position" || isLikely(exchange);

/** Finds commands and measured values that are exchanged, and puts them right where that is likely. */
export function exchangedIn(recording: Recording): Exchanged {
  const found = exchangedChannels(recording).filter(matters);
  if (found.length === 0) return { recording, findings: [] };
  const channels: Partial<Record<ChannelRole, Channel>> = { ...recording.channels };
  for (const exchange of found) {
    const { command, measured } = exchange;
    const [asked, done] = [channels[command], channels[measured]];
    if (!isLikely(exchange) || asked === undefined || done === undefined) continue;
    channels[command] = { ...done, role: command, wrap: asked.wrap, resolution: undefined };
    channels[measured] = { ...asked, role: measured, wrap: done.wrap, resolution: undefined };
  }
  return {
    recording: { ...recording, channels },
    findings: found.map((exchange) => findingOf(recording, exchange)),
  };
}

function findingOf({ path, channels }: Recording, exchange: Exchange): Finding {
  const { command, measured, probability } = exchange;
  const [asked, done] = [`"${channels[command]?.name}"`, `"${channels[measured]?.name}"`];
  const sure = isLikely(exchange);
  return {
    severity: "error",
    code: sure ? "exchanged" : "exchange-open",
    message: `${done} goes from level to level within one row, as commands do, and ${asked} does not: the two look exchanged (${Math.round(100 * Math.min(probability, 0.99))} %)`,
    value: probability,
    unit: "1",
    meaning: `${sure ? `${done} is taken for the command and ${asked} for the measured value` : "nothing is read from the two"}; state which is which`,
    file: path,
    column: channels[measured]?.name,
  };
}
