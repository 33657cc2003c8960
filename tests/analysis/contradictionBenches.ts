import { type LeadOrder, leadOrders, randomBench, writeRecordings } from "../../lib/index.js";
import { recordingFromRandomBench } from "../../lib/recording/fromBench.js";
import type { Recording } from "../../lib/recording/types.js";

/**
 * Writes logs of synthetic benches of fresh seeds into a folder: each a motor of its own, a torque trial and a speed
 * trial in one log, every third with an order.
 *
 * @param first the first seed
 * @param count how many
 */
export async function writeBenches(folder: string, first: number, count: number): Promise<void> {
  const recordings: Recording[] = [];
  for (let seed = first; seed < first + count; seed += 1) {
    const made = randomBench(seed);
    const program = [...made.torqueProgram, ...made.speedProgram];
    const { recording } = recordingFromRandomBench(made, program, { path: `bench-${seed}` });
    const ordering: LeadOrder | undefined = seed % 3 === 0 ? leadOrders[seed % leadOrders.length] : undefined;
    recordings.push({ ...recording, motor: `motor-${seed}`, ...(ordering ? { ordering } : {}) });
  }
  await writeRecordings(recordings, folder);
}
