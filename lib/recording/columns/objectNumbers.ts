/** What an object of a drive's profile holds: the words for it, and its unit where the profile fixes one. */
export interface DriveObject {
  readonly words: string;
  readonly unit?: string;
}

/**
 * Objects of the drive profile of IEC 61800-7-201 (names and units from memory): positions and speeds are in units that
 * the user sets, torques and currents in thousandths of their rated value.
 */
const objects: ReadonlyMap<string, DriveObject> = new Map(
  (
    [
      ["603f", "error code"],
      ["6040", "control word"],
      ["6041", "status word"],
      ["605a", "stop option"],
      ["605c", "disable option"],
      ["6060", "mode command"],
      ["6061", "mode display"],
      ["6062", "position demand value"],
      ["6063", "position actual value"],
      ["6064", "position actual value"],
      ["606a", "sensor selection"],
      ["606b", "velocity demand value"],
      ["606c", "velocity actual value"],
      ["606f", "velocity threshold"],
      ["6071", "target torque", "‰"],
      ["6072", "torque limit", "‰"],
      ["6073", "current limit", "‰"],
      ["6074", "torque demand value", "‰"],
      ["6077", "torque actual value", "‰"],
      ["6078", "current actual value", "‰"],
      ["6079", "dc link voltage", "mV"],
      ["607a", "target position"],
      ["607c", "home offset"],
      ["607f", "velocity limit"],
      ["6081", "velocity limit"],
      ["60b1", "velocity offset"],
      ["60b2", "torque offset", "‰"],
      ["60f4", "following error"],
      ["60fd", "digital inputs"],
      ["60fe", "digital outputs"],
      ["60ff", "target velocity"],
    ] as const
  ).map(([number, words, unit]) => [number, { words, unit }]),
);

/** Index, sub-index (`6064:00`, `6064sub0`, `6064.0`), and the length in bits of a mapped object (`60640020`). */
const written =
  /^(?:object|obj|index|idx)?[\s_]*(?:0x|#x?|16#|\$)?(60[0-9a-f]{2})(?:h\b)?(?:(?:[\s:._/-]|sub)*(?:0x)?[0-9a-f]{1,2}h?|00(?:08|10|20))?$/i;

/**
 * The object that a text is the number of, whatever way it is written: `0x6064:00`, `606Ch`, `60770010`. Undefined for
 * any other text.
 *
 * @example
 * objectOf("0x606C:00"); // => { words: "velocity actual value" }
 */
export function objectOf(text: string): DriveObject | undefined {
  if (text.length > 24) return undefined;
  // Alone or in brackets.
  const number = written.exec(text.trim().replace(/^[[({]\s*(.*?)\s*[\])}]$/, "$1"))?.[1];
  return number === undefined ? undefined : objects.get(number.toLowerCase());
}

/** True for cells that are numbers of objects, two or more of them: they name what a row is of. */
export function areObjects(cells: readonly string[]): boolean {
  const different = new Set<string>();
  for (const cell of cells) {
    if (different.has(cell)) continue;
    if (different.size === 40 || objectOf(cell) === undefined) return false;
    different.add(cell);
  }
  return different.size >= 2;
}
