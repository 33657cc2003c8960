import { type Command, exitStatus } from "./io.js";

/** `shaftwise diagnose`: in the making. */
export const run: Command = async () => exitStatus.usage;
