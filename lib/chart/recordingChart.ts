import type { TrialVerdict } from "../diagnosis/types.js";
import type { ChannelRole, Recording, Trial } from "../recording/types.js";
import { kindText } from "./kindText.js";
import { outcome } from "./marks/outcome.js";
import { endsOf } from "./marks/says.js";
import { rangeText, type TraceMark, type TracePanel, traceChart } from "./marks/traceChart.js";
import { recordingTitle } from "./recordingTitle.js";
import type { Chart, ChartOptions } from "./render/spec.js";

/** Panels of a recording: what is drawn together, with the factor from SI to the unit that is read on a bench. */
const layout: readonly {
  readonly title: string;
  readonly quantity: NonNullable<TracePanel["quantity"]>;
  readonly factor: number;
  readonly roles: readonly (readonly [ChannelRole, string, "measured" | "command"])[];
}[] = [
  {
    title: "Current (A)",
    quantity: "current",
    factor: 1,
    roles: [
      ["currentCommand", "current commanded", "command"],
      ["current", "current measured", "measured"],
    ],
  },
  {
    title: "Speed (rev/min)",
    quantity: "speed",
    factor: 60 / (2 * Math.PI),
    roles: [
      ["speedCommand", "speed commanded", "command"],
      ["speed", "speed measured", "measured"],
    ],
  },
  {
    title: "Shaft angle (turns)",
    quantity: "position",
    factor: 1 / (2 * Math.PI),
    roles: [
      ["positionCommand", "angle commanded", "command"],
      ["position", "angle measured", "measured"],
    ],
  },
  {
    title: "Torque (N·m)",
    quantity: "torque",
    factor: 1,
    roles: [
      ["torqueCommand", "torque commanded", "command"],
      ["torque", "torque measured", "measured"],
    ],
  },
  {
    title: "Voltage (V)",
    quantity: "voltage",
    factor: 1,
    roles: [
      ["voltageCommand", "voltage commanded", "command"],
      ["voltage", "motor voltage", "measured"],
      ["voltageQ", "quadrature voltage", "measured"],
    ],
  },
  {
    title: "Duty (%)",
    quantity: "voltage",
    factor: 100,
    roles: [["duty", "duty", "command"]],
  },
  {
    title: "Sweep angle (electrical turns)",
    quantity: "torque",
    factor: 1 / (2 * Math.PI),
    roles: [["sweepAngle", "angle commanded open loop", "command"]],
  },
];

/** An angle of less than a turn is read in degrees. */
const angleInDegrees = { title: "Shaft angle (degrees)", factor: 180 / Math.PI };

/** Whether angles stay within a turn of each other. */
function small(angles: readonly (Float64Array | undefined)[]): boolean {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const data of angles)
    for (let i = 0; i < (data?.length ?? 0); i++) {
      const value = (data as Float64Array)[i];
      if (value < low) low = value;
      if (value > high) high = value;
    }
  return high - low < 2 * Math.PI;
}

/** What of a recording is drawn. */
export interface RecordingChartOptions extends ChartOptions {
  /** Only this stretch of time, s. */
  readonly start?: number;
  readonly end?: number;
  /** Only these quantities, in panels. */
  readonly quantities?: readonly NonNullable<TracePanel["quantity"]>[];
  /** What the axis of a quantity spans at least, in the unit of its axis, so that several charts can be compared. */
  readonly spans?: Readonly<Partial<Record<NonNullable<TracePanel["quantity"]>, readonly [number, number]>>>;
  /** The measured channels with false samples bridged, by role (`run.channel(role).values`): these are drawn, and the
   * false samples beside them. */
  readonly despiked?: Readonly<Partial<Record<ChannelRole, ArrayLike<number>>>>;
  /** Stretches per trace that are kept when thinning. */
  readonly buckets?: number;
}

/**
 * A recording, or a stretch of it: current, speed and shaft angle with their commands, and the trials found in it with
 * their verdicts.
 *
 * @param trials - Trials or their verdicts, marked as bands.
 * @example
 * recordingChart(recording, cutTrials(recording).trials);
 */
export function recordingChart(
  recording: Recording,
  trials: readonly (Trial | TrialVerdict)[] = [],
  options: RecordingChartOptions = {},
): Chart {
  const start = options.start ?? Number.NEGATIVE_INFINITY;
  const end = options.end ?? Number.POSITIVE_INFINITY;
  const { time } = recording;
  let from = 0;
  while (from < time.length && time[from] < start) from++;
  let to = time.length;
  while (to > from && time[to - 1] > end) to--;
  let leftOut = 0;
  const panels: TracePanel[] = [];
  for (const panel of layout) {
    const { quantity, roles } = panel;
    if (options.quantities && !options.quantities.includes(quantity)) continue;
    const logged = roles.map(([role]) => recording.channels[role]?.data.subarray(from, to));
    const { title, factor } = quantity === "position" && small(logged) ? angleInDegrees : panel;
    const series = roles.flatMap(([role, name, kind]) => {
      const data = recording.channels[role]?.data.subarray(from, to);
      if (!data?.some(Number.isFinite)) return [];
      const drawn = withoutFalse(data, options.despiked?.[role], from);
      const aside = drawn.aside.map((i) => ({ time: time[from + i], value: data[i] * factor }));
      leftOut += aside.length;
      return [{ name, kind, values: times(drawn.values, factor), aside }];
    });
    if (series.length > 0) {
      panels.push({
        title,
        quantity,
        series,
        ...(options.spans?.[quantity] ? { span: options.spans[quantity] } : {}),
      });
    }
  }
  const shown = trials.filter((trial) => trial.end > start && trial.start < end);
  const marks = shown
    .filter((trial) => trial.kind !== "idle")
    .map((trial): TraceMark => {
      const found = "verdict" in trial ? outcome(trial) : undefined;
      return {
        start: Math.max(trial.start, time[from] ?? trial.start),
        end: Math.min(trial.end, time[Math.max(from, to - 1)] ?? trial.end),
        label: found ? `${kindText(trial.kind)}: ${found.words}` : kindText(trial.kind),
        verdict: found?.tone,
      };
    });
  return traceChart(
    { time: time.subarray(from, to), panels, marks },
    {
      ...options,
      title:
        options.title === undefined ? recordingTitle(recording, shown, rangeText({ panels })) : options.title,
      ...(leftOut > 0 && options.subtitle === undefined ? { subtitle: asideText(leftOut) } : {}),
    },
  );
}

/** False samples that are further from the others than this part of what those span are drawn beside the line; smaller
 * ones harm no picture. */
const plainlyFalse = 0.25;

/** A channel with its plainly false samples bridged, and where they are. */
function withoutFalse(
  data: Float64Array,
  despiked: ArrayLike<number> | undefined,
  from: number,
): { readonly values: Float64Array; readonly aside: readonly number[] } {
  if (despiked === undefined) return { values: data, aside: [] };
  const clean = new Float64Array(data.length);
  let alike = true;
  for (let i = 0; i < data.length; i++) {
    clean[i] = despiked[from + i];
    if (clean[i] !== data[i]) alike = false;
  }
  if (alike) return { values: data, aside: [] };
  const ends = endsOf(clean);
  const far = ends === undefined ? Number.POSITIVE_INFINITY : plainlyFalse * (ends[1] - ends[0]);
  const aside: number[] = [];
  for (let i = 0; i < data.length; i++) if (Math.abs(data[i] - clean[i]) > far) aside.push(i);
  const values = data.slice();
  for (const i of aside) values[i] = clean[i];
  return { values, aside };
}

/** Values times a factor; the same ones for a factor of 1. */
function times(values: Float64Array, factor: number): Float64Array {
  if (factor === 1) return values;
  const out = new Float64Array(values.length);
  for (let i = 0; i < values.length; i++) out[i] = values[i] * factor;
  return out;
}

function asideText(count: number): string {
  return `Crosses: ${count} ${count === 1 ? "sample" : "samples"} taken for false and left out of the line, at the edge where beyond it`;
}
