/**
 * Loads packages that a user installs only when wanted (drawing, queues). Any other failure to load is passed on as it
 * is.
 *
 * @param load - the dynamic import, written out so that the compiler knows its types
 * @param purpose - what needs the packages, as the subject of a sentence: "a chart as SVG"
 * @param install - all names to install for that purpose
 * @throws Error with one line that says what to install, when a package is not there
 * @example
 * const { Redis } = await optionalPackage(() => import("ioredis"), "a queue", ["bullmq", "ioredis"]);
 */
export async function optionalPackage<T>(
  load: () => Promise<T>,
  purpose: string,
  install: readonly string[],
): Promise<T> {
  try {
    return await load();
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code !== "ERR_MODULE_NOT_FOUND" && code !== "MODULE_NOT_FOUND") throw error;
    throw new Error(
      `${purpose} needs packages that are installed separately: npm install ${install.join(" ")}`,
      { cause: error },
    );
  }
}
