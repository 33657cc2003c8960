/** What runs in the reader's browser: sliders in, pictures out. Bundled into `explorer.js` when the package is
 * built. */
import { type ExplorerMachine, type ExplorerSettings, explore } from "./model.js";
import { panels } from "./pictures.js";

interface Field {
  value: string;
  readonly name: string;
  readonly min: string;
  readonly max: string;
  addEventListener(kind: string, heard: () => void): void;
}

interface Place {
  innerHTML: string;
  textContent: string | null;
  readonly dataset: Record<string, string | undefined>;
  querySelector(selector: string): Place;
  querySelectorAll(selector: string): Iterable<Place & Field>;
}

const page = (globalThis as unknown as { document: { querySelectorAll(selector: string): Iterable<Place> } })
  .document;

const rpm = 60 / (2 * Math.PI);
/** How each slider's number is said. */
const said: Readonly<Record<string, (value: number) => string>> = {
  offset: (value) => `${value}°`,
  kp: (value) => `${Number(value.toPrecision(3))} A·s/rad`,
  ki: (value) => `${Number(value.toPrecision(3))} A/rad`,
  reference: (value) => `${Math.round(value * rpm)} rev/min`,
};

function start(root: Place): void {
  const machine = JSON.parse(root.dataset.machine ?? "{}") as ExplorerMachine;
  const fields = [...root.querySelectorAll("input")];
  // Gains move by ratio: their sliders hold the logarithm.
  const numberOf = ({ name, value }: Field): number =>
    name === "kp" || name === "ki" ? 10 ** Number(value) : Number(value);
  const draw = (): void => {
    const settings = Object.fromEntries(
      fields.map((field) => [field.name, numberOf(field)]),
    ) as unknown as ExplorerSettings;
    for (const field of fields)
      root.querySelector(`output[for="${field.name}"]`).textContent = said[field.name](numberOf(field));
    const state = explore(machine, settings);
    root.querySelector(".panels").innerHTML = panels(machine, settings, state)
      .map(
        ({ title, svg, says }) => `<figure><h3>${title}</h3>${svg}<figcaption>${says}</figcaption></figure>`,
      )
      .join("");
    root.querySelector(".verdict").textContent =
      state.factor < 0
        ? "Under torque: spins and reverses, against the current. Under speed control: RUNAWAY, whatever the gains."
        : Math.abs(state.factor) * machine.torqueConstant * machine.currentLimit <= machine.coulombFriction
          ? "Blocked: what is left of the torque does not overcome friction."
          : `Under torque: follows. Under speed control: tracks, with ${Math.round(100 * state.factor)} % of its torque.`;
  };
  for (const field of fields) field.addEventListener("input", draw);
  draw();
}

for (const root of page.querySelectorAll(".explorer:not([data-started])")) {
  root.dataset.started = "yes";
  start(root);
}
