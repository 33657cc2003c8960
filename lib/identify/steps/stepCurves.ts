/**
 * Step responses beyond the four linear shapes, in closed form. Each fills `out` with the value at the times `t` since
 * the step (negative before it); parameters are in the order of its comment.
 */
export type StepCurve = (t: Float64Array, p: Float64Array, out: Float64Array) => void;

/** `initial, rate, delay`: a line that begins after the delay: what a torque step does to a free shaft. */
export const integratorCurve: StepCurve = (t, [initial, rate, delay], out) => {
  for (let i = 0; i < t.length; i++) out[i] = initial + rate * Math.max(0, t[i] - delay);
};

/** `initial, rate, lag`: the same through a first-order lag: `rate*(t - lag*(1 - exp(-t/lag)))`. */
export const integratorLagCurve: StepCurve = (t, [initial, rate, lag], out) => {
  for (let i = 0; i < t.length; i++)
    out[i] = initial + (t[i] > 0 ? rate * (t[i] + lag * Math.expm1(-t[i] / lag)) : 0);
};

/** `initial, rate, friction`: the rate that the input alone would give and the one that friction takes, either against the motion or, at rest, holding it. */
export const integratorFrictionCurve: StepCurve = (t, [initial, rate, friction], out) => {
  const sense = Math.sign(initial);
  const before = rate - friction * sense;
  const stop = sense !== 0 && before * sense < 0 ? -initial / before : Number.POSITIVE_INFINITY;
  const after = Math.abs(rate) > friction ? rate - friction * Math.sign(rate) : 0;
  for (let i = 0; i < t.length; i++) {
    if (t[i] <= 0) out[i] = initial;
    else if (t[i] <= stop) out[i] = initial + (sense === 0 ? after : before) * t[i];
    else out[i] = after * (t[i] - stop);
  }
};

/**
 * `initial, final, friction, timeConstant, delay`: `T*dw/dt = F - friction*sign(w) - w` from the initial value. `final` is F, where the speed would end without friction; `friction` is in
 * units of speed. The shaft stops where F cannot overcome friction.
 */
export const firstOrderFrictionCurve: StepCurve = (t, [initial, final, friction, tau, delay], out) => {
  const sense = Math.sign(initial);
  const toward = final - friction * sense;
  const crosses = sense !== 0 && toward * sense < 0;
  const stop = crosses ? tau * Math.log((initial - toward) / -toward) : Number.POSITIVE_INFINITY;
  const after = Math.abs(final) > friction ? final - friction * Math.sign(final) : 0;
  for (let i = 0; i < t.length; i++) {
    const s = t[i] - delay;
    if (s <= 0) out[i] = initial;
    else if (sense === 0) out[i] = -after * Math.expm1(-s / tau);
    else if (s <= stop) out[i] = toward + (initial - toward) * Math.exp(-s / tau);
    else out[i] = -after * Math.expm1(-(s - stop) / tau);
  }
};

/**
 * `initial, amplitude, dampingRatio, naturalFrequency, zeroTime`: `(1 + Tz*s)/(1 + 2*zeta*s/w0 + s^2/w0^2)`, a speed loop with a PI controller, whose zero lies at -1/Tz.
 */
export const secondOrderZeroCurve: StepCurve = (t, [initial, amplitude, zeta, omega, zeroTime], out) => {
  const decay = zeta * omega;
  const square = omega * omega * (1 - zeta * zeta);
  const root = Math.sqrt(Math.abs(square));
  for (let i = 0; i < t.length; i++) {
    const s = t[i];
    if (s <= 0) {
      out[i] = initial;
      continue;
    }
    // c and n: cos and sin(x)/root, or their hyperbolic kin, times the decay.
    const x = root * s;
    let c: number;
    let n: number;
    if (x < 1e-4) {
      const e = Math.exp(-decay * s);
      c = e * (1 - (square * s * s) / 2);
      n = e * s;
    } else if (square > 0) {
      const e = Math.exp(-decay * s);
      c = e * Math.cos(x);
      n = (e * Math.sin(x)) / root;
    } else {
      const slow = Math.exp((root - decay) * s) / 2;
      const fast = Math.exp(-(root + decay) * s) / 2;
      c = slow + fast;
      n = (slow - fast) / root;
    }
    // Step response and its derivative: 1 - c - decay*n, and omega^2*n.
    out[i] = initial + amplitude * (1 - c - decay * n + zeroTime * omega * omega * n);
  }
};

/**
 * `initial, amplitude, slew, loopGain, delay`: a position loop whose speed is its gain times the error, up to a limit: a ramp at the slew limit until the error is
 * slew/gain, then an exponential of time constant 1/gain.
 */
export const slewLimitedCurve: StepCurve = (t, [initial, amplitude, slew, gain, delay], out) => {
  const way = Math.sign(amplitude);
  const size = Math.abs(amplitude);
  const left = Math.min(size, slew / gain);
  const ramp = (size - left) / slew;
  for (let i = 0; i < t.length; i++) {
    const s = t[i] - delay;
    if (s <= 0) out[i] = initial;
    else if (s <= ramp) out[i] = initial + way * slew * s;
    else out[i] = initial + way * (size - left * Math.exp(-gain * (s - ramp)));
  }
};

/**
 * `initial, amplitude, slew, loopGain, lag`: the same loop with a speed that follows its command by a first-order lag: saturated, `w = slew*(1 - exp(-s/lag))`; then
 * `lag*e'' + e' + gain*e = 0` for the error e, which overshoots where gain*lag is above 1/4.
 */
export const slewLagCurve: StepCurve = (t, p, out) => {
  const [initial, amplitude, slew, gain, lag] = p;
  const way = Math.sign(amplitude);
  const size = Math.abs(amplitude);
  const left = slew / gain;
  // Forty lags later nothing is left of the beginning, to the last digit.
  const saturated = (s: number): number => slew * (s + (s > 40 * lag ? -lag : lag * Math.expm1(-s / lag)));
  // The end of saturation by Newton's steps: the way gone grows with time ever faster, so that from beyond the end they
  // come down to it without passing it.
  let ramp = 0;
  if (size > left) {
    ramp = (size - left) / slew + lag;
    for (let k = 0; k < 60; k++) {
      const step = (saturated(ramp) - (size - left)) / (-slew * Math.expm1(-ramp / lag));
      if (!(step > 1e-15 * ramp)) break;
      ramp -= step;
    }
  }
  const e0 = Math.min(size, left);
  const w0 = size > left ? -slew * Math.expm1(-ramp / lag) : 0;
  const decay = 1 / (2 * lag);
  const square = gain / lag - decay * decay;
  const root = Math.sqrt(Math.abs(square)) || 1e-12 * decay;
  // e = exp(-decay*s)*(e0*cos(root*s) + (decay*e0 - w0)/root*sin(root*s)), or its hyperbolic kin.
  const b = (decay * e0 - w0) / root;
  const fast = root + decay;
  for (let i = 0; i < t.length; i++) {
    const s = t[i] - ramp;
    if (t[i] <= 0) out[i] = initial;
    else if (s <= 0) out[i] = initial + way * saturated(t[i]);
    else {
      let error: number;
      if (square > 0) error = Math.exp(-decay * s) * (e0 * Math.cos(root * s) + b * Math.sin(root * s));
      else {
        // Beyond 746 an exponential is below the smallest number there is.
        const quick = fast * s > 746 ? 0 : Math.exp(-fast * s) * (e0 - b);
        error = (Math.exp((root - decay) * s) * (e0 + b) + quick) / 2;
      }
      out[i] = initial + way * (size - error);
    }
  }
};
