/** A text up to this size may be worked on by the column engine, which has threads and memory of its own, in the
 * process of the command. */
const engineBytes = 2 ** 20;

/** Thrown by a reader that wants the column engine for a file that is too large for that here. */
export class WantsOwnProcess extends Error {
  override readonly name = "WantsOwnProcess";
}

let within = 0;

/** Works with the column engine kept to small files. */
export async function withSmallEngine<Result>(work: () => Promise<Result>): Promise<Result> {
  within += 1;
  try {
    return await work();
  } finally {
    within -= 1;
  }
}

/**
 * Asked before the column engine works on a text.
 *
 * @throws WantsOwnProcess where it must have a process of its own
 */
export function mayUseEngineHere(bytes: number): void {
  if (within > 0 && bytes > engineBytes) throw new WantsOwnProcess();
}
