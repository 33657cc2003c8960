/**
 * Gains of the speed controller in parallel form, continuous, per rad/s of the shaft:
 * i = kp*(b*r - w) + ki*integral(r - w). `convertGains` brings other forms here.
 */
export interface SpeedGains {
  /** A per rad/s. */
  readonly kp: number;
  /** A per rad. */
  readonly ki: number;
  /** Reference weight b: 1 is the plain PI (the value when absent), 0 puts the reference on the integral alone. */
  readonly referenceWeight?: number;
}
