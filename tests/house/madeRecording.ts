import { type Channel, type ChannelRole, type Recording, siUnits } from "../../lib/recording/types.js";

/** Columns in SI by their role. */
export type Columns = Partial<Record<ChannelRole, Float64Array>>;

/** A recording of made columns in SI; `position` lays more over that channel, `more` over the recording. */
export function madeRecording(
  time: Float64Array,
  columns: Columns,
  position: Partial<Channel> = {},
  more: Partial<Recording> = {},
): Recording {
  const channels = Object.fromEntries(
    (Object.entries(columns) as [ChannelRole, Float64Array][]).map(([role, data]) => [
      role,
      {
        role,
        name: role,
        sourceUnit: siUnits[role],
        recognisedBy: "made",
        data,
        ...(role === "position" ? position : {}),
      },
    ]),
  );
  return { path: "made.csv", time, channels, machine: {}, drive: {}, encoder: {}, findings: [], ...more };
}
