import { visible } from "../../units/text.js";
import type { Mark } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";
import { clockRuns, type Stretch } from "./clockRuns.js";
import { carryOn } from "./clockWraps.js";
import { type Disorder, rowsInOrder } from "./rowsInOrder.js";
import { longAgo } from "./timeAxis.js";

/** What is known of the clock of a table. */
export interface TableClock {
  /** Time of every row, s. */
  readonly time: Float64Array;
  /** Size of the clock's own unit, s. */
  readonly scale: number;
  /** False when time was only counted by rows. */
  readonly clocked: boolean;
  readonly marks: readonly Mark[];
  /** Channels beside it. */
  readonly others: readonly Float64Array[];
  readonly file: string;
  /** Line of the first row, for text. */
  readonly firstLine?: number;
}

interface RowsOfPart {
  readonly label: string;
  readonly rows: Int32Array | undefined;
}

/** A part with its own clock. */
export type ClockedPart<P> = P & {
  readonly time: Float64Array;
  readonly findings: readonly Finding[];
  readonly title?: string;
  /** The title of the stretch before, under which this one stands that has none of its own. */
  readonly under?: string;
  /** What was taken off the clock of this part, which counts from long before or after that of the table, s. */
  readonly zero: number;
};

/**
 * Parts every part of a table further where its clock begins anew or the source shows a break, with wraps of the clock
 * carried on. Each stretch becomes a recording of its own; none of its rows is lost.
 */
export function partsByClock<P extends RowsOfPart>(parts: readonly P[], clock: TableClock): ClockedPart<P>[] {
  return parts.flatMap((given) => {
    let part = given;
    let rows: Int32Array | undefined = part.rows;
    const take = (values: Float64Array): Float64Array =>
      rows === undefined ? values : Float64Array.from(rows, (i) => values[i]);
    const findings: Finding[] = [];
    let time = take(clock.time);
    const carried = clock.clocked ? carryOn(time, clock.scale, () => clock.others.map(take)) : undefined;
    if (carried !== undefined) {
      time = carried.time;
      findings.push({
        severity: "note",
        code: "time-wraps",
        message: `the clock wraps at ${carried.size} (${carried.times} ${carried.times === 1 ? "time" : "times"}); it was carried on`,
        value: carried.times,
        file: clock.file,
      });
    }
    const disorder = clock.clocked && carried === undefined ? rowsInOrder(time) : undefined;
    if (disorder !== undefined) {
      time = Float64Array.from(disorder.order, (i) => time[i]);
      rows = rows === undefined ? disorder.order : disorder.order.map((i) => (rows as Int32Array)[i]);
      part = { ...part, rows };
      findings.push(reordered(disorder, clock.file));
    }
    // Breaks are numbered by rows of the whole table: they say nothing of a part with rows from here and there.
    const marks = rows === undefined ? clock.marks : [];
    const stretches = clockRuns(clock.clocked ? time : undefined, time.length, marks);
    if (stretches.length === 1)
      return [{ ...part, ...fromZero(time), findings, title: stretches[0].title, label: part.label }];
    return stretches.map((stretch, k) => ({
      ...part,
      ...fromZero(time.slice(stretch.from, stretch.to)),
      title: stretch.title,
      under: stretches.slice(0, k + 1).findLast(({ title }) => title !== undefined)?.title,
      label: [part.label, labelOf(stretch, k)].filter((l) => l !== "").join(","),
      rows: Int32Array.from({ length: stretch.to - stretch.from }, (_, i) =>
        rows === undefined ? stretch.from + i : rows[stretch.from + i],
      ),
      findings: [...findings, told(stretch, k, stretches.length, time, clock)],
    }));
  });
}

/** Time of a part; one that lies years away from the zero of the table's clock begins at zero. */
function fromZero(time: Float64Array): { readonly time: Float64Array; readonly zero: number } {
  const zero = time.find((t) => Number.isFinite(t)) ?? 0;
  return Math.abs(zero) < longAgo ? { time, zero: 0 } : { time: time.map((t) => t - zero), zero };
}

const lay: Readonly<Record<Disorder["how"], string>> = {
  backwards: "the newest row stands first",
  shuffled: "the rows are not in the order of time",
  "from the middle": "the rows begin in the middle of their time, as a ring buffer leaves them",
  "a few rows late": "some rows stand after later ones",
};

function reordered({ how, back }: Disorder, file: string): Finding {
  return {
    severity: "warning",
    code: "rows-reordered",
    message: `${lay[how]} (the clock steps back ${back === 1 ? "once" : `${back} times`}); they were put in the order of time`,
    value: back,
    meaning: "none is left out; if these are several runs, they need a run column or one file each",
    file,
  };
}

function labelOf(stretch: Stretch, k: number): string {
  return stretch.title === undefined ? `run=${k + 1}` : visible(stretch.title, 60);
}

function told(stretch: Stretch, k: number, of: number, time: Float64Array, clock: TableClock): Finding {
  const line = clock.firstLine === undefined ? undefined : stretch.from + clock.firstLine;
  const base = {
    code: "several-runs",
    value: of,
    file: clock.file,
    row: k === 0 ? undefined : line,
  } as const;
  const which = `run ${k + 1} of ${of} in this table`;
  if (stretch.ahead !== undefined)
    return {
      severity: "note",
      message: `${which}: the clock leaps ahead by ${farText(stretch.ahead)} before it`,
      meaning: "the clock was set there; what follows is a recording of its own",
      ...base,
    };
  if (stretch.back === undefined)
    return {
      severity: "note",
      message: `${which}${k === 0 ? "" : ", parted where its heading or title stands"}`,
      ...base,
    };
  // A break that the source shows by a title is no surprise.
  if (stretch.title !== undefined)
    return { severity: "note", message: `${which}: its clock begins anew below its title`, ...base };
  const anew = time[stretch.from] - time[0] < 0.05 * Math.abs(time[stretch.from - 1] - time[0]);
  return {
    ...base,
    code: "clock-restarts",
    severity: "error",
    message: anew
      ? `${which}: its clock begins anew`
      : `${which}: the clock steps back by ${farText(stretch.back)} before it`,
    meaning: anew
      ? "what follows is a recording of its own"
      : "the clock may have been set; what follows is a recording of its own",
  };
}

/** A leap of the clock; years are not told in seconds. */
function farText(seconds: number): string {
  return seconds > longAgo
    ? `${Number((seconds / 31_557_600).toPrecision(3))} years`
    : `${Number(seconds.toPrecision(4))} s`;
}
