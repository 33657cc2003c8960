import { createRequire } from "node:module";

/** Contents by MIME type, as a Jupyter front end takes them. */
export type MimeBundle = Readonly<Record<string, unknown>>;

/** Sends one display message. */
export type Write = (content: { readonly data: MimeBundle; readonly metadata: object }) => void;

/**
 * The kernel's own function that sends a display message, or undefined outside a notebook. Its public interface sends
 * one MIME type at a time, so the whole bundle goes through the function below it, found among the modules that the
 * process has loaded.
 */
export function notebookWriter(): Write | undefined {
  const { cache } = createRequire(import.meta.url);
  for (const [name, module] of Object.entries(cache)) {
    if (!/[\\/]tslab[\\/]dist[\\/]jupyter\.js$/.test(name)) continue;
    const write = (module?.exports as { lastWriteDisplayData?: Write | null } | undefined)
      ?.lastWriteDisplayData;
    if (write) return write;
  }
  return undefined;
}
