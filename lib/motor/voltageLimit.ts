/**
 * Largest voltage vector (phase peak) a bus can give, V. Space-vector modulation: Vdc/sqrt(3); plain sine: Vdc/2.
 *
 * @param busVoltage V
 * @example
 * voltageLimit(48, "space-vector"); // => 27.71
 */
export function voltageLimit(busVoltage: number, modulation: "space-vector" | "sine"): number {
  return modulation === "space-vector" ? busVoltage / Math.sqrt(3) : busVoltage / 2;
}
