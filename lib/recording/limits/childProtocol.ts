/** What a process that works under limits tells the one that started it. */
export type ChildMessage =
  | { readonly kind: "ready" }
  | { readonly kind: "result"; readonly rest: Buffer; readonly columns: readonly number[] }
  | { readonly kind: "error"; readonly message: string };

/** Number of the pipe for columns. */
export const columnPipe = 4;
/** What it writes on the error stream before it ends itself for its memory. */
export const overMemory = "shaftwise: over the limit of memory";
