/** The part of culori that the palette's tests use (the package carries no types). */
declare module "culori" {
  type Seen = (color: string) => string;
  export function differenceCiede2000(): (a: string, b: string) => number;
  export function filterDeficiencyProt(severity: number): Seen;
  export function filterDeficiencyDeuter(severity: number): Seen;
  export function filterDeficiencyTrit(severity: number): Seen;
  export function wcagContrast(a: string, b: string): number;
}
