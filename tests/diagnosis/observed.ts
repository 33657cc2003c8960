import type { Observation } from "../../lib/diagnosis/observe.js";
import type { Channel, ChannelRole, Recording, Trial } from "../../lib/recording/types.js";
import type { Hold } from "../../lib/run/holds.js";
import type { TrialSignals } from "../../lib/run/trialSignals.js";

/** A recording of which only the settings matter. */
export const settings = (
  facts: Partial<Pick<Recording, "drive" | "machine" | "encoder">> = {},
): Recording => ({
  path: "made up",
  time: new Float64Array(0),
  channels: {},
  machine: {},
  drive: {},
  encoder: {},
  findings: [],
  ...facts,
});

/** Columns of a recording by what they are. */
export type Columns = Partial<Record<ChannelRole, Float64Array>>;

/** A recording of these columns over these times, of a drive with four pole pairs unless said otherwise. */
export const recordingOf = (
  time: Float64Array,
  columns: Columns,
  facts: Partial<Recording> = {},
): Recording => ({
  path: "test",
  time,
  channels: Object.fromEntries(
    Object.entries(columns).map(([role, data]) => [
      role,
      { role, name: role, sourceUnit: "", recognisedBy: "test", data } as Channel,
    ]),
  ),
  machine: {},
  drive: { polePairs: 4 },
  encoder: {},
  findings: [],
  ...facts,
});

export const trialOf = (kind: Trial["kind"]): Trial => ({
  kind,
  from: 0,
  to: 1000,
  start: 0,
  end: 1,
  steps: [],
  source: "found",
});

/** A hold of a second, at rest unless said otherwise. */
export const hold = (change: Partial<Hold> = {}): Hold => ({
  from: 0,
  to: 1000,
  length: 1,
  level: 1,
  sense: 1,
  startSpeed: 0,
  endSpeed: 0,
  peakSpeed: 0,
  travel: 0,
  swing: 0,
  endSwing: 0,
  turning: false,
  resting: true,
  tailSpeed: 0,
  endChange: 0,
  ...change,
});

/** What was seen in a trial, and nothing measured beside it. */
export const seen = (
  kind: "torque" | "speed",
  behaviour: Observation["behaviour"],
  change: Partial<Omit<Observation, "signals">> & { readonly signals?: Partial<TrialSignals> } = {},
): Observation => ({
  trial: trialOf(kind),
  holds: [hold()],
  behaviour,
  verdict: "undetermined",
  confidence: 1,
  sense: behaviour === "turns" || behaviour === "follows" ? "with" : "none",
  evidence: [],
  missing: [],
  text: "",
  bothSenses: true,
  ...change,
  signals: {
    time: new Float64Array(0),
    period: 1e-3,
    motionFrom: "position",
    angleStep: 1e-4,
    speedNoise: 0.01,
    unsignedCurrent: false,
    ...change.signals,
  },
});
