/**
 * Recordings as danfojs frames and back: `import { toFrame, fromFrame } from "shaftwise/danfo"`. danfojs is heavy and
 * not a dependency of this package: install `danfojs-node` beside it; it is loaded when a frame is asked for.
 *
 * @packageDocumentation
 */
import { notebookWriter } from "./chart/render/notebookWriter.js";
import { danfoShowsItself } from "./chart/render/tablesOfOthers.js";
import type { ReadOptions } from "./recording/columns/readOptions.js";
import { columnsOf, fromColumns } from "./recording/toTable.js";
import type { Recording } from "./recording/types.js";

/** What is used of a danfojs frame. */
export interface Frame {
  readonly columns: string[];
  readonly shape: [number, number];
  /** One column, by its name. */
  column(name: string): { readonly values: ArrayLike<unknown> };
}

/** What is used of danfojs. */
export interface Danfo {
  readonly DataFrame: (new (
    data: Record<string, ArrayLike<unknown>>,
    options?: object,
  ) => Frame) & { readonly prototype: object };
}

/**
 * A recording as a danfojs frame: `time` and one column per channel, named for its role, in SI.
 *
 * @param danfo danfojs itself, when it is loaded already (or the browser build is wanted).
 * @throws Error when danfojs-node is not installed, saying what to do.
 * @example
 * const frame = await toFrame(recording);
 * frame.column("speed").values[0]; // rad/s
 */
export async function toFrame(recording: Recording, danfo?: Danfo): Promise<Frame> {
  const { DataFrame } = danfo ?? (await loadDanfo());
  const plain: Record<string, number[]> = {};
  for (const [name, data] of Object.entries(columnsOf(recording))) plain[name] = Array.from(data);
  return new DataFrame(plain);
}

/**
 * A recording from a danfojs frame; columns named for roles are SI unless `options.unit` says otherwise.
 *
 * @throws CannotRead when there is no time column or nothing else.
 * @example
 * const frame = await toFrame(recording);
 * const again = await fromFrame(frame, { encoder: { lines: 1024 } });
 */
export function fromFrame(
  frame: Frame,
  options: ReadOptions & { readonly path?: string } = {},
): Promise<Recording> {
  const columns: Record<string, ArrayLike<unknown>> = {};
  for (const name of frame.columns) columns[name] = frame.column(name).values;
  return fromColumns(columns, { path: "frame", ...options });
}

async function loadDanfo(): Promise<Danfo> {
  const name = "danfojs-node";
  try {
    const danfo = (await import(name)) as Danfo;
    if (notebookWriter() !== undefined) danfoShowsItself(danfo.DataFrame.prototype as object);
    return danfo;
  } catch (error) {
    throw new Error(
      `danfojs-node could not be loaded; install it beside shaftwise (npm install danfojs-node): ${(error as Error).message}`,
    );
  }
}
