/**
 * Makes docs/passes-torque-fails-speed.html: the explorer of a speed loop at an offset error, with the roller motor of
 * the demo. Run with `npx tsx docs/explorerPage.ts` (after `npm run build`); a test compares the stored page with a
 * fresh one.
 */
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { explorerPage } from "../lib/chart/explorer/explorer.js";
import type { ExplorerMachine } from "../lib/chart/explorer/model.js";

/** The drive roller of datasets/parcel-sorter, as its script states it: Kt = 1.5 * 4 pole pairs * 0.0155 Wb. */
export const roller: ExplorerMachine = {
  inertia: 1.4e-4,
  torqueConstant: 0.093,
  viscousFriction: 8e-5,
  coulombFriction: 0.025,
  currentLimit: 3,
};

/** The page as stored. */
export const pageOfRoller = (): string => explorerPage(roller);

if (process.argv[1]?.endsWith("explorerPage.ts"))
  writeFileSync(join(import.meta.dirname, "passes-torque-fails-speed.html"), pageOfRoller());
