/** Revolutions a minute of a speed in rad/s. */
export function revPerMinute(radiansPerSecond: number): number {
  return (radiansPerSecond * 60) / (2 * Math.PI);
}
