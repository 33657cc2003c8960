import { picture, size, wrap } from "./draw.js";
import type { ExplorerMachine, ExplorerSettings, ExplorerState, Point } from "./model.js";
import { stepDuration } from "./model.js";

const rpm = 60 / (2 * Math.PI);
const number = (value: number, digits = 3): string =>
  String(Number(value.toPrecision(digits))).replace("-", "−");
const tone = (factor: number): string => (factor > 0 ? "good" : factor < 0 ? "bad" : "none");

/** A picture: what it shows, its drawing, and one sentence on what is to be seen. */
export interface Panel {
  readonly title: string;
  readonly svg: string;
  readonly says: string;
}

/** All pictures of a state, in reading order. */
export function panels(
  machine: ExplorerMachine,
  settings: ExplorerSettings,
  state: ExplorerState,
): readonly Panel[] {
  return [
    rotorPanel(settings, state),
    polePanel(state),
    stepPanel(machine, settings, state),
    planePanel(state),
    smallPanel(settings, state),
    nyquistPanel(state),
  ];
}

function rotorPanel({ offset }: ExplorerSettings, { factor }: ExplorerState): Panel {
  const [cx, cy, r] = [150, 132, 92];
  const at = (degrees: number, radius: number): Point => [
    cx + radius * Math.cos((degrees * Math.PI) / 180),
    cy - radius * Math.sin((degrees * Math.PI) / 180),
  ];
  const arrow = (degrees: number, style: string): string => {
    const [x, y] = at(degrees, r - 6);
    return `<path class="${style} thick" d="M${cx} ${cy}L${x.toFixed(1)} ${y.toFixed(1)}" marker-end="url(#tip)"/>`;
  };
  const label = (degrees: number, words: string, style: string): string => {
    const [x, y] = at(degrees, r + 17);
    return `<text class="${style}" x="${x.toFixed(1)}" y="${(y + 4).toFixed(1)}" text-anchor="middle">${words}</text>`;
  };
  const turn = 90 + offset;
  const [ax, ay] = at(90, 38);
  const [bx, by] = at(turn, 38);
  const arc =
    Math.abs(offset) < 1
      ? ""
      : `<path class="quiet" d="M${ax.toFixed(1)} ${ay.toFixed(1)}A38 38 0 ${Math.abs(offset) > 180 ? 1 : 0} ${offset > 0 ? 0 : 1} ${bx.toFixed(1)} ${by.toFixed(1)}"/>`;
  const bar = 78 * Math.abs(factor);
  const svg = wrap(
    `<circle class="ring" cx="${cx}" cy="${cy}" r="${r}"/>` +
      `<rect class="rotor" x="${cx - 62}" y="${cy - 17}" width="124" height="34" rx="7"/>` +
      `<text class="word" x="${cx + 46}" y="${cy + 5}" text-anchor="middle">N</text><text class="word" x="${cx - 46}" y="${cy + 5}" text-anchor="middle">S</text>` +
      arrow(90, "quiet dash") +
      arc +
      arrow(turn, "current") +
      (Math.abs(offset) > 24 ? label(90, "best", "tick") : "") +
      label(turn, "current", "word") +
      `<path class="zero" d="M318 52V212M296 132H340"/>` +
      `<rect class="${tone(factor)} fill" x="306" y="${factor > 0 ? 132 - bar : 132}" width="24" height="${bar.toFixed(1)}"/>` +
      `<text class="tick" x="318" y="44" text-anchor="middle">+1</text><text class="tick" x="318" y="226" text-anchor="middle">−1</text>` +
      `<text class="title" x="318" y="${size.height - 16}" text-anchor="middle">g = ${number(factor, 2)}</text>` +
      `<text class="title" x="${cx}" y="${size.height - 16}" text-anchor="middle">magnets and current, electrical angle</text>`,
    `Rotor with its magnets and the current vector, ${offset} degrees from the best angle; torque factor ${number(factor, 2)}`,
  );
  return {
    title: "Torque at this offset error",
    svg,
    says:
      factor > 0
        ? `The current gives ${number(100 * factor, 2)} % of its torque, in the sense asked for, at every shaft angle.`
        : factor < 0
          ? `The current gives ${number(-100 * factor, 2)} % of its torque, against the sense asked for, at every shaft angle: the shaft spins, and reverses, all the same.`
          : "The current lies along the magnets: no torque at any shaft angle.",
  };
}

function polePanel({ locus, poles, factor, growth }: ExplorerState): Panel {
  const far = Math.max(...locus.flatMap((one) => one.poles.map((p) => Math.abs(p.re))), 1) * 1.1;
  const high = Math.max(
    far / 3,
    1.2 * Math.max(...locus.flatMap((one) => one.poles.map((p) => Math.abs(p.im)))),
  );
  const pic = picture(
    { title: "real part (1/s)", from: -far, to: far },
    { title: "imaginary part (rad/s)", from: -high, to: high },
  );
  pic.area([0, -high], [far, high], "unstable");
  pic.line(
    [
      [0, -high],
      [0, high],
    ],
    "zero",
  );
  for (const one of locus)
    for (const p of one.poles) pic.dot([p.re, p.im], `trail ${tone(p.re < 0 ? 1 : -1)}`, "small");
  for (const p of poles) pic.dot([p.re, p.im], p.re < 0 ? "good" : "bad", "cross");
  pic.text([-far * 0.97, high * 0.86], "stable", "word good");
  pic.text([far * 0.97, high * 0.86], "unstable", "word bad", "end");
  return {
    title: "Poles of the speed loop",
    svg: pic.svg(
      `Poles of the loop at g = ${number(factor, 2)} on the path they take while g goes from 1 to minus 1`,
    ),
    says:
      growth !== undefined
        ? `One pole at +${number(1 / growth)} 1/s: the error grows e-fold in ${number(1000 * growth)} ms, whatever the gains.`
        : factor === 0
          ? "Without torque the loop cannot act: one pole at zero."
          : "Both poles are left of the line: the loop is stable. Dots: the way they go while g falls from 1 to −1.",
  };
}

function stepPanel(
  machine: ExplorerMachine,
  { reference }: ExplorerSettings,
  { step, growth }: ExplorerState,
): Panel {
  const speeds = Array.from(step.speed, (w) => w * rpm);
  const most = 1.15 * Math.max(Math.abs(reference) * rpm, ...speeds.map(Math.abs));
  const pic = picture(
    { title: "time (s)", from: 0, to: stepDuration },
    {
      title: "speed (rev/min)",
      from: Math.min(...speeds, reference * rpm, 0) < 0 ? -most : -0.1 * most,
      to: Math.max(...speeds, reference * rpm, 0) > 0 ? most : 0.1 * most,
    },
  );
  pic.line(
    [
      [0, 0],
      [stepDuration, 0],
    ],
    "zero",
  );
  pic.line(
    [
      [0, reference * rpm],
      [stepDuration, reference * rpm],
    ],
    "quiet dash",
  );
  pic.line(
    speeds.map((v, i) => [step.time[i], v] as const).filter((_, i) => i % 6 === 0),
    growth === undefined ? "good" : "bad",
  );
  pic.text([stepDuration * 0.98, reference * rpm], "asked for", "tick", "end");
  return {
    title: "Step of the speed loop",
    svg: pic.svg(`Speed after a step of the reference to ${number(reference * rpm)} rev/min`),
    says:
      step.limited > 0
        ? `The current is at its limit of ${number(machine.currentLimit)} A for ${number((100 * step.limited) / step.time.length, 2)} % of the time${growth === undefined ? "." : ": there the runaway is a straight line, not an exponential."}`
        : "The current stays below its limit.",
  };
}

function planePanel({ small, rest, directions, growth }: ExplorerState): Panel {
  const start = small[0].error;
  // The neighbourhood of the rest, where the loop is linear: a runaway leaves the picture.
  const near = small.filter(({ error, limited }) => !limited && Math.abs(error) < 12 * start);
  const path = near.map(({ error, integral }) => [error, integral] as const);
  const far = 1.25 * Math.max(start, ...path.map(([e]) => Math.abs(e)));
  const high = 1.3 * Math.max(1e-9, Math.abs(rest?.[1] ?? 0), ...path.map(([, x]) => Math.abs(x)));
  const pic = picture(
    { title: "speed error (rad/s)", from: -far, to: far },
    { title: "integral of the error (rad)", from: -high, to: high },
  );
  pic.line(
    [
      [-far, 0],
      [far, 0],
    ],
    "zero",
  );
  pic.line(
    [
      [0, -high],
      [0, high],
    ],
    "zero",
  );
  if (rest)
    for (const { pole, along } of directions) {
      const reach = 3 * Math.max(far / Math.max(Math.abs(along[0]), 1e-9), high);
      const ends = [-1, 1].map(
        (side) => [rest[0] + side * reach * along[0], rest[1] + side * reach * along[1]] as const,
      );
      pic.line(ends, `${pole < 0 ? "good" : "bad"} dash`);
    }
  pic.line(path, growth === undefined ? "good" : "bad", { arrow: true });
  pic.dot(path[0], "current fill", "square");
  if (rest) pic.dot(rest, growth === undefined ? "good fill" : "bad hollow");
  return {
    title: "Small step: error and integral",
    svg: pic.svg(
      "Path of the small step in the plane of speed error and its integral, with the straight ways of the loop",
    ),
    says:
      growth !== undefined
        ? "A saddle. Green: the one way that leads to rest. Orange: the way out, which every other start takes in the end."
        : directions.length > 0
          ? "Every start comes to rest at error zero, along the dashed ways."
          : "Every start turns into its rest at error zero.",
  };
}

function smallPanel({ kp }: ExplorerSettings, { small, growth }: ExplorerState): Panel {
  const end = small[small.length - 1].time;
  const errors = small.map((point) => Math.max(Math.abs(point.error) * rpm, 1e-9));
  const top = 10 ** Math.ceil(Math.log10(Math.max(...errors)));
  const low = Math.max(10 ** Math.floor(Math.log10(Math.min(...errors))), top * 1e-6);
  const pic = picture(
    { title: "time (s)", from: 0, to: end },
    { title: "|speed error| (rev/min)", from: low, to: top, log: true },
  );
  pic.line(
    small.map((point, i) => [point.time, Math.max(errors[i], low / 10)] as const),
    growth === undefined ? "good" : "bad",
  );
  if (growth !== undefined) {
    const free = small.findIndex((point) => point.limited);
    const k = Math.max(1, Math.floor((free > 0 ? free : small.length) * 0.6));
    const from = small[k];
    pic.line(
      [0, end].map((t) => [t, Math.abs(from.error) * rpm * Math.exp((t - from.time) / growth)] as const),
      "quiet dash",
    );
    const at = small.find((point) => point.limited);
    if (at) {
      pic.line(
        [
          [at.time, low],
          [at.time, top],
        ],
        "quiet dash",
      );
      pic.text([at.time, low * 1.6], "limit ", "tick", "end");
    }
  }
  return {
    title: "Small step: |error|, logarithmic",
    svg: pic.svg("Absolute speed error after a small step, on a logarithmic axis, with the predicted growth"),
    says:
      growth !== undefined
        ? `Dashed: growth by e in ${number(1000 * growth)} ms, from the pole. It is seen until the current meets its limit; friction is left out here.`
        : `The error decays. (kp ${number(kp)} A per rad/s; friction is left out here.)`,
  };
}

function nyquistPanel({ nyquist, factor }: ExplorerState): Panel {
  const pic = picture(
    { title: "real part", from: -3, to: 3 },
    { title: "imaginary part", from: -2.2, to: 2.2 },
  );
  pic.line(
    [
      [-3, 0],
      [3, 0],
    ],
    "zero",
  );
  pic.line(
    [
      [0, -2.2],
      [0, 2.2],
    ],
    "zero",
  );
  const [sound, reversed, own] = nyquist;
  pic.line(sound.points, "quiet");
  pic.line(reversed.points, "quiet dash");
  pic.line(own.points, `${tone(factor)} thick`);
  pic.dot([-1, 0], "word", "cross");
  pic.text([-1, -0.28], "−1", "tick", "middle");
  pic.text([-2.9, 1.95], "dashed: g = −½; thin: g = 1", "tick");
  return {
    title: "Open loop (Nyquist)",
    svg: pic.svg(
      `Open loop in the complex plane for g = 1, g = minus one half and g = ${number(factor, 2)}, and the point minus 1`,
    ),
    says:
      factor < 0
        ? "Turned through half a turn, the curve passes −1 on the wrong side at every gain: the closed loop has one unstable pole."
        : "The curve passes −1 on the safe side.",
  };
}
