/** Largest speed of any electric machine, rad/s: a million turns a minute, which drives of research have reached (from
 * memory: Zwyssig, Kolar, Round, IEEE/ASME Transactions on Mechatronics 14, 2009) and nothing on a bench passes. */
export const largestSpeed = (1e6 * 2 * Math.PI) / 60;
