import { exitStatus, type Io } from "./io.js";

/** `shaftwise study show`: in the making. */
export async function showCommand(_args: readonly string[], _io: Io): Promise<number> {
  return exitStatus.usage;
}
