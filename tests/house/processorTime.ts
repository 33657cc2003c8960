import { readFileSync } from "node:fs";

/** Seconds of processor time that a process has used; NaN where the system does not tell. */
export function processorTime(pid: number | undefined): number {
  try {
    const [, ...fields] = readFileSync(`/proc/${pid}/stat`, "latin1").split(") ");
    const [user, system] = fields.join(") ").split(" ").slice(11, 13).map(Number);
    return (user + system) / 100;
  } catch {
    return Number.NaN;
  }
}
