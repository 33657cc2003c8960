import type { Finding, Recording } from "./types.js";

/** What `readRecordings` returns. */
export interface ReadResult {
  readonly recordings: readonly Recording[];
  /** Inputs that could not be read, and descriptors with mistakes: one finding each, with the file. */
  readonly problems: readonly Finding[];
}
