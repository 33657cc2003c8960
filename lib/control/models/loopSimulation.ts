/** What of the real loop is simulated beyond the linear model; everything is on by default where the numbers are
 * known. */
export interface LoopSimulation {
  /** Encoder counts: the measured position moves in whole counts. */
  readonly quantised?: boolean;
  /** Current limit. */
  readonly limited?: boolean;
  /** Coulomb and static friction. */
  readonly friction?: boolean;
  /** What the current lacks while the back-EMF rises. */
  readonly shortfall?: boolean;
  /** What happens to the sum at the current limit: `hold` stops it while the error pushes further, `none` lets it wind
   * up. Absent: `hold`. */
  readonly windUp?: "hold" | "none";
  /** Phase voltage available, V peak, and phase resistance, ohm: the current falls short where back-EMF takes the
   * voltage. */
  readonly voltage?: { readonly available: number; readonly resistance: number };
  readonly start?: {
    readonly speed?: number;
    readonly position?: number;
    readonly current?: number;
    readonly sum?: number;
  };
}
