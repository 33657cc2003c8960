import type { Command, Io } from "../../lib/cli/io.js";

/** Runs a command in this process and keeps what it wrote. */
export async function capture(
  run: Command,
  args: readonly string[],
  look: Partial<Io> = {},
): Promise<{ status: number; out: string; err: string }> {
  let [out, err] = ["", ""];
  const status = await run(args, {
    out: (text) => {
      out += text;
    },
    err: (text) => {
      err += text;
    },
    color: false,
    columns: 80,
    live: false,
    ...look,
  });
  return { status, out, err };
}
