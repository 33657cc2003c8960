import type { Redis } from "ioredis";
import { optionalPackage } from "../../units/optionalPackage.js";

const install = ["bullmq", "ioredis"] as const;

/**
 * Loads the queue over Redis.
 *
 * @throws Error that says what to install when it is not there.
 */
export function loadQueue(): Promise<typeof import("bullmq")> {
  return optionalPackage(() => import("bullmq"), "a study through a queue", install);
}

/**
 * Loads the Redis client.
 *
 * @throws Error that says what to install when it is not there.
 */
export function loadRedis(): Promise<{ readonly Redis: typeof Redis }> {
  return optionalPackage(() => import("ioredis"), "a study through a queue", install);
}
