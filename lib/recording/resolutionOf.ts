import { noiseLevel } from "../numeric/series/noiseLevel.js";
import { onceForColumn } from "../numeric/series/onceForColumn.js";
import { quantisationStep } from "../numeric/series/quantisationStep.js";

/**
 * Size of one step of a quantised channel, NaN where it is not quantised: `quantisationStep` of its data (SI), worked
 * out once for all that ask. The data of a channel do not change.
 */
export const resolutionOf: (data: Float64Array) => number = onceForColumn((data) => quantisationStep(data));

/**
 * Standard deviation of the noise of a channel from sample to sample: `noiseLevel` of its data (SI), worked out once
 * for all that ask.
 */
export const noiseOf: (data: Float64Array) => number = onceForColumn((data) => noiseLevel(data));
