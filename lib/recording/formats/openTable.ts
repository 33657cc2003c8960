import { statSync } from "node:fs";
import { beginningOf } from "./fileBytes.js";
import { isMatFile4 } from "./matFile4.js";
import { readBag } from "./messages/readBag.js";
import { readMcap } from "./messages/readMcap.js";
import { readArrowTable } from "./readArrowTable.js";
import { readHdf5Table } from "./readHdf5Table.js";
import { readMatTables } from "./readMatTable.js";
import { readNpy, readNpz } from "./readNumpy.js";
import { readParquetTable } from "./readParquetTable.js";
import { readSheets } from "./readSheets.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";
import { readTextTables } from "./textFile/readTextTables.js";
import type { TextOptions } from "./textLines.js";
import { inBook, zipMembers } from "./zipMembers.js";

/** Endings of files that may hold a recording, for reading a folder without a descriptor. */
export const readableEndings =
  /\.(csv|tsv|txt|tab|dat|log|asc|prn|out|data|mat|parquet|pq|arrow|feather|ipc|json|jsonl|ndjson|h5|hdf5|hdf|npy|npz|xlsx|xlsm|xlsb|xls|ods|zip|tar|tgz|mf4|mdf|tdms|mcap|bag|ulg|db3|blf)(\.gz|\.zst|\.zstd)?$|\.(log|csv|txt|dat)\.\d{1,3}$/i;

const hdf5Mark = "\u0089HDF\r\n\u001a\n";
const formatName = "a text table, a spreadsheet, Parquet, Arrow, JSON Lines, MAT or HDF5 file";
/** Formats that are known and not read, and what to do instead. */
const notRead: readonly (readonly [RegExp, string])[] = [
  [/^%PDF/, `the file is a PDF; export ${formatName}`],
  [
    /^(MDF {5}|UnFinMF )/,
    "the file is in the measurement data format MDF, for which no reader is at hand; export CSV, MAT or Parquet from the program that wrote it",
  ],
  [
    /^TDSm/,
    "the file is a TDMS file, for which no reader is at hand; export CSV, MAT or HDF5 from the program that wrote it",
  ],
  [/^SQLite format 3\u0000/, "the file is a database; export the table with the samples to CSV or Parquet"],
  [
    /^ULog\u0001\u0012\u0035/,
    "the file is a flight log in the format ULog, for which no reader is at hand; convert it to CSV (one file for each topic) and give these",
  ],
  [/^\u00a3\u0095\u0080/, "the file is a binary flight log; convert it to text or CSV and give that"],
  [
    /^LOGG/,
    "the file is a binary log of a bus, whose frames say nothing without their database; export the decoded signals to CSV",
  ],
  [
    /^\u0080[\u0002-\u0005](c|\u0095|\}|\]|K|X|\()/,
    "the file is a pickled object, which is not opened because that runs code; save its numbers as NPY, NPZ or CSV",
  ],
  [
    /^(\u0089PNG\r\n|\u00ff\u00d8\u00ff|GIF8[79]a|BM.{4}\u0000\u0000\u0000\u0000|II\*\u0000|MM\u0000\*)/s,
    "the file is a picture; the numbers behind it are needed, as a text table or the like",
  ],
  [/^RIFF.{4}WAVE/s, "the file is a sound; export the samples with their rate to CSV"],
  [/^ORC/, "the file is in the format ORC; export it to Parquet or CSV"],
  [
    /^(7z\u00bc\u00af|Rar!|BZh|\u00fd7zXZ)/,
    "the file is packed in a way that is not unpacked here; pack it as zip, tar or gzip, or give the plain file",
  ],
];

/**
 * Opens the tables of a file by what its first bytes say (its ending only breaks ties), columns not yet read.
 *
 * @throws CannotRead with the finding for a file that cannot be used.
 */
export async function openTables(path: string, options: TextOptions = {}): Promise<SourceTable[]> {
  const kind = statSync(path);
  // Opening a pipe would wait for a writer that may never come.
  if (!kind.isFile() && !kind.isDirectory()) {
    throw new CannotRead({
      severity: "error",
      code: "no-file",
      message: "it is a pipe or a device and no regular file; write what it gives into a file and name that",
      file: path,
    });
  }
  const head = beginningOf(path, 1024).bytes;
  const ascii = head.toString("latin1");
  if (head.length === 0) {
    throw new CannotRead({ severity: "error", code: "empty-file", message: "the file is empty", file: path });
  }
  if (head[0] === 0x1f && head[1] === 0x8b) return readTextTables(path, "gzip", options);
  if (head.length >= 4 && head.readUInt32LE(0) === 0xfd2fb528) return readTextTables(path, "zstd", options);
  if (/^MATLAB 5\.0 MAT-file/.test(ascii)) return readMatTables(path);
  if (ascii.startsWith("PAR1")) return [await readParquetTable(path)];
  // An Arrow stream has no magic word: it begins with a continuation mark and a small length.
  if (
    ascii.startsWith("ARROW1") ||
    (head.length > 8 && head.readUInt32LE(0) === 0xffffffff && head.readUInt32LE(4) < 1 << 20)
  ) {
    return [await readArrowTable(path)];
  }
  if (ascii.startsWith(hdf5Mark)) return [await readHdf5Table(path, false)];
  if (/^MATLAB 7\.3 MAT-file/.test(ascii) && ascii.startsWith(hdf5Mark, 512))
    return [await readHdf5Table(path, true)];
  if (ascii.startsWith("\u0093NUMPY")) return readNpy(path);
  if (ascii.startsWith("PK\u0003\u0004")) return openZip(path, options);
  if (ascii.startsWith("\u00d0\u00cf\u0011\u00e0")) return readSheets(path, "spreadsheet, binary", options);
  if (ascii.startsWith("\u0089MCAP0\r\n")) return readMcap(path);
  if (ascii.startsWith("#ROSBAG V2.0\n")) return readBag(path);
  if (isMatFile4(head)) return readMatTables(path);
  const known = notRead.find(([mark]) => mark.test(ascii));
  if (known !== undefined)
    throw new CannotRead({ severity: "error", code: "format", message: known[1], file: path });
  return readTextTables(path, "none", options);
}

/** Workbooks and packed arrays are zip files. */
async function openZip(path: string, options: TextOptions): Promise<SourceTable[]> {
  const members = await zipMembers(path);
  if (members.length > 0 && members.every((m) => /\.npy$/i.test(m.name))) return readNpz(path);
  if (inBook(members)) {
    const open = members.some((m) => m.name === "content.xml");
    return readSheets(path, open ? "spreadsheet, OpenDocument" : "spreadsheet, Office Open XML", options);
  }
  throw new CannotRead({
    severity: "error",
    code: "format",
    message: "the file is a zip archive of several files; unpack it to join what is in it, or give it alone",
    file: path,
  });
}
