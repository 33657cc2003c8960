/**
 * A path as seen from what a customer sent: the file within its folder, archive or workbook; its own name where it came
 * by itself.
 *
 * @example
 * placeWithin("/desk/north/left/log.csv", "/desk/north"); // => "left/log.csv"
 */
export function placeWithin(path: string, root: string): string {
  const inside =
    root !== "" && path.startsWith(root) ? path.slice(root.length).replace(/^[\\/#]+/, "") : path;
  return inside === "" || inside === path ? (path.split(/[\\/]/).at(-1) ?? path) : inside;
}

/** The folder of a path, within an archive too; empty at the top. */
export function folderWithin(path: string, root: string): string {
  const inside = path === root ? "" : placeWithin(path, root);
  return inside.includes("/") || inside.includes("\\") ? inside.replace(/[\\/][^\\/]*$/, "") : "";
}
