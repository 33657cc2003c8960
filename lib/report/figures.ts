import { outcome } from "../chart/marks/outcome.js";
import { type OrderRow, orderingsChart } from "../chart/orderingsChart.js";
import { recordingChart } from "../chart/recordingChart.js";
import type { ChartSpec } from "../chart/render/spec.js";
import type { RecordingVerdict, TrialVerdict } from "../diagnosis/types.js";
import { runOf } from "../run/run.js";
import { alikeOrders } from "./sections/orders.js";
import type { ReportRecording, ReportSource } from "./types.js";

/** A chart for a wide screen and for paper, and the same for a telephone. */
export interface Drawing {
  readonly spec: ChartSpec;
  readonly narrow: ChartSpec;
}

/** Charts of a report. */
export interface Figures {
  /** Orders at a glance; absent when no order was stated. */
  readonly orders?: Drawing;
  /** One per recording, in the order of the diagnosis; null where there is nothing to draw. */
  readonly recordings: readonly (Drawing | null)[];
}

const toRpm = 60 / (2 * Math.PI);

/** Most recordings that get a chart of their own: beyond that the page would grow too large. */
const mostCharts = 24;

/** Builds every chart of a report. */
export function figures(source: ReportSource): Figures {
  const { recordings } = source.diagnosis;
  const buckets = recordings.length > 12 ? 120 : recordings.length > 6 ? 180 : 260;
  return {
    orders: ordersFigure(source),
    recordings: recordings.map((verdict, i) => {
      const found = recordingOf(source, verdict);
      if (!found || i >= mostCharts || found.recording.time.length < 2) return null;
      const wide = { title: null, buckets, width: 700 };
      const spec = recordingChart(found.recording, verdict.trials, wide);
      const narrow = recordingChart(found.recording, verdict.trials, { ...wide, buckets: 90, width: 264 });
      // The strip to choose a stretch on is always there; panels are not.
      return (spec.vconcat as unknown[]).length > 1 ? { spec, narrow } : null;
    }),
  };
}

/** The recording a verdict speaks of. */
export function recordingOf(source: ReportSource, verdict: RecordingVerdict): ReportRecording | undefined {
  const at = source.diagnosis.recordings.indexOf(verdict);
  const same = source.recordings[at];
  if (same?.recording.path === verdict.path) return same;
  return source.recordings.find(({ recording }) => recording.path === verdict.path);
}

function ordersFigure(source: ReportSource): Drawing | undefined {
  const rows = alikeOrders(source.diagnosis).map(({ orders }): OrderRow => {
    const [ordering, ...alike] = orders;
    const trials: OrderRow["trials"][number][] = [];
    for (const verdict of source.diagnosis.recordings) {
      if (verdict.ordering !== ordering) continue;
      const found = recordingOf(source, verdict);
      if (!found) continue;
      for (const kind of ["torque", "speed"] as const) {
        const label = kind === "torque" ? "torque trial" : "speed trial";
        if (trials.some((trial) => trial.kind === label)) continue;
        const trial = verdict.trials.find((one) => one.kind === kind);
        if (trial) trials.push(outline(found, trial, label));
      }
    }
    return { ordering, trials, ...(alike.length > 0 ? { alike } : {}) };
  });
  if (!rows.some((row) => row.trials.length > 0)) return undefined;
  const title = null;
  return {
    spec: orderingsChart(rows, { title }),
    narrow: orderingsChart(
      rows.map(({ alike: _, ...row }) => row),
      { title, subtitle: null, width: 88 },
    ),
  };
}

function outline(
  { recording }: ReportRecording,
  trial: TrialVerdict,
  kind: string,
): OrderRow["trials"][number] {
  const { time, channels } = recording;
  let from = 0;
  while (from < time.length && time[from] < trial.start) from++;
  let to = time.length;
  while (to > from + 1 && time[to - 1] > trial.end) to--;
  // A log without a speed has one all the same, from its position.
  const whole = channels.speed?.data ?? runOf(recording).shaft?.speed;
  const speed = whole?.subarray(from, to) ?? new Float64Array(to - from).fill(Number.NaN);
  const command = trial.kind === "speed" ? channels.speedCommand?.data.subarray(from, to) : undefined;
  const { words, tone } = outcome(trial);
  return {
    kind,
    verdict: tone,
    words,
    time: time.subarray(from, to),
    speed: speed.map((value) => value * toRpm),
    ...(command ? { command: command.map((value) => value * toRpm) } : {}),
  };
}
