import type { Analysis } from "../analysis/conclude.js";
import { exitStatus } from "./io.js";

/** Exit status of a command that judged recordings: 3 where some input was not read, or where what was read contradicts
 * itself. */
export async function statusOf(analysis: Pick<Analysis, "diagnosis">): Promise<number> {
  const { isTroubled } = await import("../analysis/conclude.js");
  return isTroubled(analysis) ? exitStatus.partly : exitStatus.done;
}
