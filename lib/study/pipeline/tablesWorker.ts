import { toParquet } from "./toParquet.js";

/** Entry of the process that makes the tables of a large study. */
export default async function makeTables(work: Parameters<typeof toParquet>[0]): Promise<null> {
  await toParquet(work);
  return null;
}
