import { statSync } from "node:fs";
import { workOf } from "./rateClock.js";

/** Files ahead whose size is looked at, and of these those of which it is asked whether their result is there. */
const most = 500;
const asked = 48;
/** Larger files are not read beforehand only to know them. */
const largest = 20_000_000;

interface Sample {
  readonly file: number;
  readonly work: number;
  /** Whether its result is there already; absent where that was not asked. */
  readonly known?: boolean;
}

/**
 * How much work lies ahead in a list of files: their sizes from a sample spread evenly over them, less the part whose
 * results are there from before.
 */
export class WorkAhead {
  private constructor(
    private readonly samples: readonly Sample[],
    /** Files that each sample stands for. */
    private readonly each: number,
  ) {}

  /**
   * Looks at the files from one place of the list on.
   *
   * @param isKnown whether the result of a file is there already; absent where none can be
   */
  static async of(
    paths: readonly string[],
    from: number,
    isKnown?: (path: string) => Promise<boolean>,
  ): Promise<WorkAhead> {
    const ahead = paths.length - from;
    const count = Math.min(most, ahead);
    const part = asked / count;
    const samples: Sample[] = [];
    for (let k = 0; k < count; k++) {
      // Anywhere in its stretch: every second file may be another kind of trial.
      const file = from + Math.floor(((k + scattered(k)) * ahead) / count);
      const size = sizeOf(paths[file]);
      const ask = isKnown !== undefined && scattered(k + 0.5) < part && size < largest;
      const known = ask ? await isKnown(paths[file]).catch(() => false) : undefined;
      samples.push({ file, work: workOf(size), ...(known === undefined ? {} : { known }) });
    }
    return new WorkAhead(samples, count === 0 ? 0 : ahead / count);
  }

  /** Work of the files from one place of the list on. */
  from(file: number): number {
    const left = this.samples.filter((sample) => sample.file >= file);
    const told = left.filter(({ known }) => known !== undefined);
    const fresh = told.length === 0 ? 1 : told.filter(({ known }) => !known).length / told.length;
    return fresh * this.each * left.reduce((sum, { work }) => sum + work, 0);
  }
}

/** Numbers between 0 and 1 that follow no pattern of the files (multiples of the golden section). */
const scattered = (k: number): number => (k * 0.6180339887498949) % 1;

function sizeOf(path: string): number {
  try {
    return statSync(path).size;
  } catch {
    return 0;
  }
}
