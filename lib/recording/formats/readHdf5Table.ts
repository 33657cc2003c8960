import { stat } from "node:fs/promises";
import { visible } from "../../units/text.js";
import { Hdf5Arrays } from "./hdf5Arrays.js";
import { innermost, openHdf5 } from "./hdf5File.js";
import { arraysAsTable } from "./namedArrays.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";
import { unpackLimit } from "./unpackLimit.js";

/**
 * A table out of an HDF5 file, or a MAT-file 7.3 (which is one): data sets that share the commonest length.
 *
 * @throws CannotRead when it is damaged or holds no table
 */
export async function readHdf5Table(path: string, isMat: boolean): Promise<SourceTable> {
  const file = await openHdf5(path).catch((error: unknown) => {
    const message = `the HDF5 file cannot be read: ${visible(innermost(error), 160)}`;
    throw notHdf5(path, message, "it is cut short or damaged");
  });
  try {
    const found = new Hdf5Arrays(path, isMat, unpackLimit((await stat(path)).size));
    try {
      found.lookAt(file.root);
    } catch (error) {
      if (error instanceof CannotRead) throw error;
      throw notHdf5(path, `the HDF5 file is damaged: ${visible(innermost(error), 160)}`);
    }
    const table = arraysAsTable(path, isMat ? "MAT-file 7.3 (HDF5)" : "HDF5", found, found.findings());
    return { ...table, close: async () => file.close() };
  } catch (error) {
    file.close();
    throw error;
  }
}

function notHdf5(file: string, message: string, meaning?: string): CannotRead {
  const code = "not-hdf5";
  return new CannotRead({ severity: "error", code, message, ...(meaning ? { meaning } : {}), file });
}
