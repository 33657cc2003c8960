import { type ParseArgsConfig, parseArgs } from "node:util";
import { UsageError } from "./io.js";

type Parsed<O extends NonNullable<ParseArgsConfig["options"]>> = {
  readonly values: ReturnType<
    typeof parseArgs<{ args: string[]; allowPositionals: true; options: O }>
  >["values"];
  readonly paths: string[];
};

/**
 * Parses the arguments of a command that takes options and paths.
 *
 * @param name the command, named in the message of an error
 * @throws UsageError for an unknown option or a missing value
 * @example
 * const { values, paths } = commandLine("fit", args, { json: { type: "boolean" } });
 */
export function commandLine<const O extends NonNullable<ParseArgsConfig["options"]>>(
  name: string,
  args: readonly string[],
  options: O,
): Parsed<O> {
  try {
    const { values, positionals } = parseArgs({ args: [...args], allowPositionals: true, options });
    return { values, paths: positionals };
  } catch (error) {
    throw new UsageError(`${name}: ${(error as Error).message.replace(/\.?\s*To specify.*$/s, "")}`);
  }
}
