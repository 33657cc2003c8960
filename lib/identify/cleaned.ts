/** A signal without its isolated spikes and short gaps. */
export interface Cleaned {
  readonly values: Float64Array;
  /** 1 where a value is measured, 2 where a spike or a short gap was bridged, 0 where there is nothing to use. */
  readonly state: Uint8Array;
  readonly spikes: number;
}

/** Longest run of missing samples that is bridged by a straight line. */
const longestBridge = 5;

/**
 * Takes isolated spikes out of a logged signal and bridges gaps of up to five samples by a straight line.
 *
 * A signal that may jump (a current) has a spike where one or two samples lie outside the second lowest and second
 * highest of the six neighbours; a smooth one (a position) where a sample departs from the median of the three symmetrical pair means
 * around it more than its neighbours do. Both by more than eight robust standard deviations of that departure and more than three counts.
 */
export function cleaned(signal: Float64Array, kind: "smooth" | "jumping", resolution = 0): Cleaned {
  const n = signal.length;
  const departure = new Float64Array(n);
  const six = new Float64Array(6);
  for (let i = 3; i + 3 < n; i++) {
    if (kind === "smooth") {
      const a = (signal[i - 1] + signal[i + 1]) / 2;
      const b = (signal[i - 2] + signal[i + 2]) / 2;
      const c = (signal[i - 3] + signal[i + 3]) / 2;
      const middle = Math.max(Math.min(a, b), Math.min(Math.max(a, b), c));
      departure[i] = signal[i] - middle;
    } else {
      six[0] = signal[i - 3];
      six[1] = signal[i - 2];
      six[2] = signal[i - 1];
      six[3] = signal[i + 1];
      six[4] = signal[i + 2];
      six[5] = signal[i + 3];
      six.sort();
      departure[i] = signal[i] > six[4] ? signal[i] - six[4] : signal[i] < six[1] ? signal[i] - six[1] : 0;
    }
  }
  if (kind === "smooth") {
    // What neighbours share is curvature (a real acceleration), not a spike.
    const raw = departure.slice();
    for (let i = 2; i + 2 < n; i++) {
      const a = Math.min(raw[i - 2], raw[i - 1]);
      const b = Math.max(raw[i - 2], raw[i - 1]);
      const c = Math.min(raw[i + 1], raw[i + 2]);
      const d = Math.max(raw[i + 1], raw[i + 2]);
      departure[i] = raw[i] - (Math.max(a, c) + Math.min(b, d)) / 2;
    }
  }
  // Scale: the departures themselves for a smooth signal, sample differences for a jumping one.
  const sizes: number[] = [];
  const stride = Math.max(1, Math.floor(n / 20000));
  for (let i = 4; i + 3 < n; i += stride) {
    const size =
      kind === "smooth" ? Math.abs(departure[i]) : Math.abs(signal[i] - signal[i - 1]) / Math.SQRT2;
    if (Number.isFinite(size)) sizes.push(size);
  }
  sizes.sort((a, b) => a - b);
  const scale = sizes.length > 0 ? 1.4826 * sizes[sizes.length >> 1] : 0;
  const limit = Math.max(8 * scale, 3 * resolution);
  const values = signal.slice();
  const state = new Uint8Array(n).fill(1);
  let spikes = 0;
  for (let i = 0; i < n; i++) {
    if (!Number.isFinite(signal[i])) state[i] = 0;
    else if (limit > 0 && Math.abs(departure[i]) > limit) {
      state[i] = 0;
      spikes++;
    }
  }
  let i = 0;
  while (i < n) {
    if (state[i] !== 0) {
      i++;
      continue;
    }
    let end = i;
    while (end < n && state[end] === 0) end++;
    const inside = i > 0 && end < n && end - i <= longestBridge;
    for (let k = i; k < end; k++) {
      if (inside) {
        const share = (k - i + 1) / (end - i + 1);
        values[k] = values[i - 1] + share * (values[end] - values[i - 1]);
        state[k] = 2;
      } else values[k] = Number.NaN;
    }
    i = end;
  }
  return { values, state, spikes };
}
